"""What a finding is known by from run to run: its fingerprint, and the mark of its evidence."""

from collections.abc import Collection, Iterable, Mapping
from hashlib import blake2b
from typing import Final

import numpy as np
import pandas as pd
import pyarrow as pa
from pyarrow import compute as pc

from pipeline.audit import BoundRule, Wording
from pipeline.audit.finding_places import by_rule
from pipeline.audit.findings import values_in
from pipeline.audit.registry import RULES
from pipeline.contracts import plain_ids
from pipeline.contracts.arrow_texts import as_column, days_written, each_once, joined, placed, taken, texts_of

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
    partners, marks = [], []
    declared = {bound.rule.slug: bound.rule for bound in rules if bound.rule.slug in wordings}
    for slug, here in by_rule(findings["rule"], declared):
        wording, rule = wordings[slug], declared[slug]
        at = wording.templates.index.get_indexer(pd.Index(findings["row"].to_numpy()[here]))
        marks.append((here, taken(_marks(wording, rule.moving), at)))
        if rule.partner:
            partners.append((here, pc.fill_null(taken(texts_of(wording.values[rule.partner]), at), "")))
    mark, partner = (as_column(placed(parts, len(findings)), findings.index) for parts in (marks, partners))
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
    ids = texts_of(plain_ids(core_id.astype("str")))
    others = pc.fill_null(texts_of(plain_ids(partner.astype("str"))), "")
    text = joined([texts_of(rule), _BETWEEN, ids, _BETWEEN, others], len(rule))
    return as_column(_hashed(text, _FINGERPRINT), rule.index)


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
    return as_column(_marks(wording, moving), wording.templates.index)


def _marks(wording: Wording, moving: Collection[str]) -> pa.Array:
    rows = len(wording.templates)
    codes, templates = pd.factorize(wording.templates["fault"])
    parts = []
    for code, template in enumerate(templates):
        here = np.flatnonzero(codes == code)
        # what other findings of the rule name must not matter to this one
        names = sorted({*values_in([str(template)]), *wording.kept} - {*wording.lists, *moving})
        parts.append((here, joined(_pairs(wording.values.iloc[here], {name: name for name in names}), len(here))))
    text: list[str | pa.Array] = [placed(parts, rows)]
    for name in sorted(wording.lists):
        for item in wording.lists[name]:
            columns = {value: column for value, column in item.columns.items() if column not in moving}
            listed = joined(_pairs(item.values, columns), len(item.values))
            at = item.values.index.get_indexer(wording.templates.index)
            text.append(pc.fill_null(taken(listed, at), ""))
    return _hashed(joined(text, rows), _MARK)


def _pairs(values: pd.DataFrame, names: Mapping[str, str]) -> list[str | pa.Array]:
    """Return the parts of one text per row: the values and their names."""
    parts: list[str | pa.Array] = []
    for value, name in names.items():
        parts += [f"{name}=", _plain(values[value]), _BETWEEN]
    return parts


def _plain(column: pd.Series) -> pa.Array:
    if pd.api.types.is_datetime64_any_dtype(column.dtype):
        return days_written(column, str, "")
    if pd.api.types.is_float_dtype(column.dtype):
        return each_once(column.round(_DECIMALS) + 0.0, _NUMBER.format, "")
    return pc.fill_null(texts_of(column), "")


def _hashed(texts: pa.Array, letter: str) -> pa.Array:
    """Return a short hash of each of N texts, beginning with a letter; missing where the text is."""
    once = texts.dictionary_encode()
    hashes = [
        letter + blake2b(text, digest_size=_BYTES).hexdigest()
        for text in once.dictionary.cast(pa.large_binary()).to_pylist()
    ]
    return pa.array(hashes, pa.large_string()).take(once.indices)
