"""What looks misread in a register, the most telling first: each a sentence with its counts and an example."""

import datetime as dt
from collections.abc import Iterator
from pathlib import PurePath
from typing import Final

import pandas as pd

from pipeline.contracts import REGISTER_COLUMNS, shown_unit
from pipeline.intake.column_facts import Cell, ColumnFacts
from pipeline.intake.outliers import PLAUSIBLE, Outliers, Ranges
from pipeline.intake.position_suspicions import of_positions
from pipeline.intake.understood import RegisterFacts
from pipeline.wording import counted

__all__ = ["suspicions_of"]

_LABELS: Final = {column.name: column.label.lower() for column in REGISTER_COLUMNS}
# fewer cells than this show nothing
_FEW: Final = 10
# more than this share of a column is no slip of single rows
_SHARE: Final = 0.05
_MOST: Final = 0.5
# files named for one column
_MOST_FILES: Final = 5
_ASIDE_SHARE: Final = 0.3
_FIRST_YEAR: Final = 1990
# air temperature varies more than this over a register
_LEAST_SPREAD_C: Final = 3.0
# dates that may lie ahead
_AHEAD: Final = {"planned_on", "permit_expires_on"}
# words of a header that name one column of the contract, in lower case
_NAMES: Final = {
    "diameter_mm": ("diam", "ø", "⌀"),
    "depth_mm": ("depth", "deep", "length", "thick"),
    "water_l": ("water",),
    "air_temperature_c": ("temp", "°c", "°f"),
    "bags_used": ("bags",),
    "opened_on": ("opened", "cut on", "date cut"),
    "reinstated_at": ("reinstat", "put back"),
    "street": ("street",),
    "crew": ("crew",),
    "shade_used": ("shade",),
    "permit_no": ("permit",),
    "remarks": ("remark", "notes"),
}


def suspicions_of(facts: RegisterFacts, limits: Ranges, as_of: dt.date) -> list[str]:
    """Return what looks misread in a register, the most telling first.

    Parameters
    ----------
    facts
        What was understood of it.
    limits
        Plausible values from the rule book, by contract column.
    as_of
        Day of the audit.
    """
    ranges = {**PLAUSIBLE, **limits}
    found: list[tuple[float, str]] = [*_of_register(facts), *of_positions(facts.positions)]
    for column in facts.columns:
        if column.is_kept:
            found += _of_column(column, facts)
            found += (
                _of_dates(column, facts, as_of)
                if column.column.kind == "instant"
                else _of_values(column, facts, ranges)
            )
    # ties keep the order of the register
    return [f"{facts.name}: {sentence}" for _, sentence in sorted(found, key=lambda one: -one[0])]


def _of_register(facts: RegisterFacts) -> Iterator[tuple[float, str]]:
    rows = facts.rows
    if not facts.column("reinstated_at").is_kept:
        yield (
            0.6,
            (
                "no column for the date of reinstatement: no core of this register can count as reinstated. "
                "If there is one, name it in cores.columns.reinstated_at."
            ),
        )
    if rows >= _FEW and facts.repeated_ids > _SHARE * rows:
        yield (
            1.0,
            (
                f"{facts.repeated_ids:,} of {counted(rows, 'row')} repeat the id of another row. "
                f"Check that {_header(facts.column('core_id'))} holds the ids of cores."
            ),
        )
    if facts.sizes_both >= _FEW and facts.deeper > _MOST * facts.sizes_both:
        yield (
            0.9,
            (
                f"{facts.deeper:,} of {counted(facts.sizes_both, 'core')} are deeper than they are wide. Check that "
                f"{_header(facts.column('diameter_mm'))} and {_header(facts.column('depth_mm'))} are not swapped."
            ),
        )
    if facts.dates_both and facts.dates_backwards > _SHARE * facts.dates_both:
        yield (
            0.9,
            (
                f"{facts.dates_backwards:,} of {counted(facts.dates_both, 'core')} were reinstated before they were "
                "opened. "
                f"Check {_header(facts.column('opened_on'))}, {_header(facts.column('reinstated_at'))} and the "
                "order of day and month."
            ),
        )
    if facts.ragged.number:
        yield 0.9, _of_ragged(facts)
    aside = len(facts.set_aside)
    if aside > max(_FEW, _ASIDE_SHARE * (rows + aside)):
        yield (
            0.5,
            (
                f"{counted(aside, 'row')} set aside as holding no core, and {counted(rows, 'core')} kept. "
                "Check the rows set aside."
            ),
        )
    headers = [header for column in facts.columns for header in column.headers]
    for header in dict.fromkeys(name for name in headers if headers.count(name) > 1):
        labels = [column.column.label for column in facts.columns if header in column.headers]
        yield 0.8, f'column "{header}" is read twice: {" and ".join(labels)}.'


def _of_ragged(facts: RegisterFacts) -> str:
    """Return which rows do not fit the header; the files are named where the register has several."""
    where = []
    for file in dict.fromkeys(facts.files):
        rows = [row for row in facts.ragged.rows if row.file == file]
        if rows:
            noun = ("line" if rows[0].is_line else "row") + "s" * (len(rows) > 1)
            name = f"{rows[0].file_name}, " * (len(facts.files) > 1)
            where.append(f"{name}{noun} {', '.join(str(row.place) for row in rows)}")
    number = facts.ragged.number
    more = number - len(facts.ragged.rows)
    return (
        f"{counted(number, 'row')} {'has' if number == 1 else 'have'} more or fewer cells than the header: "
        f"{'; '.join(where)}{f' and {more:,} more' * bool(more)}. Cells may be in the wrong columns: correct the file, "
        "or export it again."
    )


def _of_column(column: ColumnFacts, facts: RegisterFacts) -> Iterator[tuple[float, str]]:
    if column.filled >= _FEW and column.unreadable > _SHARE * column.filled:
        first = column.unread[0]
        yield (
            column.unreadable / column.filled,
            (
                f"{column.unreadable:,} of {counted(column.filled, 'cell')} of {_header(column)} cannot be read as "
                f"{column.column.label.lower()}, such as {_quoted(first.cells[0], facts)}: {first.reason}."
            ),
        )
    own, others = _named_by(column)
    if others and not own:
        yield 0.85, f"{_header(column)} is read as {column.column.label.lower()}, but its header names {others}."
    if column.column.name == "street" and column.different == 1 and column.read >= 2 * _FEW:
        yield 0.6, f"all {counted(column.read, 'core')} are on one street, {column.commonest[0][0]!r}."
    if column.column.name == "opened_on" and 0 < column.filled < _MOST * facts.rows:
        yield (
            0.5,
            (f"{_header(column)} has the day of opening for only {column.filled:,} of {counted(facts.rows, 'row')}."),
        )
    if not column.filled and facts.rows:
        yield 0.4, f"{_header(column)}, read as {column.column.label.lower()}, is empty in every row."


def _named_by(column: ColumnFacts) -> tuple[bool, str]:
    """Return whether a header names the column that it is read as, and the labels of another that it names."""
    header = " ".join(column.headers).casefold()
    own = any(word in header for word in _NAMES.get(column.column.name, ())) or column.column.name not in _NAMES
    others = [name for name, words in _NAMES.items() if any(word in header for word in words)]
    return own, " and ".join(_LABELS[name] for name in others)


def _of_values(column: ColumnFacts, facts: RegisterFacts, ranges: Ranges) -> Iterator[tuple[float, str]]:
    """Return what is implausible about numbers."""
    if column.low is None or column.high is None or column.middle is None or column.column.name not in ranges:
        return
    least, most = ranges[column.column.name]
    unit, label = shown_unit(column.column.unit), column.column.label.lower()
    units = [f"{shown_unit(own)} ({origin})" if origin else shown_unit(own) for own, origin in column.units]
    check = f"Check the column and its unit, {' and '.join(units)}." if units else "Check the column."
    if not least <= column.middle <= most:
        expected = f"{least:g} to {most:g} {unit}".strip()
        median = f"{column.middle:.4g} {unit}".strip()
        yield 1.0, f"{_header(column)} has a median {label} of {median}, expected {expected}. {check}"
        return
    yield from _of_outliers(column, facts, ranges, check)
    if column.column.name == "air_temperature_c" and column.read >= _FEW:
        low, high = column.low.value, column.high.value
        if isinstance(low, float) and isinstance(high, float) and high - low < _LEAST_SPREAD_C:
            yield 0.8, (f"{_header(column)} has only {label}s from {low:.3g} to {high:.3g} {unit}. {check}")


def _of_outliers(column: ColumnFacts, facts: RegisterFacts, ranges: Ranges, check: str) -> Iterator[tuple[float, str]]:
    """Return which files may be in another unit, and which single values no core is likely to have."""
    outliers = facts.outliers.get(column.column.name, Outliers())
    unit, label = shown_unit(column.column.unit), column.column.label.lower()
    for odd in outliers.odd_files:
        yield (
            0.95,
            (
                f"{_header(column)} of {PurePath(odd.file).name} may be in another unit: its median {label} is "
                f"{odd.middle:.4g} {unit}, of the other files {odd.others:.4g} {unit}, a factor of {odd.factor:.3g}. "
                f"{check}"
            ),
        )
    if not outliers.number:
        return
    least, most = ranges[column.column.name]
    is_one = outliers.number == 1
    files = ""
    if len(facts.files) > 1:
        listed = [f"{PurePath(file).name} {count:,}" for file, count in outliers.outside[:_MOST_FILES]]
        listed += [f"{counted(len(outliers.outside) - _MOST_FILES, 'more file')}"] * (
            len(outliers.outside) > _MOST_FILES
        )
        files = f" ({', '.join(listed)})"
    cells = ", ".join(_quoted(cell, facts) for cell in outliers.cells)
    yield (
        0.9 if outliers.number > _SHARE * column.read else 0.3,
        (
            f"{outliers.number:,} of {counted(column.read, 'value')} of {_header(column)} "
            f"{'is' if is_one else 'are'} outside the likely range of the {label}{files}"
            f"{': ' if is_one else ', such as '}{cells}; expected "
            f"{f'{least:g} to {most:g} {unit}'.strip()}. {check}"
        ),
    )


def _of_dates(column: ColumnFacts, facts: RegisterFacts, as_of: dt.date) -> Iterator[tuple[float, str]]:
    """Return what is implausible about dates."""
    if column.low is None or column.high is None:
        return
    low, high = column.low.value, column.high.value
    assert isinstance(low, pd.Timestamp)
    assert isinstance(high, pd.Timestamp)
    first, last = low.date(), high.date()
    label = _header(column)
    if column.read >= _FEW and first == last:
        yield 0.7, f"all {counted(column.read, 'date')} of {label} are {first.isoformat()}."
    if first.year < _FIRST_YEAR:
        yield 0.1, f"the earliest date of {label} is {first.isoformat()} ({_quoted(column.low.cell, facts)})."
    if column.ahead and column.column.name not in _AHEAD:
        share = column.ahead / column.read
        hint = " Check the order of day and month." if share > _SHARE else ""
        yield (
            0.9 if share > _SHARE else 0.1,
            (
                f"{counted(column.ahead, 'date')} of {label} {'lies' if column.ahead == 1 else 'lie'} after "
                f"the day of the audit, {as_of.isoformat()}; the latest is "
                f"{last.isoformat()} ({_quoted(column.high.cell, facts)}).{hint}"
            ),
        )
    if column.column.name in facts.low_days:
        yield (
            0.9,
            (
                f"no date of {label} has a day after the 12th of a month, as if day and month were swapped. "
                "Check cores.day_first."
            ),
        )


def _header(column: ColumnFacts) -> str:
    return " / ".join(f'"{header}"' for header in column.headers)


def _quoted(cell: Cell, facts: RegisterFacts) -> str:
    """Return a cell with where it is, such as "abc" in row 7; the file is named where the register has several."""
    row = f"{'line' if cell.is_line else 'row'} {cell.place}"
    where = row if len(facts.files) == 1 else f"{cell.file_name}, {row}"
    return f'"{cell.text[:60]}" in {where}'
