"""What was understood of a register: its files, columns, positions, and the rows that hold no core."""

import datetime as dt
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from typing import Final, Literal, NamedTuple

import numpy as np
import pandas as pd
from pyproj import CRS

from pipeline.contracts import REGISTER_COLUMNS, start_of_day
from pipeline.intake.cells.date_order import total_order
from pipeline.intake.column_facts import Cell, ColumnFacts, cell_at, column_facts
from pipeline.intake.crs import name_of, to_crs
from pipeline.intake.date_columns import DateEvidence
from pipeline.intake.outliers import PLAUSIBLE, Outliers, Ranges, outliers_of
from pipeline.intake.position_facts import PositionFacts, RoadTree, position_facts
from pipeline.intake.register import Register

__all__ = ["RegisterFacts", "understood_register"]

# rows that do not fit the header, shown by their line
_MOST_RAGGED: Final = 10
_FACTS: Final = ("file", "x_m", "y_m")
# how the order of day and month was settled, the least certain first
_SETTLED: Final[tuple[Literal["open", "setting", "not needed"], ...]] = ("open", "setting", "not needed")


class Ragged(NamedTuple):
    """The rows that do not fit the header: how many, and the first of them, each with what is odd about it."""

    number: int = 0
    rows: tuple[Cell, ...] = ()


@dataclass(frozen=True)
class RegisterFacts:
    """What was understood of one register, all files of it together.

    ``rows``: rows that hold a core; ``rows_in_file`` before any filter. ``copies``: rows that repeat another in every
    cell. ``repeated_ids``: further rows that share their id with another row of their file. ``unused``: columns of the
    files that nothing is read from. ``set_aside``: the rows that hold no core: ``file``, ``place``, ``reason`` and
    ``text``. ``dates_backwards``: rows reinstated before they were opened; ``dates_both``: rows with both dates.
    ``deeper``: rows whose depth is more than the diameter; ``sizes_both``: rows with both sizes. ``low_days``: whether
    no date of a column has a day after the twelfth, by column. ``ragged``: rows with more or fewer cells than the
    header.
    """

    name: str
    files: tuple[str, ...]
    rows: int
    rows_in_file: int
    copies: int
    repeated_ids: int
    columns: tuple[ColumnFacts, ...]
    positions: PositionFacts
    unused: tuple[str, ...]
    set_aside: pd.DataFrame
    dates_backwards: int = 0
    dates_both: int = 0
    deeper: int = 0
    sizes_both: int = 0
    low_days: tuple[str, ...] = ()
    outliers: Mapping[str, Outliers] = field(default_factory=dict)
    headers: tuple[tuple[str, int], ...] = ()
    ragged: Ragged = Ragged()  # noqa: RUF009 - a named tuple is immutable

    @property
    def kept(self) -> frozenset[str]:
        """The columns of the contract that have at least one value."""
        return frozenset(facts.column.name for facts in self.columns if facts.read)

    def column(self, name: str) -> ColumnFacts:
        """Return what was understood of a column of the contract."""
        return next(facts for facts in self.columns if facts.column.name == name)


def understood_register(
    parts: list[Register], crs: CRS | None, roads: RoadTree | None, as_of: dt.date, limits: Ranges | None = None
) -> RegisterFacts:
    """Return what was understood of one register.

    Parameters
    ----------
    parts
        Its files.
    crs, roads
        The run's CRS, and the roads in it; None where the roads cannot be used.
    as_of
        Day of the audit.
    limits
        Plausible values from the rule book, by contract column.
    """
    ranges = {**PLAUSIBLE, **(limits or {})}
    frame = pd.concat([_with_metres(part, crs) for part in parts], ignore_index=True)
    own = list(dict.fromkeys(str(name) for part in parts for name in part.as_read))
    headers = {column.name: _distinct(part.sources.get(column.name) for part in parts) for column in REGISTER_COLUMNS}
    position_headers = _distinct(name for part in parts for name in part.position_headers)
    used = {*position_headers, *(name for names in headers.values() for name in names)}
    columns = tuple(
        column_facts(
            frame, column, headers[column.name], as_of, _units(parts, column.name), _evidence(parts, column.name)
        )
        for column in REGISTER_COLUMNS
    )
    copies = _copies(parts)
    both = frame["opened_on"].notna() & frame["reinstated_at"].notna()
    sizes = frame["diameter_mm"].notna() & frame["depth_mm"].notna()
    return RegisterFacts(
        name=parts[0].name,
        files=tuple(part.label for part in parts),
        rows=len(frame),
        rows_in_file=sum(part.rows_in_file for part in parts),
        copies=int(copies.sum()),
        # a later file of the register may carry its cores on
        repeated_ids=int((frame["core_id"].notna() & frame.duplicated(["file", "core_id"]) & ~copies).sum()),
        columns=columns,
        positions=position_facts(
            frame, position_headers, ", ".join(_distinct(name_of(part.crs) for part in parts)), roads
        ),
        unused=tuple(name for name in own if name not in used),
        set_aside=pd.concat(
            [part.set_aside.assign(file=part.label) for part in parts if len(part.set_aside)] or [_nothing_aside()],
            ignore_index=True,
        ),
        # the day alone: a core may be opened and reinstated on one day
        dates_backwards=int((start_of_day(frame["reinstated_at"]) < start_of_day(frame["opened_on"]))[both].sum()),
        dates_both=int(both.sum()),
        deeper=int(frame["depth_mm"].gt(frame["diameter_mm"])[sizes].sum()),
        sizes_both=int(sizes.sum()),
        low_days=tuple(facts.column.name for facts in columns if _has_low_days(frame, facts)),
        headers=tuple((part.sheet, part.header_place) for part in parts),
        outliers={
            column.name: outliers_of(frame, column, ranges) for column in REGISTER_COLUMNS if headers[column.name]
        },
        ragged=_ragged(frame),
    )


def _with_metres(part: Register, crs: CRS | None) -> pd.DataFrame:
    """Return the rows of a file with its name, and with their positions in the run's CRS if there is one."""
    frame = part.frame.drop(columns=[name for name in _FACTS if name in part.frame])
    if crs is None:
        return frame.assign(file=part.label)
    x_m, y_m = to_crs(frame["x"].to_numpy(), frame["y"].to_numpy(), part.crs, crs)
    return frame.assign(file=part.label, x_m=x_m, y_m=y_m)


def _ragged(frame: pd.DataFrame) -> Ragged:
    """Return the rows that do not fit the header."""
    labels = frame.index[frame["ragged"].notna()]
    return Ragged(len(labels), tuple(cell_at(frame, label, "ragged") for label in labels[:_MOST_RAGGED]))


def _copies(parts: list[Register]) -> pd.Series:
    """Return whether each row repeats an earlier row of the register in every cell."""
    # a number is the name of no column of a file
    rows = [
        pd.concat([part.as_read, part.frame[["x_text", "y_text"]].set_axis(range(2), axis="columns")], axis="columns")
        for part in parts
    ]
    return pd.concat(rows, ignore_index=True).duplicated()


def _units(parts: list[Register], name: str) -> tuple[tuple[str, str], ...]:
    """Return the unit of a column's bare numbers and what it was taken from, over all files."""
    return tuple(
        dict.fromkeys((part.units[name], part.units_from.get(name, "")) for part in parts if name in part.units)
    )


def _evidence(parts: list[Register], name: str) -> DateEvidence | None:
    """Return how the dates of a column were understood, over all files."""
    found = [part.evidence[name] for part in parts if name in part.evidence]
    if not found:
        return None
    return DateEvidence(
        total_order(one.order for one in found),
        next(word for word in _SETTLED if any(one.settled_by == word for one in found)),
        sum(one.serial_numbers for one in found),
        next((one.serial_example for one in found if one.serial_example), ""),
    )


def _has_low_days(frame: pd.DataFrame, facts: ColumnFacts) -> bool:
    """Return whether many different dates have no day after the twelfth: a sign that day and month are swapped."""
    if facts.column.kind != "instant" or not facts.read:
        return False
    days = start_of_day(frame[facts.column.name].dropna()).unique()
    return len(days) >= _ENOUGH_DAYS and bool(np.all(pd.DatetimeIndex(days).day <= _MONTHS))


_MONTHS: Final = 12
# of twenty different days chosen at random, all lie before the thirteenth once in a hundred million times
_ENOUGH_DAYS: Final = 20


def _distinct(names: Iterable[str | None]) -> tuple[str, ...]:
    return tuple(dict.fromkeys(name for name in names if name is not None))


def _nothing_aside() -> pd.DataFrame:
    return pd.DataFrame(columns=["place", "reason", "text", "file"], dtype="str")
