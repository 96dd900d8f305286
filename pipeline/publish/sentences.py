"""The sentences of findings, made from their templates and values: in English, or in the language of a run.

Templates, titles and cautions are English in the code and in ``config/``. The file of a language may have its own
wording in its table ``data``: on the left the English template, fields without their formats, on the right the
translation. What it does not have is shown in English; numbers, dates and lists follow the language either way.
"""

import dataclasses
from collections.abc import Mapping
from functools import partial
from typing import Final

import numpy as np
import pandas as pd
import pyarrow as pa
from babel.lists import format_list
from babel.units import format_unit
from pyarrow import compute as pc

from pipeline.audit.finding_places import by_rule
from pipeline.audit.findings import Item, Wording, fields_of
from pipeline.contracts import FINDING_COLUMNS
from pipeline.contracts.arrow_texts import as_column, days_written, each_once, joined, placed, taken, texts_of
from pipeline.programme.cautions import translated
from pipeline.publish.words import BRACES, Words
from pipeline.results import RunResult
from pipeline.visible_text import UNSEEN_IN_ARROW, visible_texts

__all__ = ["faults", "finding_table", "translate", "with_sentences"]

_TABLE: Final = "data."
# the tables of every run are in English
_BASE: Final = "en"
# a register may hold a page of text in one cell; a sentence quotes its beginning
_LONGEST_QUOTE: Final = 80
# line breaks would break a table of findings
_BREAKS: Final = r"[\t\r\n]+"
_NOTHING: Final = "–"
_BETWEEN: Final = pa.scalar("; ", pa.large_string())
_NO_TEXT: Final = pa.scalar("", pa.large_string())
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
    filler = _Filler(words, _data(words))
    messages, evidence = [], []
    for slug, here in by_rule(findings["rule"], wordings):
        wording = wordings[slug]
        at = wording.templates.index.get_indexer(pd.Index(findings["row"].to_numpy()[here]))
        if (at < 0).any():
            raise KeyError(f"rule {slug}: findings about rows that its wording does not have")
        messages.append((here, taken(filler.message(wording), at)))
        evidence.append((here, taken(_evidence(wording), at)))
    told = findings.assign(
        message=as_column(placed(messages, len(findings)), findings.index),
        evidence=as_column(placed(evidence, len(findings)), findings.index),
    )
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
    filler = _Filler(words, _data(words))
    parts = []
    for slug, here in by_rule(findings["rule"], wordings):
        wording = wordings[slug]
        at = wording.templates.index.get_indexer(pd.Index(findings["row"].to_numpy()[here]))
        told = at >= 0
        texts = filler.filled(wording.templates["fault"].iloc[at[told]], wording.values.iloc[at[told]], wording.lists)
        parts.append((here[told], texts))
    found = as_column(placed(parts, len(findings), None), findings.index)
    is_there = np.zeros(len(findings), dtype=bool)
    for here, _ in parts:
        is_there[here] = True
    return findings["message"].astype("str").mask(is_there, found)


@dataclasses.dataclass(frozen=True)
class _Filler:
    """Fills templates in one language."""

    words: Words
    data: Mapping[str, str]

    def message(self, wording: Wording) -> pa.Array:
        """The sentences of one rule: what is wrong, then what to do."""
        fault, remedy = (
            self.filled(wording.templates[part], wording.values, wording.lists) for part in ("fault", "remedy")
        )
        return joined([fault, " ", remedy], len(wording.templates))

    def filled(self, templates: pd.Series, values: pd.DataFrame, lists: _Lists) -> pa.Array:
        codes, different = pd.factorize(templates)
        if len(different) == 1:
            return self._one(str(different[0]), values, lists)
        parts = []
        for code, template in enumerate(different):
            here = np.flatnonzero(codes == code)
            parts.append((here, self._one(str(template), values.iloc[here], lists)))
        return placed(parts, len(templates))

    def _one(self, template: str, values: pd.DataFrame, lists: _Lists) -> pa.Array:
        forms = dict(fields_of(template))
        plain = _without_formats(template)
        parts: list[str | pa.Array] = list(BRACES.split(self.data.get(plain, plain)))
        for at in range(1, len(parts), 2):
            name = str(parts[at])
            parts[at] = self._listed(lists[name], values.index) if name in lists else self._shown(values, name, forms)
        return joined(parts, len(values))

    def _listed(self, items: tuple[Item, ...], index: pd.Index) -> pa.Array:
        """What each finding lists, joined as the language joins lists."""
        every = pa.concat_arrays(
            [self.filled(pd.Series(item.template, item.values.index, dtype="str"), item.values, {}) for item in items]
        )
        rows = np.concatenate([index.get_indexer(item.values.index) for item in items])
        ours = np.flatnonzero(rows >= 0)
        # the things of one finding side by side, in the order of the items
        ours = ours[np.argsort(rows[ours], kind="stable")]
        counts = np.bincount(rows[ours], minlength=len(index))
        first = np.cumsum(counts) - counts
        parts = []
        for count in map(int, np.unique(counts[counts > 0])):
            here = np.flatnonzero(counts == count)
            # the library joins marks, and the texts take their places afterwards: nothing in them is read
            marks = format_list([f"\x00{at}\x00" for at in range(count)], locale=self.words.locale).split("\x00")
            pieces: list[str | pa.Array] = [*marks]
            for at in range(1, len(marks), 2):
                pieces[at] = taken(every, ours[first[here] + int(marks[at])])
            parts.append((here, joined(pieces, len(here))))
        return placed(parts, len(index), None)

    def _shown(self, values: pd.DataFrame, name: str, forms: Mapping[str, str]) -> pa.Array:
        form, _, other = forms[name].partition(" vs ")
        column = values[name]
        if form == "term":
            return _quoted(translate(column.astype("str"), self.data))
        if pd.api.types.is_datetime64_any_dtype(column.dtype):
            return days_written(column, self._day, _NOTHING)
        if not pd.api.types.is_numeric_dtype(column.dtype):
            return _quoted(column)
        if form in _DURATIONS:
            return each_once(column.round(0), partial(self._duration, _DURATIONS[form]), _NOTHING)
        if form == "g":
            return each_once(column, self.words.measure, _NOTHING)
        return self._numbers(column, form, values[other] if other else None)

    def _numbers(self, column: pd.Series, form: str, other: pd.Series | None) -> pa.Array:
        """Each number as its format has it, with more digits where it would otherwise look the same as the other."""
        share = form.endswith("%")
        write, scale = (self.words.percent, 100) if share else (self.words.number, 1)
        # ".1f" and ".1%" have one digit after the mark, and no format none
        least = int(form[1:-1]) if form else 0
        scaled = (column * scale).reset_index(drop=True)
        digits = np.full(len(column), least)
        if other is not None:
            against = (other * scale).reset_index(drop=True)
            same = np.ones(len(column), dtype=bool)
            for more in range(least, _MOST_DIGITS + 1):
                apart = same & scaled.round(more).ne(against.round(more)).to_numpy()
                digits[apart], same = more, same & ~apart
                if not same.any():
                    break
        parts = []
        for count in map(int, np.unique(digits)):
            here = np.flatnonzero(digits == count)
            texts = each_once(scaled.iloc[here].round(count) / scale, partial(write, digits=count), _NOTHING)
            parts.append((here, texts))
        return parts[0][1] if len(parts) == 1 else placed(parts, len(column))

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


def _quoted(column: pd.Series) -> pa.Array:
    """Text of a register or a layer: on one line, visible, and cut."""
    texts = pc.fill_null(texts_of(column), _NOTHING)
    # few cells need anything done to them
    long = pc.greater(pc.utf8_length(texts), _LONGEST_QUOTE)
    odd = pc.or_(long, pc.match_substring_regex(texts, f"{UNSEEN_IN_ARROW}|[\\t\\n]")).to_numpy(zero_copy_only=False)
    if not odd.any():
        return texts
    here = np.flatnonzero(odd)
    text = as_column(texts.take(pa.array(here)), pd.RangeIndex(len(here))).str.replace(_BREAKS, " ", regex=True)
    text = visible_texts(text)
    text = text.where(text.str.len() <= _LONGEST_QUOTE, text.str.slice(0, _LONGEST_QUOTE) + "…")
    rest = np.flatnonzero(~odd)
    return placed([(rest, texts.take(pa.array(rest))), (here, texts_of(text))], len(texts))


def _evidence(wording: Wording) -> pa.Array:
    """The values behind each finding, as ``name=value`` for programs, whatever the language."""
    rows = len(wording.templates)
    shown = _pairs(wording.values, {name: name for name in map(str, wording.values.columns)})
    for items in wording.lists.values():
        for item in items:
            part = _pairs(item.values, item.columns)
            at = item.values.index.get_indexer(wording.values.index)
            part = pc.fill_null(taken(part, at), "")
            some = pc.and_(pc.not_equal(shown, ""), pc.not_equal(part, ""))
            shown = joined([shown, pc.if_else(some, _BETWEEN, _NO_TEXT), part], rows)
    return shown


def _pairs(values: pd.DataFrame, names: Mapping[str, str]) -> pa.Array:
    """``name=value`` for each of the values, whose names are given."""
    parts: list[str | pa.Array] = []
    for value, name in names.items():
        column = values[value]
        if pd.api.types.is_datetime64_any_dtype(column.dtype):
            text = days_written(column, str, _NOTHING)
        elif pd.api.types.is_numeric_dtype(column.dtype):
            text = each_once(column.round(_MOST_DIGITS), "{:.10g}".format, _NOTHING)
        else:
            text = _quoted(column)
        parts += [("; " if parts else "") + f"{name}=", text]
    return joined(parts, len(values))
