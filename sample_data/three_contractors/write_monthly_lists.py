"""The monthly lists of Vale Reinstatement: text files with semicolons, each month a little different."""

import csv
import io
from dataclasses import dataclass, field
from pathlib import Path

from accounts import Account, NoCore, Told, told_of
from drawn_cores import Core

__all__ = ["write_monthly_lists"]

REGISTER, FOLDER = "vale_reinstatement", "vale_reinstatement"
_COLUMNS = (
    "No.", "Street", "Opened", "Reinstated", "Easting", "Northing", "Ø", "Depth", "Bags", "Shade", "Crew", "Remarks",
)  # fmt: skip
_COLUMNS_IN_AUGUST = (
    "No.", "Opened", "Reinstated", "Crew", "Ø", "Depth", "Northing", "Easting", "Street", "Shade", "Bags", "Remarks",
)  # fmt: skip
# text as written with a decimal point, millimetres
_DIAMETERS = (
    ("1'6\"", 457.2), ("0.46 m", 460.0), ('18"', 457.2), ("450 mm", 450.0), ("1.5 ft", 457.2), ("1' 6\"", 457.2),
    ("2'", 609.6),
)  # fmt: skip
_DEPTHS = (('8"', 203.2), ("0.2 m", 200.0), ("0'10\"", 254.0), ("1'", 304.8), ("0.25 m", 250.0), ("150 mm", 150.0))
# the second names that some streets have
_SECOND_NAMES = {
    "Mill Street": "Mühlgasse", "Meadow Street": "rue du Pré", "Anchor Avenue": "Ankerstraße",
    "Oat Street": "Haferstraße", "Harbour Road": "quai de l'Écluse",
}  # fmt: skip
# a core with nothing but its number, by month and number in the month
_ID_ONLY = (9, 14)
# a remark of two lines, by month and number in the month
_LONG_REMARK = {(7, 6): "plate rattled\nreset at night", (8, 11): "beside a tree\nroots cut by the town"}


@dataclass
class TextFile:
    """The lines of one list while it is made; a row may take more than one line."""

    name: str
    width: int
    quoting: int = csv.QUOTE_MINIMAL
    text: io.StringIO = field(default_factory=io.StringIO)
    others: list[NoCore] = field(default_factory=list)

    def line(self) -> int:
        """Return the number of the line that is written next."""
        return self.text.getvalue().count("\n") + 1

    def add(self, cells: list[str]) -> int:
        """Write a row and return the line on which it begins."""
        at = self.line()
        quotes = {"quotechar": None} if self.quoting == csv.QUOTE_NONE else {}
        csv.writer(self.text, delimiter=";", quoting=self.quoting, lineterminator="\n", **quotes).writerow(cells)
        return at

    def add_other(self, why: str, cells: list[str]) -> None:
        """Write a row that holds no core."""
        text = " | ".join(cell for cell in cells if cell)
        file = f"{FOLDER}/{self.name}"
        self.others.append(NoCore(REGISTER, file, "", self.line(), why, text))
        if cells:
            self.add(cells)
        else:
            self.text.write("\n")


def write_monthly_lists(folder: Path, cores: list[Core], account: Account) -> None:
    """Write the three lists and account for each of their lines."""
    writers = {7: _end_july, 8: _end_august, 9: _end_september}
    for month, end in writers.items():
        of_month = [core for core in cores if core.opened.month == month]
        columns = _COLUMNS_IN_AUGUST if month == 8 else _COLUMNS
        # software that never quotes writes the list of September
        quoting = csv.QUOTE_NONE if month == 9 else csv.QUOTE_MINIMAL
        text = TextFile(f"2026-{month:02d}.csv", len(columns), quoting)
        _begin(text, month, list(columns))
        bags = 0.0
        for number, core in enumerate(of_month, start=1):
            told, written = _write_core(text, month, number, core, columns)
            account.cores.append(told)
            bags += written
            if number % 7 == 0:
                text.add_other("blank", [""] * (len(columns) if number % 2 else 5))
        account.others += text.others
        total = f"{bags:.1f}".replace(".", "," if month < 9 else ".")
        text.others.clear()
        _add_total(text, month, len(of_month), total, columns)
        end(text)
        account.others += text.others
        data = text.text.getvalue().replace("\n", "\r\n").encode("cp1252")
        (folder / FOLDER / text.name).write_bytes(data)


def _begin(text: TextFile, month: int, columns: list[str]) -> None:
    """Write what stands above the cores."""
    title = f"Vale Reinstatement - cores of {month:02d}/2026"
    text.add_other("title", [title] + [""] * (text.width - 1) * (month == 7))
    if month == 9:
        text.add_other("title", ["Positions: WGS 84 / UTM zone 17N"])
        text.add_other("blank", [])
    text.add_other("header", columns)


def _add_total(text: TextFile, month: int, count: int, total: str, columns: tuple[str, ...]) -> None:
    """Write the line of totals: in July and August in the first column, in September beside the bags."""
    cells = [""] * len(columns)
    at = columns.index("Bags")
    cells[at] = total
    if month == 9:
        cells[at - 1] = "Sum"
    else:
        cells[0] = "Total" if month == 7 else f"{count} cores"
    text.add_other("total", cells)


def _end_july(text: TextFile) -> None:
    text.add_other("blank", [""] * text.width)


def _end_august(text: TextFile) -> None:
    text.add_other("blank", [])
    text.add_other("footer or note", ["Printed by the Vale office", "", "01/09/2026"])


def _end_september(text: TextFile) -> None:
    text.add_other("blank", [""] * 5)
    text.add_other("footer or note", ["Checked by: N. N."])


def _number(value: float, month: int) -> str:
    """Return a coordinate as the month's office computer writes it: 405.093,25, 405 093,25 or 405093.25."""
    plain = f"{value:,.2f}"
    if month == 7:
        return plain.translate(str.maketrans(",.", ".,"))
    if month == 8:
        return plain.translate(str.maketrans(",.", "\N{NO-BREAK SPACE},"))
    return plain.replace(",", "")


def _write_core(text: TextFile, month: int, number: int, core: Core, columns: tuple[str, ...]) -> tuple[Told, float]:
    """Write one core; return what its line tells, and its bags."""
    file = f"{FOLDER}/{text.name}"
    if (month, number) == _ID_ONLY:
        at = text.add([core.core_id, "", "", "", ""])
        return Told(core.number, REGISTER, file, "", at, core.core_id, tricks="id only"), 0
    diameter, core.diameter_mm = _DIAMETERS[(number * 3 + month) % len(_DIAMETERS)]
    depth, core.depth_mm = _DEPTHS[(number * 5 + month) % len(_DEPTHS)]
    comma = str.maketrans(".", ",") if month < 9 else {}
    second = _SECOND_NAMES.get(core.site.street, "") if number % 2 else ""
    cells = {
        "No.": core.core_id,
        "Street": f"{core.site.street} ({second})" if second else core.site.street,
        "Opened": f"{core.opened:%d/%m/%Y}",
        "Reinstated": f"{core.done:%d/%m/%Y}" if core.done else "",
        "Easting": _number(core.site.x, month),
        "Northing": _number(core.site.y, month),
        "Ø": diameter.translate(comma),
        "Depth": depth.translate(comma),
        "Bags": f"{core.bags:.1f}".translate(comma) if core.done else "",
        "Shade": core.site.shade if core.done else "",
        "Crew": f"Vale {'12'[number % 2]}",
        "Remarks": _LONG_REMARK.get((month, number), ""),
    }
    at = text.add([cells[column] for column in columns])
    tricks = ["two lines"] * bool(cells["Remarks"]) + ["accent in street"] * bool(second)
    tricks += ["feet and inches"] * ("'" in diameter + depth) + ["decimal comma"] * (month < 9)
    told = told_of(core, 0.05, tricks)
    return Told(core.number, REGISTER, file, "", at, core.core_id, **told), core.bags if core.done else 0
