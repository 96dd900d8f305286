"""The sentences of findings, made from their templates and values: in English, or in the language of a run.

Templates, titles and cautions are English in the code and in ``config/``. The file of a language may have its own
wording in its table ``data``: on the left the English template, fields without their formats, on the right the
translation. What it does not have is shown in English; numbers, dates and lists follow the language either way.
"""

import dataclasses
from collections.abc import Callable, Mapping
from functools import partial
from typing import Any, Final

import numpy as np
import pandas as pd
from babel.lists import format_list
from babel.units import format_unit

from pipeline.audit.findings import Item, Wording, fields_of
from pipeline.contracts import FINDING_COLUMNS
from pipeline.programme.cautions import translated
from pipeline.publish.words import BRACES, Words
from pipeline.results import RunResult

__all__ = ["faults", "finding_table", "translate", "with_sentences"]

_TABLE: Final = "data."
# the tables of every run are in English
_BASE: Final = "en"
# a register may hold a page of text in one cell; a sentence quotes its beginning
_LONGEST_QUOTE: Final = 80
# line breaks, control characters and what turns the direction of text: they would break a table of findings
_UNSHOWN: Final = r"[\x00-\x1f\x7f\u2028\u2029\u200e\u200f\u061c\u202a-\u202e\u2066-\u2069]+"
_NOTHING: Final = "–"
_DURATIONS: Final = {"day": "duration-day", "month": "duration-month", "minute": "duration-minute"}
_MOST_DIGITS: Final = 6

_Lists = Mapping[str, tuple[Item, ...]]


def with_sentences(result: RunResult, words: Words) -> RunResult:
    """Return a run whose findings have ``message`` and ``evidence``, with findings, titles and cautions in a language.

    Nothing else differs. ``evidence`` is for programs and the same in every language.
    """
    data = _data(words)
    audit = dataclasses.replace(
        result.audit,
        findings=finding_table(result.audit.findings, result.audit.wordings, words),
        rules=result.audit.rules.assign(title=translate(result.audit.rules["title"], data)),
    )
    cautions = translated(result.catalogue.core_cautions, data)
    return dataclasses.replace(
        result, audit=audit, catalogue=dataclasses.replace(result.catalogue, core_cautions=cautions)
    )


def _data(words: Words) -> dict[str, str]:
    return {key.removeprefix(_TABLE): own for key, own in words.sentences.items() if key.startswith(_TABLE)}


def translate(texts: pd.Series, data: Mapping[str, str]) -> pd.Series:
    """Return N texts of ours in a language; one that ``data`` does not have stays as it is."""
    return texts.map(dict(data)).astype("str").fillna(texts)


def finding_table(findings: pd.DataFrame, wordings: Mapping[str, Wording], words: Words) -> pd.DataFrame:
    """Return the table of findings with ``message`` and ``evidence``.

    Parameters
    ----------
    findings
        One row per finding: ``row``, ``core_id``, ``rule``, ``severity``, and further columns of ``FINDING_COLUMNS``.
    wordings
        By rule, the templates and values of its findings.
    words
        The language of the messages.
    """
    message = pd.Series("", findings.index, dtype="str")
    evidence = pd.Series("", findings.index, dtype="str")
    filler = _Filler(words, _data(words))
    for slug, wording in wordings.items():
        here = findings["rule"].eq(slug)
        rows = findings.loc[here, "row"]
        message.loc[here] = filler.message(wording).loc[rows].to_numpy()
        evidence.loc[here] = _evidence(wording).loc[rows].to_numpy()
    told = findings.assign(message=message, evidence=evidence)
    return told[[name for name in FINDING_COLUMNS if name in told]]


def faults(findings: pd.DataFrame, wordings: Mapping[str, Wording], words: Words) -> pd.Series:
    """Return for each of N findings what is wrong, without what to do; its whole message where there is no template.

    Parameters
    ----------
    findings
        ``row``, ``rule`` and ``message``.
    wordings
        By rule, the templates and values of its findings.
    words
        The language.
    """
    shown = findings["message"].astype("str")
    filler = _Filler(words, _data(words))
    for slug in findings["rule"].unique():
        if slug in wordings:
            wording = wordings[slug]
            here = findings["rule"].eq(slug) & findings["row"].isin(wording.templates.index)
            rows = findings.loc[here, "row"]
            texts = filler.filled(wording.templates["fault"].loc[rows], wording.values.loc[rows], wording.lists)
            shown = shown.mask(here, pd.Series(texts.to_numpy(), rows.index, dtype="str"))
    return shown


@dataclasses.dataclass(frozen=True)
class _Filler:
    """Fills templates in one language."""

    words: Words
    data: Mapping[str, str]

    def message(self, wording: Wording) -> pd.Series:
        """The sentences of one rule: what is wrong, then what to do."""
        fault, remedy = (
            self.filled(wording.templates[part], wording.values, wording.lists) for part in ("fault", "remedy")
        )
        return fault + " " + remedy

    def filled(self, templates: pd.Series, values: pd.DataFrame, lists: _Lists) -> pd.Series:
        out = pd.Series("", templates.index, dtype="str")
        for template in templates.unique():
            here = templates.eq(template)
            out.loc[here] = self._one(str(template), values[here], lists)
        return out

    def _one(self, template: str, values: pd.DataFrame, lists: _Lists) -> pd.Series:
        forms = dict(fields_of(template))
        plain = _without_formats(template)
        parts = BRACES.split(self.data.get(plain, plain))
        out = pd.Series(parts[0], values.index, dtype="str")
        for name, literal in zip(parts[1::2], parts[2::2], strict=True):
            out = out + (self._listed(lists[name], values.index) if name in lists else self._shown(values, name, forms))
            out = out + literal
        return out

    def _listed(self, items: tuple[Item, ...], index: pd.Index) -> pd.Series:
        """What each finding lists, joined as the language joins lists."""
        texts = pd.concat(
            [self.filled(pd.Series(item.template, item.values.index, dtype="str"), item.values, {}) for item in items]
        )
        texts = texts[texts.index.isin(index)]
        at = texts.groupby(level=0, sort=False).cumcount()
        table = pd.DataFrame({"row": texts.index, "at": at.to_numpy(), "text": texts.to_numpy()}).pivot_table(
            index="row", columns="at", values="text", aggfunc="first"
        )
        counts = table.notna().sum(axis="columns")
        out = pd.Series("", table.index, dtype="str")
        for count in counts.unique():
            here = counts.eq(count)
            # the library joins marks, and the texts take their places afterwards: nothing in them is read
            marks = format_list([f"\x00{at}\x00" for at in range(count)], locale=self.words.locale).split("\x00")
            joined = pd.Series(marks[0], table.index[here], dtype="str")
            for mark, literal in zip(marks[1::2], marks[2::2], strict=True):
                joined = joined + table.loc[here, int(mark)].astype("str") + literal
            out.loc[here] = joined
        return out.reindex(index)

    def _shown(self, values: pd.DataFrame, name: str, forms: Mapping[str, str]) -> pd.Series:
        form, _, other = forms[name].partition(" vs ")
        column = values[name]
        if form == "term":
            return _quoted(translate(column.astype("str"), self.data))
        if pd.api.types.is_datetime64_any_dtype(column.dtype):
            return _each(column.dt.strftime("%Y-%m-%d"), self._day)
        if not pd.api.types.is_numeric_dtype(column.dtype):
            return _quoted(column)
        if form in _DURATIONS:
            return _each(column.round(0), partial(self._duration, _DURATIONS[form]))
        if form == "g":
            return _each(column, self.words.measure)
        return self._numbers(column, form, values[other] if other else None)

    def _numbers(self, column: pd.Series, form: str, other: pd.Series | None) -> pd.Series:
        """Each number as its format has it, with more digits where it would otherwise look the same as the other."""
        share = form.endswith("%")
        write, scale = (self.words.percent, 100) if share else (self.words.number, 1)
        # ".1f" and ".1%" have one digit after the mark, and no format none
        least = int(form[1:-1]) if form else 0
        digits = pd.Series(least, column.index)
        if other is not None:
            apart = pd.Series(data=False, index=column.index)
            for more in range(least, _MOST_DIGITS + 1):
                apart_now = (column * scale).round(more).ne((other * scale).round(more)) & ~apart
                digits, apart = digits.mask(apart_now, more), apart | apart_now
        out = pd.Series("", column.index, dtype="str")
        for count in map(int, digits.unique()):
            here = digits.eq(count)
            out.loc[here] = _each((column[here] * scale).round(count) / scale, partial(write, digits=count))
        return out

    def _duration(self, unit: str, count: float) -> str:
        return str(format_unit(count, unit, "long", locale=self.words.locale))

    def _day(self, day: str) -> str:
        return day if self.words.language == _BASE else self.words.day(day)


def _without_formats(template: str) -> str:
    plain = template
    for name, form in fields_of(template):
        if form:
            plain = plain.replace(f"{{{name}:{form}}}", f"{{{name}}}")
    return plain


def _each(column: pd.Series, write: Callable[[Any], str]) -> pd.Series:
    """Each of N values written; the same value is written once."""
    codes, unique = pd.factorize(column)
    texts = np.array([*(write(value) for value in unique), _NOTHING], dtype=object)
    return pd.Series(texts[codes], column.index, dtype="str")


def _quoted(column: pd.Series) -> pd.Series:
    """Text of a register or a layer: on one line, and cut."""
    text = column.astype("str").fillna(_NOTHING).str.replace(_UNSHOWN, " ", regex=True)
    return text.where(text.str.len() <= _LONGEST_QUOTE, text.str.slice(0, _LONGEST_QUOTE) + "…")


def _evidence(wording: Wording) -> pd.Series:
    """The values behind each finding, as ``name=value`` for programs, whatever the language."""
    shown = _pairs(wording.values, {name: name for name in map(str, wording.values.columns)})
    for items in wording.lists.values():
        for item in items:
            part = _pairs(item.values, item.columns).reindex(shown.index).fillna("")
            shown = shown + np.where(shown.ne("") & part.ne(""), "; ", "") + part
    return shown


def _pairs(values: pd.DataFrame, names: Mapping[str, str]) -> pd.Series:
    """``name=value`` for each of the values, whose names are given."""
    out = pd.Series("", values.index, dtype="str")
    for value, name in names.items():
        column = values[value]
        if pd.api.types.is_datetime64_any_dtype(column.dtype):
            text = _each(column.dt.strftime("%Y-%m-%d"), str)
        elif pd.api.types.is_numeric_dtype(column.dtype):
            text = _each(column.round(_MOST_DIGITS), "{:.10g}".format)
        else:
            text = _quoted(column)
        out = out + ("; " if name != next(iter(names.values())) else "") + f"{name}=" + text
    return out
