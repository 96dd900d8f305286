"""The workbook of Harbour Cutters: a rate card, a hidden sheet, and a sheet of cores as an office keeps it."""

import calendar
import datetime as dt
from itertools import groupby
from pathlib import Path
from zoneinfo import ZoneInfo

import pyproj
import xlsxwriter
from accounts import Account, NoCore, Told, told_of
from cores_sheet import (
    COLUMNS,
    FIRST_ROW,
    SHEET,
    Sheet,
    write_core_cells,
    write_footer,
    write_grand_total,
    write_head,
    write_titles,
    write_total,
)
from drawn_cores import GALLON_L, Core

__all__ = ["write_workbook"]

FILE, REGISTER = "harbour_cutters.xlsx", "harbour_cutters"
# NAD83 / BLM 17N, in US survey feet
_CRS_FEET = "EPSG:32167"
_OFFICE_ZONE = ZoneInfo("America/Chicago")
_RATES = (
    ("Harbour Cutters: rates for 2026", "", "", ""),
    ("Item", "Size", "Per", "Rate"),
    ("Core cut and lifted", "12 in", "core", 310),
    ("Core cut and lifted", "18 in", "core", 390),
    ("Core cut and lifted", "24 in", "core", 520),
    ("Grout", "lb in one bag", "bag", 50),
    ("Plate on hire", "", "day", 18),
    ("Night work, added", "", "core", 120),
)
_PALE_HIDDEN = "hidden row"
_NO_ID, _ID_ONLY = 31, 53
# months after whose total the head is printed again
_HEAD_AGAIN_AFTER = (6,)
_SUBTOTAL_ONLY = (7,)


def write_workbook(folder: Path, cores: list[Core], shared: dict[int, str], account: Account) -> None:
    """Write the workbook and account for each of its rows.

    Parameters
    ----------
    folder
        Where it is written.
    cores
        In the order of the sheet.
    shared
        What cores share with another register, by position in ``cores``.
    account
        Gains the rows of all three sheets.
    """
    with xlsxwriter.Workbook(folder / FILE) as book:
        book.set_properties({"author": "Harbour Cutters (invented)", "created": dt.datetime(2026, 9, 30, 16, 0)})  # noqa: DTZ001 a document's own time has no zone
        _write_rates(book, account)
        _write_old(book, account)
        sheet = Sheet(book, book.add_worksheet(SHEET))
        _write_cores(sheet, cores, shared, account)


def _write_rates(book: xlsxwriter.Workbook, account: Account) -> None:
    rates = book.add_worksheet("Rates")
    for row, cells in enumerate(_RATES):
        rates.write_row(row, 0, cells)
        account.others.append(NoCore(REGISTER, FILE, "Rates", row + 1, "rate card", _joined(cells)))


def _write_old(book: xlsxwriter.Workbook, account: Account) -> None:
    """Write the hidden sheet: cores of the year before, under the same names of columns."""
    old = book.add_worksheet("old")
    old.hide()
    old.write_row(0, 0, COLUMNS)
    account.others.append(NoCore(REGISTER, FILE, "old", 1, "hidden sheet", _joined(COLUMNS)))
    day = book.add_format({"num_format": "mm/dd/yyyy"})
    for row in range(1, 13):
        cut = dt.date(2025, 4, 7) + dt.timedelta(days=16 * row)
        cells = [f"HC-9{row:03d}", "Mill Street", 18, 8, 1329000 + 31 * row, 16278100 + 9 * row]
        old.write_row(row, 0, cells)
        old.write_datetime(row, 6, cut, day)
        old.write_datetime(row, 7, cut + dt.timedelta(days=3), day)
        account.others.append(NoCore(REGISTER, FILE, "old", row + 1, "hidden sheet", _joined(cells)))


def _joined(cells: tuple[object, ...] | list[object]) -> str:
    return " | ".join(str(cell) for cell in cells if cell != "")


def _write_cores(sheet: Sheet, cores: list[Core], shared: dict[int, str], account: Account) -> None:
    """Write the sheet of cores from the titles to the footer."""
    others: list[tuple[int, str, str]] = [*write_titles(sheet), *write_head(sheet, FIRST_ROW, "header")]
    row = FIRST_ROW + 3
    to_feet = pyproj.Transformer.from_crs("EPSG:4326", _CRS_FEET, always_xy=True)
    totals: list[int] = []
    numbered = list(enumerate(cores, start=1))
    for month, group in groupby(numbered, key=lambda pair: pair[1].opened.month):
        start = row
        members = list(group)
        for number, core in members:
            feet = to_feet.transform(core.site.lon, core.site.lat)
            tricks = [shared[number - 1]] if number - 1 in shared else []
            told = _write_core(sheet, row, number, core, feet, tricks)
            account.cores.append(told)
            row += 1
        named = "" if month in _SUBTOTAL_ONLY else f"Total {calendar.month_name[month]}"
        others.append(write_total(sheet, row, named, start, [core for at, core in members if at != _ID_ONLY]))
        totals.append(row)
        others.append((row + 1, "blank", ""))
        row += 2
        if month in _HEAD_AGAIN_AFTER:
            others += write_head(sheet, row, "repeated header", with_units=False)
            row += 2
    others += write_grand_total(sheet, row, totals, [core for at, core in numbered if at != _ID_ONLY])
    others += write_footer(sheet, row + 1)
    sheet.finish(FIRST_ROW + 1, row)
    account.others += [NoCore(REGISTER, FILE, SHEET, at + 1, why, text) for at, why, text in others]


def _write_core(sheet: Sheet, row: int, number: int, core: Core, feet: tuple[float, float], tricks: list[str]) -> Told:
    """Write one core and return what its row tells."""
    if number == _ID_ONLY:
        sheet.page.write_string(row, 0, core.core_id)
        return Told(core.number, REGISTER, FILE, SHEET, row + 1, core.core_id, tricks="id only")
    written_id = "" if number == _NO_ID else core.core_id
    tricks += ["no id"] * (number == _NO_ID)
    if core.done and core.site.shade == "pale":
        sheet.page.set_row(row, None, None, {"hidden": True})
        tricks.append(_PALE_HIDDEN)
    cells = write_core_cells(sheet, row, number, core, written_id, feet)
    instant = cells.done_at.replace(tzinfo=_OFFICE_ZONE).isoformat(timespec="minutes") if cells.done_at else None
    told = told_of(core, 0.05, tricks + cells.tricks, instant)
    if core.done:
        told |= {"water_l": f"{cells.gallons * GALLON_L:.3f}"}
        told |= {"temperature_c": "" if cells.is_error else f"{(core.fahrenheit - 32) / 1.8:.2f}"}
    return Told(core.number, REGISTER, FILE, SHEET, row + 1, written_id, **told)
