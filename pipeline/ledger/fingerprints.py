"""What a finding is known by from run to run: its fingerprint, and the mark of its evidence."""

from collections.abc import Callable, Collection, Iterable, Mapping
from hashlib import blake2b
from typing import Any, Final

import numpy as np
import pandas as pd

from pipeline.audit import BoundRule, Wording
from pipeline.audit.findings import values_in
from pipeline.audit.registry import RULES
from pipeline.contracts import plain_ids

__all__ = ["evidence_marks", "fingerprints", "fingerprints_as_written", "with_fingerprints"]

_BETWEEN: Final = "\x1f"
# a spreadsheet reads a cell such as 12e4567 as a number; one that begins with another letter stays text
_FINGERPRINT: Final = "f"
_MARK: Final = "m"
_BYTES: Final = 8
# a value in the text of the evidence, up to the next one; and how a missing one is written there
_VALUE: Final = r"(?s)(?:^|; ){name}=(.*?)(?:; [a-z_0-9]+=|$)"
_NO_VALUE: Final = "–"
# figures are worked out from many cells: what the fifth digit says is no other evidence
_DECIMALS: Final = 6
_NUMBER: Final = "{:.4g}"


def with_fingerprints(
    findings: pd.DataFrame, wordings: Mapping[str, Wording], rules: Iterable[BoundRule]
) -> pd.DataFrame:
    """Return the findings with ``fingerprint`` and ``evidence_mark``.

    Parameters
    ----------
    findings
        One row per finding: ``row``, ``core_id``, ``rule``.
    wordings
        By rule, the templates and values of its findings.
    rules
        The rules in force, which declare the partner of a pair and the values that move by themselves.

    Returns
    -------
    pandas.DataFrame
        On the same index. A finding about a core without an id has no fingerprint: it cannot be told apart from others.
    """
    partner = pd.Series("", findings.index, dtype="str")
    mark = pd.Series("", findings.index, dtype="str")
    for bound in rules:
        if bound.rule.slug not in wordings:
            continue
        wording, here = wordings[bound.rule.slug], findings["rule"].eq(bound.rule.slug)
        rows = findings.loc[here, "row"]
        mark.loc[here] = evidence_marks(wording, bound.rule.moving).loc[rows].to_numpy()
        if bound.rule.partner:
            partner.loc[here] = wording.values[bound.rule.partner].astype("str").fillna("").loc[rows].to_numpy()
    return findings.assign(fingerprint=fingerprints(findings["rule"], findings["core_id"], partner), evidence_mark=mark)


def fingerprints(rule: pd.Series, core_id: pd.Series, partner: pd.Series) -> pd.Series:
    """Return the fingerprint of each of N findings: the same from run to run, whatever its row, figures and sentence.

    Parameters
    ----------
    rule
        Short name of the rule.
    core_id
        Id of the core; case and spaces do not matter. A finding without one has no fingerprint.
    partner
        Of a finding about two cores, what tells the other one apart, such as its id; empty for other findings.
    """
    ids = plain_ids(core_id.astype("str"))
    text = rule.astype("str") + _BETWEEN + ids + _BETWEEN + plain_ids(partner.astype("str")).fillna("")
    return _hashed(text, _FINGERPRINT)


def fingerprints_as_written(findings: pd.DataFrame) -> pd.Series:
    """Return the fingerprints of N findings of a run that gave them none, from ``rule``, ``core_id`` and ``evidence``.

    The other core of a pair is read from the evidence; where it is not there, the finding has no fingerprint. An id of
    more than 80 characters is cut there, so that such a finding has another fingerprint than in later runs.
    """
    partner = pd.Series("", findings.index, dtype="str")
    for slug, rule in RULES.items():
        if rule.partner:
            here = findings["rule"].eq(slug)
            value = findings.loc[here, "evidence"].str.extract(_VALUE.format(name=rule.partner), expand=False)
            partner.loc[here] = value.mask(value.eq(_NO_VALUE), "").to_numpy()
    return fingerprints(findings["rule"], findings["core_id"], partner.fillna("")).where(partner.notna())


def evidence_marks(wording: Wording, moving: Collection[str]) -> pd.Series:
    """Return the mark of each finding's evidence, by row: another where another value was compared.

    Parameters
    ----------
    wording
        The findings of one rule.
    moving
        Names of the values that move although nothing happens to the core, such as the days since it was opened.
    """
    faults = wording.templates["fault"]
    text = pd.Series("", faults.index, dtype="str")
    for template in faults.unique():
        here = faults.eq(template)
        # what other findings of the rule name must not matter to this one
        names = sorted({*values_in([str(template)]), *wording.kept} - {*wording.lists, *moving})
        text.loc[here] = _pairs(wording.values[here], {name: name for name in names})
    for name in sorted(wording.lists):
        for item in wording.lists[name]:
            columns = {value: column for value, column in item.columns.items() if column not in moving}
            text = text + _pairs(item.values, columns).reindex(text.index).fillna("")
    return _hashed(text, _MARK)


def _pairs(values: pd.DataFrame, names: Mapping[str, str]) -> pd.Series:
    """Return for each row the values and their names as one text."""
    text = pd.Series("", values.index, dtype="str")
    for value, name in names.items():
        text = text + name + "=" + _plain(values[value]) + _BETWEEN
    return text


def _plain(column: pd.Series) -> pd.Series:
    if pd.api.types.is_datetime64_any_dtype(column.dtype):
        days: pd.Series = column.dt.strftime("%Y-%m-%d").astype("str").fillna("")
        return days
    if pd.api.types.is_float_dtype(column.dtype):
        return _each(column.round(_DECIMALS) + 0.0, _NUMBER.format)
    return column.astype("str").fillna("")


def _hashed(texts: pd.Series, letter: str) -> pd.Series:
    """Return a short hash of each of N texts, beginning with a letter; missing where the text is."""
    return _each(texts, lambda text: letter + blake2b(text.encode(), digest_size=_BYTES).hexdigest(), None)


def _each(column: pd.Series, write: Callable[[Any], str], missing: str | None = "") -> pd.Series:
    """Return each of N values written; the same value is written once."""
    codes, unique = pd.factorize(column)
    texts = np.array([*(write(value) for value in unique), missing], dtype=object)
    return pd.Series(texts[codes], column.index, dtype="str")
