"""A register's column of dates: serial numbers, time zone, and whether the order of day and month can be right."""

from typing import Final, Literal, NamedTuple

import pandas as pd

from pipeline.contracts import is_missing, is_word
from pipeline.intake.cells.date_order import SLIPS, DateOrder, contradiction, count_orders
from pipeline.intake.cells.dates import DateReading, read_dates
from pipeline.intake.cells.serial_dates import could_be_serial, serial_times
from pipeline.intake.column_units import UnusableColumnError
from pipeline.intake.files.tables import RawTable
from pipeline.programme.settings import Cores
from pipeline.wording import counted

__all__ = ["DateEvidence", "date_column"]

# written where nothing has happened yet: as good as an empty cell
_NOT_YET: Final = frozenset({"open", "still open", "not yet", "not done", "outstanding", "pending"})
# so many dates that can be read in one order only are enough to propose that order
_ENOUGH: Final = 3


class DateEvidence(NamedTuple):
    """How the dates of a column were understood.

    ``order``: what its cells show. ``settled_by``: "setting" (``day_first``), "not needed" (every date has its month by
    name or in ISO order) or "open" (such dates were not read). ``serial_numbers``: how many were read as dates, with an
    example such as "46082 = 2026-03-01".
    """

    order: DateOrder
    settled_by: Literal["setting", "not needed", "open"]
    serial_numbers: int = 0
    serial_example: str = ""


def date_column(
    table: RawTable,
    text: pd.Series,
    source: str | None,
    section: Cores,
    timezone: str,
    register_order: DateOrder | None = None,
) -> tuple[DateReading, DateEvidence, list[str]]:
    """Return a column of dates as read, how it was understood, and what the user should know about it.

    Parameters
    ----------
    table
        What the file holds.
    text
        The cells, N rows.
    source
        Name of the file's column; None where it has none.
    section
        Settings of the register.
    timezone
        IANA name of the programme's time zone.
    register_order
        What all dates of the register show; None: only those of this column count.

    Raises
    ------
    UnusableColumnError
        Most cells have an order that is not set, or are serial numbers in text; or the order that is set contradicts
        more than a few.
    """
    text = text.mask(is_word(text, _NOT_YET))
    order = count_orders(text)
    together = register_order or order
    if section.day_first is not None:
        _refuse_contradiction(order, together, day_first=section.day_first)
    serial, is_1904 = _serial_cells(table, text, source, section)
    dates = read_dates(
        text, timezone, day_first=section.day_first, written_in=section.timezone, serial=serial, is_1904=is_1904
    )
    filled = int((~is_missing(text)).sum())
    serials = dates.problem.eq("spreadsheet serial number")
    notices = [
        *_unread(text, dates.problem.eq("day or month first"), filled, *_order_words(together)),
        *_unread(text, serials, filled, *_serial_words(text[serials])),
    ]
    numbers, example = 0, ""
    if serial is not None:
        read = dates.instants.notna() & serial & could_be_serial(text, is_1904=is_1904)
        numbers = int(read.sum())
    if numbers:
        first = text[read].iloc[:1]
        example = f"{first.iloc[0]} = {serial_times(first, is_1904=is_1904).dt.date.iloc[0]}"
        were = "was read as a date" if numbers == 1 else "were read as dates"
        notices.append(f"has {counted(numbers, 'serial number')} that {were}, such as {example}.")
    written = order.day_first + order.month_first + order.either
    settled: Literal["setting", "not needed", "open"] = (
        "not needed" if not written else "open" if section.day_first is None else "setting"
    )
    return dates, DateEvidence(order, settled, numbers, example), notices


def _serial_cells(
    table: RawTable, text: pd.Series, source: str | None, section: Cores
) -> tuple[pd.Series | None, bool]:
    """Return which cells may count days, None for none of them, and whether they count from 1904.

    A workbook stores dates as numbers, so a number in its column of dates is one whose format was lost; of digits in a
    text only the user knows.
    """
    if section.dates is not None:
        return pd.Series(data=True, index=text.index), section.dates == "serial 1904" or table.is_1904
    if table.stored_as_number is None or source not in table.stored_as_number.columns:
        return None, False
    return table.stored_as_number[source], table.is_1904


def _refuse_contradiction(order: DateOrder, together: DateOrder, *, day_first: bool) -> None:
    """Stop where more than a few cells can only be read in the other order than the one that is set."""
    found = contradiction(order, together, "cores.day_first", day_first=day_first)
    agree = together.day_first if day_first else together.month_first
    if found and agree > SLIPS:
        raise UnusableColumnError(
            f"{found}, and {counted(agree, 'date')} of the register can only be the other way round",
            "Write all dates in one order, preferably as 2026-09-30.",
        )
    if found:
        other = "false" if day_first else "true"
        raise UnusableColumnError(
            found,
            f"Set cores.day_first = {other}; if other files of the register are right, give this one its [[cores]].",
        )


def _unread(text: pd.Series, unread: pd.Series, filled: int, why: str, remedy: str) -> list[str]:
    """Return a notice of the dates that one setting would let be read; stop where they are most of the column."""
    if not unread.any():
        return []
    example = text[unread].iloc[0]
    if unread.sum() * 2 > filled:
        raise UnusableColumnError(f"has dates such as {example!r}, {why}", remedy)
    return [f"has {counted(int(unread.sum()), 'date')} not read, such as {example!r}, {why}. {remedy}"]


def _serial_words(cells: pd.Series) -> tuple[str, str]:
    """Return why cells that may be serial numbers were not read, and what to do, by what the first would mean."""
    first = cells.iloc[:1]
    of_1900, of_1904 = (
        serial_times(first, is_1904=is_1904).dt.strftime("%Y-%m-%d").item() if len(first) else ""
        for is_1904 in (False, True)
    )
    return (
        "which may be the serial number of a spreadsheet",
        f'If that number means {of_1900}, set cores.dates = "serial"; if it means {of_1904}, "serial 1904".',
    )


def _order_words(order: DateOrder) -> tuple[str, str]:
    """Return why dates whose order is not set were not read, and what to do: the value only where the cells show it."""
    day, month = counted(order.day_first, "date"), counted(order.month_first, "date")
    why = "which may be day first or month first"
    if order.day_first >= _ENOUGH and order.month_first == 0:
        shown = (
            f"{day} of the register can only be day first, such as {order.day_first_example!r}, and none month first"
        )
        return f"{why}; {shown}", "Set cores.day_first = true."
    if order.month_first >= _ENOUGH and order.day_first == 0:
        shown = (
            f"{month} of the register can only be month first, such as {order.month_first_example!r}, and none day "
            "first"
        )
        return f"{why}; {shown}", "Set cores.day_first = false."
    if order.day_first and order.month_first:
        shown = (
            f"{day} of the register can only be day first, such as {order.day_first_example!r}, and {month} only month "
            f"first, such as {order.month_first_example!r}"
        )
        return f"{why}; {shown}", "Write all dates in one order, preferably as 2026-09-30, or set cores.day_first."
    return why, "Set cores.day_first = true or false in the programme file."
