"""A first look at a file: which sheet, delimiter and row hold the header, before any column is known."""

import csv
import io
import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Final, NamedTuple

from python_calamine import CalamineError, CalamineWorkbook, SheetTypeEnum, SheetVisibleEnum

from pipeline.errors import InputError
from pipeline.intake.files.delimited import read_csv
from pipeline.intake.files.encodings import as_utf8, with_line_feeds
from pipeline.intake.files.header_rows import ANY_TABLE, Wanted
from pipeline.intake.files.layers import read_raw
from pipeline.intake.files.odd_rows import DELIMITERS
from pipeline.intake.files.tables import RawTable
from pipeline.intake.files.workbook_limits import refuse_unusable
from pipeline.intake.files.workbooks import read_sheet
from pipeline.programme.settings import Cores
from pipeline.propose.header_words import claims
from pipeline.propose.questions import one_line

__all__ = ["SHEETS", "TEXTS", "Header", "Look", "best_header", "columns_key", "first_look"]

TEXTS: Final = (".csv", ".tsv", ".txt")
SHEETS: Final = (".xlsx", ".xlsm", ".xls", ".xlsb", ".ods")
# a header is searched for in so many rows, and its first names in so many bytes of a text
_SEARCHED_ROWS: Final = 200
_SEARCHED_BYTES: Final = 1 << 18
# fewer known names may be cells of a row by chance
_FEWEST_NAMES: Final = 2
# a row with so many numbers and dates holds data
_MOST_NUMBERS: Final = 0.3
# without these, the words of headers are too few to tell registers apart
_NEEDED: Final = frozenset({"core_id", "diameter", "depth"})
_NAMES_SHOWN: Final = 5
_NUMBER: Final = re.compile(r"[+-]?[0-9][0-9.,:/ -]*")


@dataclass
class Look:
    """What a file holds, with the settings that it was read with.

    ``sheet``: None if it needs no name. ``delimiter``, ``encoding``: of a text. ``is_certain``: names of columns were
    recognised in the header. ``candidates``: other sheets whose header is as good. ``alike``: the sheets that hold the
    same columns, this one among them, in the order of the workbook; none where it is the only one.
    """

    table: RawTable
    sheet: str | None = None
    delimiter: str | None = None
    encoding: str | None = None
    is_certain: bool = True
    candidates: list[str] = field(default_factory=list)
    alike: list["Look"] = field(default_factory=list)
    others: list[str] = field(default_factory=list)


def first_look(path: Path, label: str, words: dict[str, list[str]]) -> Look:
    """Return what a register holds, its header found by the words that headers use.

    Raises
    ------
    InputError
        The file cannot be read, or holds no table.
    """
    if not path.exists():
        raise InputError(f"{label}: no such file (looked for {path}). Correct --from.")
    suffix = path.suffix.lower()
    if suffix in TEXTS:
        return _refuse_without_header(_look_at_text(path, label, words), label)
    if suffix in SHEETS:
        return _refuse_without_header(_look_at_workbook(path, label, words), label)
    return Look(read_raw(Cores(path=path.name), path.parent, "cores", None))


class Header(NamedTuple):
    """A row that names columns: its number from 0, how well it does, and the cells that do."""

    row: int
    score: int
    names: list[str]


def best_header(rows: Iterable[Sequence[str]], words: dict[str, list[str]]) -> Header:
    """Return the row that names most columns, the first in a tie; a name that is equal to a word counts twice."""
    best = Header(0, 0, [])
    for number, cells in enumerate(rows):
        if _holds_data(cells):
            continue
        found: dict[str, tuple[int, str]] = {}
        for cell in cells:
            # a sentence is no name
            for claim in claims(cell, words)[:1] if 0 < len(cell) <= 60 else ():
                weight = 2 if claim.is_equal else 1
                if weight > found.get(claim.column, (0, ""))[0]:
                    found[claim.column] = (weight, cell)
        score = sum(weight for weight, _ in found.values())
        if len(found) >= _FEWEST_NAMES and score > best.score:
            best = Header(number, score, [cell for _, cell in found.values()])
    return best


def _holds_data(cells: Sequence[str]) -> bool:
    """Return whether a row holds too many numbers and dates for a header."""
    filled = [cell.strip() for cell in cells if cell.strip()]
    return sum(_NUMBER.fullmatch(cell) is not None for cell in filled) > _MOST_NUMBERS * len(filled)


def _refuse_without_header(look: Look, label: str) -> Look:
    """Stop where the row that was taken for the header holds data: a core would be lost with it."""
    headers = list(look.table.frame.columns)
    if not look.is_certain and _holds_data(headers):
        shown = ", ".join(one_line(header) for header in headers[:_NAMES_SHOWN])
        raise InputError(
            f"{label}: no header was found; the first row holds {shown}. Add a row above it that names the columns."
        )
    return look


def _look_at_text(path: Path, label: str, words: dict[str, list[str]]) -> Look:
    notices: list[str] = []
    text = with_line_feeds(as_utf8(path.read_bytes(), label, None, notices), label, [])
    sample = text[:_SEARCHED_BYTES].decode("utf-8", errors="ignore")
    found = []
    for mark in DELIMITERS:
        records = _records(sample, mark)
        found.append((best_header(records, words), max((len(record) for record in records), default=0), mark))
    head, width, mark = max(found, key=lambda one: (one[0].score, one[1]))
    wanted = Wanted(needed=tuple((name,) for name in head.names))
    table = read_csv(path, label, None, mark if width > 1 else None, wanted)
    is_legacy = any("not UTF-8, read as Windows-1252" in notice for notice in notices)
    return Look(
        table,
        delimiter=mark if width > 1 else None,
        encoding="cp1252" if is_legacy else None,
        is_certain=head.score > 0,
    )


def _records(sample: str, mark: str) -> list[list[str]]:
    """Return the first records of a text."""
    records = []
    try:
        for record in csv.reader(io.StringIO(sample), delimiter=mark):
            records.append([cell.strip() for cell in record])
            if len(records) >= _SEARCHED_ROWS:
                break
    except csv.Error:
        # an open quotation mark: what was read before it may hold the header
        pass
    return records


def _look_at_workbook(path: Path, label: str, words: dict[str, list[str]]) -> Look:
    """Return the visible sheet whose header names most columns."""
    refuse_unusable(path, label)
    try:
        sheets = CalamineWorkbook.from_path(str(path)).sheets_metadata
    except (CalamineError, OSError, ValueError) as error:
        raise InputError(f"{label}: cannot be read as a workbook ({error}). Save it again as .xlsx or CSV.") from error
    visible = [
        sheet.name
        for sheet in sheets
        if sheet.visible == SheetVisibleEnum.Visible and sheet.typ == SheetTypeEnum.WorkSheet
    ]
    found = []
    problem: InputError | None = None
    for name in visible:
        try:
            table = read_sheet(path, label, name, ANY_TABLE)
        except InputError as error:
            problem = error
            continue
        rows = [list(table.frame.columns), *table.frame.head(_SEARCHED_ROWS).fillna("").to_numpy().tolist()]
        found.append((best_header(rows, words), name, table))
    if not found:
        raise problem or InputError(
            f"{label}: no visible sheet holds a table; expected one row per core. Give a workbook with a register for "
            "--from."
        )
    head = max((one[0] for one in found), key=lambda one: one.score)
    looks = {}
    for other, name, table in found:
        if other is head or (head.score and other.score * 4 >= head.score * 3):
            if other.row > 0 and other.score:
                wanted = Wanted(needed=tuple((cell,) for cell in other.names))
                read = read_sheet(path, label, name, wanted)
            else:
                read = table
            looks[name] = Look(read, sheet=name if len(sheets) > 1 else None, is_certain=head.score > 0)
    best = next(name for other, name, _ in found if other is head)
    look = looks[best]
    own = columns_key(look.table, words)
    alike = [name for name, one in looks.items() if head.score and columns_key(one.table, words) == own]
    look.candidates = [name for name in looks if name != best and name not in alike]
    look.alike = [looks[name] for name in alike] if len(alike) > 1 else []
    look.others = [name for _, name, _ in found if name != best and name not in alike]
    return look


def columns_key(table: RawTable, words: dict[str, list[str]]) -> object:
    """Return what two tables of one register have in common: the headers that mean something, and their units.

    Remarks and what is written in the margin do not count. Where the headers are of another language, all count.
    """
    meant = {name.casefold(): one for name in map(str, table.frame.columns) if (one := claims(name, words)[:1])}
    if not {claim.column for ones in meant.values() for claim in ones} >= _NEEDED:
        return frozenset(name.casefold() for name in map(str, table.frame.columns))
    units = {name.casefold(): unit for name, unit in table.header_units.items()}
    return frozenset((name, units.get(name)) for name, (claim,) in meant.items() if claim.column != "remarks")
