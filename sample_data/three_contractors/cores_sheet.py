"""The cells of the sheet "Cores 2026": titles, a head of two rows, cores, totals and footers."""

import datetime as dt
from dataclasses import dataclass, field
from typing import Any, NamedTuple

import xlsxwriter
from drawn_cores import GALLON_L, Core
from xlsxwriter.utility import xl_rowcol_to_cell
from xlsxwriter.worksheet import Worksheet

__all__ = [
    "COLUMNS", "FIRST_ROW", "SHEET", "CoreCells", "Sheet", "write_core_cells", "write_footer", "write_grand_total",
    "write_head", "write_titles", "write_total",
]  # fmt: skip

SHEET = "Cores 2026"
# the row of the head's upper line, counted from 0
FIRST_ROW = 3
COLUMNS = (
    "No.", "Street", "Ø (in)", "Depth (in)", "Easting", "Northing", "Cut", "Put back", "Crew", "Weight", "Bags",
    "Shade", "Water (gal)", "Temp °F", "Permit", "Remarks",
)  # fmt: skip
_DIA, _DEPTH, _EASTING, _NORTHING, _CUT, _DONE = 2, 3, 4, 5, 6, 7
_CREW, _WEIGHT, _BAGS, _SHADE, _WATER, _TEMP, _PERMIT, _REMARKS = range(8, 16)
# the upper line of the head: first and last column, words; every other column has its name in the upper line
_GROUPS = ((2, 3, "Core"), (4, 5, "Position"), (6, 7, "Dates"), (9, 11, "Grout"))
_UNITS = {_EASTING: "ft", _NORTHING: "ft", _CUT: "mm/dd/yyyy", _DONE: "mm/dd/yyyy", _WEIGHT: "lb"}
_TITLES = ("Harbour Cutters: cores in Harbour Vale, 2026", "Positions: NAD83, zone 17, US survey feet")
_FOOTERS = (
    ("Checked by", "T. Nobody", ""),
    ("____________________", "", "signature and date"),
    ("Legend: dark = asphalt, pale = concrete; Ø is the hole as cut", "", ""),
)
_POUNDS_PER_BAG = 50
_ERROR_AT = 23
_SPREADSHEET_EPOCH = dt.datetime(1899, 12, 30)  # noqa: DTZ001 a spreadsheet's day has no zone

Row = tuple[int, str, str]


@dataclass
class Sheet:
    """The sheet while it is written, with its formats."""

    book: xlsxwriter.Workbook
    page: Worksheet
    formats: dict[str, Any] = field(default_factory=dict)

    def __post_init__(self) -> None:
        looks = {
            "head": {"bold": True, "align": "center", "border": 1},
            "title": {"bold": True, "font_size": 14},
            "total": {"bold": True, "top": 1},
            "day": {"num_format": "mm/dd/yyyy"},
            "time": {"num_format": "mm/dd/yyyy hh:mm"},
            "feet": {"num_format": "#,##0.00"},
        }
        self.formats = {name: self.book.add_format(look) for name, look in looks.items()}

    def finish(self, first: int, last: int) -> None:
        """Filter the pale cores away, hide the weights and set the widths."""
        self.page.autofilter(first, 0, last, len(COLUMNS) - 1)
        self.page.filter_column_list(_SHADE, ["dark", "Shade", "Blanks"])
        self.page.set_column(0, len(COLUMNS) - 1, 13)
        self.page.set_column(_WEIGHT, _WEIGHT, 13, None, {"hidden": True})
        self.page.freeze_panes(FIRST_ROW + 2, 1)


class CoreCells(NamedTuple):
    """What was written of a core: the time at which it was put back, where given; the US gallons of water."""

    done_at: dt.datetime | None
    gallons: float
    is_error: bool
    tricks: list[str]


def write_titles(sheet: Sheet) -> list[Row]:
    """Write two title rows and leave one blank."""
    for row, text in enumerate(_TITLES):
        sheet.page.write_string(row, 0, text, sheet.formats["title"])
    return [*((row, "title", text) for row, text in enumerate(_TITLES)), (2, "blank", "")]


def write_head(sheet: Sheet, row: int, why: str, *, with_units: bool = True) -> list[Row]:
    """Write the head of two rows with its merged cells, and the units beneath those columns whose name has none."""
    look = sheet.formats["head"]
    grouped = {column for first, last, _ in _GROUPS for column in range(first, last + 1)}
    for first, last, text in _GROUPS:
        sheet.page.merge_range(row, first, row, last, text, look)
    for column, name in enumerate(COLUMNS):
        if column in grouped:
            sheet.page.write_string(row + 1, column, name, look)
        else:
            sheet.page.merge_range(row, column, row + 1, column, name, look)
    lower = " | ".join(COLUMNS[column] for column in sorted(grouped))
    written = [(row, why, " | ".join(text for *_, text in _GROUPS)), (row + 1, why, lower)]
    if with_units:
        for column, unit in _UNITS.items():
            sheet.page.write_string(row + 2, column, unit)
        written.append((row + 2, "units", " | ".join(_UNITS.values())))
    return written


def write_core_cells(
    sheet: Sheet, row: int, number: int, core: Core, core_id: str, feet: tuple[float, float]
) -> CoreCells:
    """Write the cells of one core; ``number`` decides which of them are typed oddly."""
    page, tricks = sheet.page, list[str]()

    def put(column: int, value: float, every: int, after: str = "") -> None:
        """Write a number, as text in each row whose number divides by ``every``."""
        if number % every == 0:
            tricks.append("text number")
            page.write_string(row, column, f"{value:.2f}".rstrip("0").rstrip(".") + after)
        else:
            page.write_number(row, column, value, sheet.formats["feet"] if column in (_EASTING, _NORTHING) else None)

    if core_id:
        page.write_string(row, 0, core_id + " " * (number % 8 == 0))
    page.write_string(row, 1, core.site.street + "  " * (number % 10 == 0))
    tricks += ["trailing space"] * (number % 8 == 0 or number % 10 == 0)
    inches = core.diameter_mm / 25.4
    if round(inches, 1) == 17.5:
        page.write_string(row, _DIA, '17 1/2"' if number % 2 else "17 1/2")
        tricks.append("fraction")
    else:
        put(_DIA, round(inches, 2), 7)
    put(_DEPTH, round(core.depth_mm / 25.4, 2), 11, " ")
    put(_EASTING, round(feet[0], 2), 9, "\N{NO-BREAK SPACE}")
    put(_NORTHING, round(feet[1], 2), 9, "\N{NO-BREAK SPACE}")
    page.write_string(row, _CREW, f"Saw {'ABC'[number % 3]}")
    if number % 4:
        page.write_string(row, _PERMIT, f"P-{2600 + number}")
    cut = dt.datetime.combine(core.opened, dt.time())
    if number % 6 == 0:
        page.write_number(row, _CUT, (cut - _SPREADSHEET_EPOCH).days)
        tricks.append("serial date")
    else:
        page.write_datetime(row, _CUT, cut, sheet.formats["day"])
    if core.done is None:
        page.write_string(row, _REMARKS, "plate on, waiting")
        return CoreCells(None, 0, is_error=False, tricks=tricks)
    done_at = _write_done(sheet, row, number, core.done, tricks)
    gallons = round(2 * core.bags / GALLON_L, 2)
    _write_reinstatement(sheet, row, core)
    page.write_number(row, _WATER, gallons)
    if number == _ERROR_AT:
        page.write_formula(row, _TEMP, "=NA()", None, "#N/A")
        tricks.append("error cell")
    else:
        put(_TEMP, core.fahrenheit, 13, " ")
    return CoreCells(done_at, gallons, number == _ERROR_AT, tricks)


def _write_done(sheet: Sheet, row: int, number: int, done: dt.date, tricks: list[str]) -> dt.datetime | None:
    """Write when a core was put back: a day, a day and a time, or the serial number of either."""
    hour = dt.time(9 + number % 6, 30) if number % 5 == 0 else dt.time()
    at = dt.datetime.combine(done, hour)
    since = at - _SPREADSHEET_EPOCH
    if number % 10 in (0, 3):
        sheet.page.write_number(row, _DONE, since.days + since.seconds / 86400)
        tricks.append("serial date")
    else:
        sheet.page.write_datetime(row, _DONE, at, sheet.formats["time" if hour.hour else "day"])
    if not hour.hour:
        return None
    tricks.append("time of day")
    return at


def _write_reinstatement(sheet: Sheet, row: int, core: Core) -> None:
    """Write shade, weight of grout and, by a formula, the bags."""
    sheet.page.write_string(row, _SHADE, core.site.shade)
    sheet.page.write_number(row, _WEIGHT, round(core.bags * _POUNDS_PER_BAG, 1))
    weight = xl_rowcol_to_cell(row, _WEIGHT)
    sheet.page.write_formula(row, _BAGS, f"=ROUND({weight}/Rates!$D$6,1)", None, core.bags)


def write_total(sheet: Sheet, row: int, named: str, start: int, cores: list[Core]) -> Row:
    """Write the total of a month below its cores: named in the first column, or as "Subtotal" beside the bags."""
    look = sheet.formats["total"]
    bags = round(sum(core.bags for core in cores if core.done), 1)
    gallons = round(sum(round(2 * core.bags / GALLON_L, 2) for core in cores if core.done), 2)
    counted = f"{len(cores)} cores"
    if named:
        sheet.page.write_string(row, 0, named, look)
        sheet.page.write_string(row, 1, counted, look)
    else:
        sheet.page.write_string(row, _CREW, "Subtotal", look)
    for column, total in ((_BAGS, bags), (_WATER, gallons)):
        span = f"{xl_rowcol_to_cell(start, column)}:{xl_rowcol_to_cell(row - 1, column)}"
        sheet.page.write_formula(row, column, f"=SUM({span})", look, total)
    return (row, "total", f"{named} | {counted}" if named else "Subtotal")


def write_grand_total(sheet: Sheet, row: int, totals: list[int], cores: list[Core]) -> list[Row]:
    """Write the total of the year, the sum of the months' totals."""
    sheet.page.write_string(row, 0, "Total 2026", sheet.formats["total"])
    summed = "+".join(xl_rowcol_to_cell(total, _BAGS) for total in totals)
    bags = round(sum(core.bags for core in cores if core.done), 1)
    sheet.page.write_formula(row, _BAGS, f"={summed}", sheet.formats["total"], bags)
    return [(row, "total", "Total 2026")]


def write_footer(sheet: Sheet, row: int) -> list[Row]:
    """Leave a row blank and write who checked the sheet, a line to sign on and a legend."""
    written: list[Row] = [(row, "blank", "")]
    for at, cells in enumerate(_FOOTERS, start=row + 1):
        for column, text in enumerate(cells):
            if text:
                sheet.page.write_string(at, column, text)
        written.append((at, "footer or note", " | ".join(text for text in cells if text)))
    return written
