"""Tables as text: CSV files and workbooks, and the raw table that every format is read into."""

import codecs
import csv
import io
import re
import sqlite3
from contextlib import closing
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, Final

import numpy as np
import numpy.typing as npt
import pandas as pd
import pyarrow as pa
from pyarrow import csv as arrow_csv
from pyproj import CRS
from python_calamine import CalamineError, CalamineWorkbook

from pipeline.contracts import no_text
from pipeline.errors import InputError, SettingsError
from pipeline.intake.files.conditions import confine

__all__ = ["RawTable", "as_text", "read_csv", "read_sheet", "select_rows", "unique_names"]

_MAGIC: Final = {
    b"PK\x03\x04": "a zip archive or an .xlsx workbook",
    b"SQLite format 3": "an SQLite file such as a GeoPackage",
    b"\xd0\xcf\x11\xe0": "an old spreadsheet (.xls)",
    b"%PDF": "a PDF",
    b"\x89PNG": "a picture",
    b"\xff\xd8\xff": "a picture",
    b"\x1f\x8b": "a gzip archive",
    b"PAR1": "a Parquet file",
    b"fgb\x03": "a FlatGeobuf file",
    b"\x7fELF": "a program",
}
# a file with more than one control character in this many is not text
_CONTROL_SHARE: Final = 1000


@dataclass
class RawTable:
    """What a file holds, before anything is interpreted.

    ``frame``: N rows of attributes, as text. ``rows``: N 1-based data rows of the file. ``geometry``: N geometries, or
    None for a table without geometry. ``ragged``: N texts that describe how the fields of a row do not fit the header,
    missing where they do. ``rows_in_file``: number of rows before any ``where``. ``fields``: names of all columns of
    the file, where only some were read. ``places``: N numbers of the row of the sheet or the line of the text, as a
    person finds it in the file; None where a format has none. ``set_aside``: the rows that hold no core, with their
    ``place``, ``reason`` and ``text``. ``header_units``: unit by column, from a units row. ``stored_as_number``: truth
    by cell of ``frame``, or None: the workbook stores a number. ``is_1904``: it counts days from 1904. ``sha256``: of
    the file as it was read.
    """

    frame: pd.DataFrame
    rows: npt.NDArray[np.int64]
    rows_in_file: int
    label: str
    geometry: npt.NDArray[np.object_] | None = None
    crs: CRS | None = None
    ragged: pd.Series | None = None
    notices: list[str] = field(default_factory=list)
    fields: list[str] = field(default_factory=list)
    places: npt.NDArray[np.int64] | None = None
    set_aside: pd.DataFrame = field(
        default_factory=lambda: pd.DataFrame(columns=["place", "reason", "text"], dtype="str")
    )
    header_units: dict[str, str] = field(default_factory=dict)
    stored_as_number: pd.DataFrame | None = None
    is_1904: bool = False
    sha256: str = ""


def read_csv(path: Path, label: str, encoding: str | None, delimiter: str | None) -> RawTable:
    """Return a delimited text file in UTF-8, UTF-16 or a legacy encoding.

    Raises
    ------
    InputError
        The file is not text, is empty, has no data rows, or has a quotation mark that is never closed.
    SettingsError
        There is no such encoding.
    """
    raw = path.read_bytes()
    notices: list[str] = []
    text = _decode(raw, label, encoding, notices).lstrip("\r\n")
    if "\n" not in text:
        text = text.replace("\r", "\n")
    declared = re.match(r"sep=(.)\r?\n", text)
    if declared:
        # a first line for spreadsheets, which names the delimiter and is not the header
        text, delimiter = text[declared.end() :], delimiter or declared[1]
    if not text.strip():
        raise InputError(f"{label}: the file is empty; expected a header line and one line per core. Export it again.")
    mark = delimiter or _delimiter(text.split("\n", 1)[0])
    # a quoted heading may span several lines
    lines = io.StringIO(text)
    names = unique_names(next(csv.reader(lines, delimiter=mark)), label, notices)
    body = lines.read()
    if not body.strip():
        raise InputError(f"{label}: a header and no rows; expected one line per core. Export it again.")

    odd: list[tuple[int, str]] = []

    def set_aside(row: Any) -> str:  # noqa: ANN401 - pyarrow names no type for it
        odd.append((row.number - 1, row.text))
        return "skip"

    try:
        table = arrow_csv.read_csv(
            io.BytesIO(body.encode()),
            # a row that does not fit has its number only if a single thread reads
            read_options=arrow_csv.ReadOptions(use_threads=False, column_names=names),
            parse_options=arrow_csv.ParseOptions(
                delimiter=mark, newlines_in_values=True, invalid_row_handler=set_aside
            ),
            convert_options=arrow_csv.ConvertOptions(
                column_types=dict.fromkeys(names, pa.string()),
                strings_can_be_null=True,
                null_values=[""],
                quoted_strings_can_be_null=True,
            ),
        )
    except pa.ArrowInvalid as error:
        raise InputError(
            f"{label}: cannot be read as a table ({error}); expected one line per core and one delimiter throughout "
            f"({mark!r} was used). Set cores.delimiter, or export the file again."
        ) from error
    frame, ragged = _with_odd_rows(table.to_pandas(), odd, mark)
    _refuse_open_quotes(frame, mark, label)
    return RawTable(frame, np.arange(1, len(frame) + 1), len(frame), label, ragged=ragged, notices=notices)


def _decode(raw: bytes, label: str, encoding: str | None, notices: list[str]) -> str:
    """Return the text of a file, in the encoding set or else found."""
    for magic, kind in _MAGIC.items():
        if raw.startswith(magic):
            raise InputError(
                f"{label}: this is {kind}, not text. Give the file its proper extension, or export it as CSV."
            )
    if encoding is not None:
        try:
            return raw.decode(encoding).removeprefix("\ufeff")
        except LookupError as error:
            raise SettingsError(
                f'cores.encoding: found {encoding!r}, expected an encoding such as "utf-8". Correct it.'
            ) from error
        except UnicodeDecodeError as error:
            raise InputError(
                f"{label}: byte {error.start:,} is not {encoding}. Set cores.encoding to the file's encoding."
            ) from error
    if raw.startswith((codecs.BOM_UTF16_LE, codecs.BOM_UTF16_BE)):
        text = raw.decode("utf-16", errors="replace")
    else:
        try:
            text = raw.decode("utf-8-sig")
        except UnicodeDecodeError:
            # bytes that Windows-1252 does not define become replacement characters: one letter must not lose a row
            text = raw.decode("cp1252", errors="replace")
            notices.append(f"{label}: not UTF-8, read as Windows-1252. Set cores.encoding if letters look wrong.")
    controls = len(re.findall(r"[\x00-\x08\x0e-\x1f]", text))
    if controls * _CONTROL_SHARE > len(text):
        raise InputError(f"{label}: this is a binary file, not text. Export it as CSV.")
    # other programs end a text at a NUL
    return text.replace("\x00", "\N{REPLACEMENT CHARACTER}") if controls else text


def _delimiter(header: str) -> str:
    """Return the most frequent delimiter of a header line, outside quotation marks."""
    unquoted = re.sub(r'"[^"]*"', "", header)
    return max((",", ";", "\t", "|"), key=unquoted.count)


def unique_names(names: list[str], label: str, notices: list[str]) -> list[str]:
    """Return a unique name for every column; one that is blank or taken gets a number."""
    taken: dict[str, None] = {}
    unique = []
    for number, name in enumerate((" ".join(name.split()) for name in names), start=1):
        free = name or f"column {number}"
        # for databases "ID" and "id" are the same name
        while free.casefold() in taken:
            free = f"{free}.{number}"
        if free != name:
            why = f"has the name of an earlier column, {name!r}" if name else "has no name"
            notices.append(f"{label}: column {number} {why}; it is read as {free!r}.")
        taken[free.casefold()] = None
        unique.append(free)
    return unique


def _with_odd_rows(frame: pd.DataFrame, odd: list[tuple[int, str]], mark: str) -> tuple[pd.DataFrame, pd.Series]:
    """Return the table with the rows that do not fit the header back in order, and what is odd about each."""
    if not odd:
        return frame, no_text(frame.index)
    width = len(frame.columns)
    fields = [next(csv.reader(io.StringIO(text), delimiter=mark)) for _, text in odd]
    fitted = [[cell or None for cell in [*row, *[""] * width][:width]] for row in fields]
    numbers = np.array([number for number, _ in odd])
    kept = np.setdiff1d(np.arange(len(frame) + len(odd)), numbers)
    odd_frame = pd.DataFrame(fitted, index=numbers, columns=frame.columns, dtype="str")
    # blank fields beyond the header are only trailing delimiters
    reasons = [
        f"{len(row)} fields where the header has {width}" if len(row) < width or any(row[width:]) else None
        for row in fields
    ]
    ragged = pd.concat([no_text(pd.Index(kept)), pd.Series(reasons, numbers, dtype="str")])
    return pd.concat([frame.set_axis(kept), odd_frame]).sort_index(), ragged.sort_index()


def _refuse_open_quotes(frame: pd.DataFrame, mark: str, label: str) -> None:
    """Stop where a cell holds line breaks and enough delimiters to be other rows."""
    for name in frame:
        cells = frame[name]
        many = cells[cells.str.contains("\n", regex=False).eq(True)]
        swallowed = many[many.str.count(re.escape(mark)) >= max(len(frame.columns) - 1, 1)]
        if len(swallowed):
            row, lines = swallowed.index[0] + 1, swallowed.iloc[0].count("\n") + 1
            raise InputError(
                f"{label}: row {row}, column {name!r}: a quotation mark opens a cell that spans {lines} lines and "
                'takes in other rows. Close it, or write "" for a quotation mark inside a quoted cell.'
            )


def read_sheet(path: Path, label: str, sheet: str | None) -> RawTable:
    """Return one sheet of a workbook, the first unless one is named.

    Raises
    ------
    InputError
        The file is not a workbook, or has no such sheet or no rows.
    """
    try:
        book = CalamineWorkbook.from_path(str(path))
        if sheet is not None and sheet not in book.sheet_names:
            raise InputError(
                f"{label}: no sheet {sheet!r}; the workbook has: {', '.join(book.sheet_names)}. Correct `layer`."
            )
        cells = book.get_sheet_by_name(sheet or book.sheet_names[0]).to_python()
    except (CalamineError, OSError, ValueError, IndexError) as error:
        raise InputError(f"{label}: cannot be read as a workbook ({error}). Save it again as .xlsx or CSV.") from error
    filled = [number for number, row in enumerate(cells) if any(cell != "" for cell in row)]
    if len(filled) < 2:
        raise InputError(f"{label}: a header and no rows; expected one row per core. Save it again with the data.")
    notices: list[str] = []
    head, *numbers = filled
    names = unique_names([str(cell) for cell in cells[head]], label, notices)
    columns = [_sheet_text(column) for column in zip(*(cells[number] for number in numbers), strict=True)]
    frame = pd.DataFrame(dict(zip(names, columns, strict=True)))
    # blank rows count, so that a row number leads to the row in the sheet
    return RawTable(frame, np.array(numbers) - head, len(frame), label, notices=notices)


def _sheet_text(cells: tuple[Any, ...]) -> pd.Series:
    """Return cells as people would write them: a workbook keeps every number as a float and every date with a time."""
    text = [repr(int(cell)) if isinstance(cell, float) and cell.is_integer() else str(cell) for cell in cells]
    column = pd.Series(text, dtype="str")
    return column.where(column.ne(""))


def as_text(column: pd.Series) -> pd.Series:
    """Return a typed column as people would write it; whole numbers lose their ``.0``."""
    text = column.astype("str").where(column.notna())
    if pd.api.types.is_float_dtype(column.dtype):
        text = text.str.replace(r"\.0$", "", regex=True)
    return text.where(text.str.strip().ne(""))


def select_rows(table: RawTable, condition: str, key: str) -> RawTable:
    """Return the rows of a table that an SQL condition selects; columns of numbers compare as numbers.

    Raises
    ------
    SettingsError
        The condition is not valid SQL for these columns.
    """
    quoted = [_quoted(name) for name in table.frame.columns]
    with closing(sqlite3.connect(":memory:")) as database:
        database.execute(f"CREATE TABLE t ({', '.join(f'{name} NUMERIC' for name in quoted)})")
        marks = ", ".join("?" * len(quoted))
        values = table.frame.astype(object).where(table.frame.notna(), None)
        database.executemany(f"INSERT INTO t VALUES ({marks})", values.to_numpy().tolist())  # noqa: S608 - question marks alone
        confine(database)
        try:
            kept = [
                number - 1
                for (number,) in database.execute(f"SELECT rowid FROM t WHERE ({condition}) ORDER BY rowid")  # noqa: S608 - the condition is the user's own, on a database in memory
            ]
        except sqlite3.Error as error:
            raise SettingsError(
                f"{key}: found {condition!r}, expected an SQL condition on {table.label} ({error}). "
                f"Its columns: {', '.join(table.frame.columns)}. Correct it."
            ) from error
    table.frame = table.frame.iloc[kept].reset_index(drop=True)
    table.rows = table.rows[kept]
    if table.geometry is not None:
        table.geometry = table.geometry[kept]
    if table.ragged is not None:
        table.ragged = table.ragged.iloc[kept].reset_index(drop=True)
    return table


def _quoted(name: str) -> str:
    return '"' + name.replace('"', '""') + '"'
