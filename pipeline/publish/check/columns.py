"""What was understood of the columns of a register, in words."""

import re
from typing import Any, Final

import pandas as pd

from pipeline.contracts import shown_unit
from pipeline.intake.column_facts import Cell, ColumnFacts, Unread
from pipeline.intake.understood import RegisterFacts
from pipeline.publish.check.voice import Voice

__all__ = ["cell_shown", "columns_shown", "share_shown"]

_ORIGINS: Final = {
    "programme": "check.from_programme",
    "header": "check.from_header",
    "units row": "check.from_units_row",
    "column name": "check.from_column_name",
}
_DIGITS: Final = 3
# a number with more digits than anybody types: a workbook stores 17 of them
_LONG_NUMBER: Final = re.compile(r"-?\d{1,9}\.\d{10,}", re.ASCII)
# numbers from here on are shown without decimals
_WHOLE: Final = 1000
# more than this share of unreadable cells is shown as a fault of the column
_MISREAD: Final = 0.05


def columns_shown(facts: RegisterFacts, voice: Voice) -> list[dict[str, Any]]:
    """Return a row for each column that the register keeps: label, header, cells read, unit, values, unread cells."""
    return [
        {
            "label": voice.own(voice.words.translated(column.column.label)),
            "header": voice.listed([voice.own(header) for header in column.headers]),
            "read": share_shown(column.read, facts.rows, voice),
            "unit": _units(column, voice),
            "values": _values(column, facts, voice),
            "unread": [_unread(unread, facts, voice) for unread in column.unread],
            "order": _order(column, voice),
            "is_misread": column.unreadable > _MISREAD * column.filled,
        }
        for column in facts.columns
        if column.is_kept
    ]


def share_shown(part: int, rows: int, voice: Voice) -> str:
    """Return how many of the rows, or "all"."""
    return voice.say("check.all", n=rows) if part == rows else voice.say("check.of", part=part, n=rows)


def cell_shown(cell: Cell, facts: RegisterFacts, voice: Voice) -> str:
    """Return a cell in quotation marks, and where it is; the file is named where the register has several."""
    where = voice.say("check.line" if cell.is_line else "check.row", place=str(cell.place))
    if len(facts.files) > 1:
        where = voice.say("check.in_file", file=voice.own(cell.file_name), where=where)
    return voice.say("check.cell", text=voice.own(_as_typed(cell.text)), where=where)


def _as_typed(text: str) -> str:
    """Return a number without the digits that a workbook adds to what was typed: 609.6 for 609.5999999999999."""
    return f"{float(text):.12g}" if _LONG_NUMBER.fullmatch(text) else text


def _units(column: ColumnFacts, voice: Voice) -> str:
    """Return the unit of bare numbers with what it was taken from."""
    shown = []
    for unit, origin in column.units:
        source = voice.say(_ORIGINS[origin]) if origin in _ORIGINS else ""
        # a column may give a unit in every cell, and need none
        parts = [voice.own(shown_unit(unit)), source] if source else [voice.say("check.in_cells")]
        shown.append(voice.joined(" ", parts))
    return voice.listed(shown)


def _values(column: ColumnFacts, facts: RegisterFacts, voice: Voice) -> str:
    """Return the range with the cells at its ends, or the most frequent texts."""
    if column.column.kind == "text":
        common = [voice.say("check.times", text=voice.own(text), times=count) for text, count in column.commonest]
        if column.different == column.read and column.read:
            return voice.say("check.distinct", examples=voice.listed([voice.own(text) for text, _ in column.commonest]))
        return voice.say("check.texts", n=column.different, common=voice.listed(common)) if common else ""
    if column.low is None or column.high is None:
        return ""
    ends = {
        name: voice.say("check.end", value=_value(end.value, column, voice), cell=cell_shown(end.cell, facts, voice))
        for name, end in (("low", column.low), ("high", column.high))
    }
    if column.middle is None:
        return voice.say("check.dates", **ends)
    return voice.say("check.numbers", **ends, middle=_value(column.middle, column, voice))


def _value(value: float | pd.Timestamp, column: ColumnFacts, voice: Voice) -> str:
    """Return a date as the language writes it, or a number with the unit of the contract."""
    if isinstance(value, pd.Timestamp):
        return voice.words.day(value.date())
    number = voice.words.measure(float(f"{value:.{_DIGITS}g}") if abs(value) < _WHOLE else round(value))
    return voice.say("check.measure", number=number, unit=column.column.shown_unit) if column.column.unit else number


def _unread(unread: Unread, facts: RegisterFacts, voice: Voice) -> str:
    cells = voice.joined("; ", [cell_shown(cell, facts, voice) for cell in unread.cells])
    return voice.say("check.unread", n=unread.number, reason=voice.own(unread.reason), cells=cells)


def _order(column: ColumnFacts, voice: Voice) -> str:
    """Return how the order of day and month was settled, and how many dates were serial numbers."""
    if column.column.kind != "instant" or column.evidence is None:
        return ""
    order, shown = column.evidence.order, []
    settled = {"setting": "check.by_setting", "not needed": "check.order_clear", "open": "check.order_open"}
    shown.append(voice.say(settled[column.evidence.settled_by]))
    counts = (
        ("check.day_first", order.day_first),
        ("check.month_first", order.month_first),
        ("check.either", order.either),
    )
    shown += [voice.say(key, n=count) for key, count in counts if count]
    if column.evidence.serial_numbers:
        example = voice.own(column.evidence.serial_example)
        shown.append(voice.say("check.serials", n=column.evidence.serial_numbers, example=example))
    return voice.joined("; ", shown)
