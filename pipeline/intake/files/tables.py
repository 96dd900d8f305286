"""Tables without geometry of their own kind: CSV, spreadsheets, Parquet. Every cell comes back as text."""

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
# a text of more than one control character in this many is not text
_CONTROL_SHARE: Final = 1000


@dataclass
class RawTable:
    """What a file holds, before anything is understood.

    ``frame``: N rows of attributes. ``rows``: N 1-based data rows of the file. ``geometry``: N geometries, or
    None for a mere table. ``ragged``: N texts that say how a row's fields do not fit the header, missing where
    they do. ``rows_in_file`` counts what the file holds before any ``where``. ``fields``: names of all columns
    of the file, where only some were read.
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


def read_csv(path: Path, label: str, encoding: str | None, delimiter: str | None) -> RawTable:
    """Read a delimited text file, in UTF-8, UTF-16 or a legacy encoding.

    Raises
    ------
    InputError
        Not text, empty, without data rows, or with a quotation mark that is never closed.
    """
    raw = path.read_bytes()
    notices: list[str] = []
    text = _decode(raw, label, encoding, notices).lstrip("\r\n")
    if "\n" not in text:
        text = text.replace("\r", "\n")
    told = re.match(r"sep=(.)\r?\n", text)
    if told:
        # a line for spreadsheets, which says the delimiter and is no header
        text, delimiter = text[told.end() :], delimiter or told[1]
    if not text.strip():
        raise InputError(f"{label}: the file is empty. Expected a header line and a line for each core.")
    mark = delimiter or _delimiter(text.split("\n", 1)[0])
    # a quoted heading may run over several lines
    lines = io.StringIO(text)
    names = unique_names(next(csv.reader(lines, delimiter=mark)), label, notices)
    body = lines.read()
    if not body.strip():
        raise InputError(f"{label}: a header and no rows. Expected a line for each core.")

    odd: list[tuple[int, str]] = []

    def set_aside(row: Any) -> str:  # noqa: ANN401 - pyarrow names no type for it
        odd.append((row.number - 1, row.text))
        return "skip"

    try:
        table = arrow_csv.read_csv(
            io.BytesIO(body.encode()),
            # one thread: only then does a row that does not fit know its number
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
            f"{label}: cannot be read as a table ({error}). Expected text with one line for each core and the "
            f"same delimiter throughout ({mark!r} was used)."
        ) from error
    frame, ragged = _with_odd_rows(table.to_pandas(), odd, mark)
    _refuse_open_quotes(frame, mark, label)
    return RawTable(frame, np.arange(1, len(frame) + 1), len(frame), label, ragged=ragged, notices=notices)


def _decode(raw: bytes, label: str, encoding: str | None, notices: list[str]) -> str:
    for magic, kind in _MAGIC.items():
        if raw.startswith(magic):
            raise InputError(f"{label}: this is {kind}, not text. Name the file for what it is, or export it as CSV.")
    if encoding is not None:
        try:
            return raw.decode(encoding).removeprefix("\ufeff")
        except LookupError as error:
            raise SettingsError(f"cores.encoding: found {encoding!r}, which is no encoding. Try utf-8.") from error
        except UnicodeDecodeError as error:
            raise InputError(
                f"{label}: byte {error.start} is not {encoding}. Set cores.encoding to what the file was saved in."
            ) from error
    if raw.startswith((codecs.BOM_UTF16_LE, codecs.BOM_UTF16_BE)):
        text = raw.decode("utf-16", errors="replace")
    else:
        try:
            text = raw.decode("utf-8-sig")
        except UnicodeDecodeError:
            # bytes that Windows-1252 leaves undefined are kept as marks: no row is lost for one letter
            text = raw.decode("cp1252", errors="replace")
            notices.append(f"{label}: not UTF-8, read as Windows-1252; set cores.encoding if letters look wrong.")
    controls = len(re.findall(r"[\x00-\x08\x0e-\x1f]", text))
    if controls * _CONTROL_SHARE > len(text):
        raise InputError(f"{label}: this is a binary file, not text. Export the register as CSV.")
    # a stray NUL would end the text early in other programs
    return text.replace("\x00", "\N{REPLACEMENT CHARACTER}") if controls else text


def _delimiter(header: str) -> str:
    unquoted = re.sub(r'"[^"]*"', "", header)
    return max((",", ";", "\t", "|"), key=unquoted.count)


def unique_names(names: list[str], label: str, notices: list[str]) -> list[str]:
    """Give every column a name of its own; one that is blank or taken gets a number."""
    taken: dict[str, None] = {}
    unique = []
    for place, name in enumerate((" ".join(name.split()) for name in names), start=1):
        free = name or f"column {place}"
        # databases hold "ID" and "id" for the same name
        while free.casefold() in taken:
            free = f"{free}.{place}"
        if free != name:
            why = "a name taken before" if name else "no name"
            notices.append(f"{label}: column {place} has {why}, read as {free!r}.")
        taken[free.casefold()] = None
        unique.append(free)
    return unique


def _with_odd_rows(frame: pd.DataFrame, odd: list[tuple[int, str]], mark: str) -> tuple[pd.DataFrame, pd.Series]:
    """Put the rows whose fields do not fit the header back in their place, with a word on what is odd."""
    if not odd:
        return frame, no_text(frame.index)
    width = len(frame.columns)
    fields = [next(csv.reader(io.StringIO(text), delimiter=mark)) for _, text in odd]
    fitted = [[cell or None for cell in [*row, *[""] * width][:width]] for row in fields]
    places = np.array([place for place, _ in odd])
    kept = np.setdiff1d(np.arange(len(frame) + len(odd)), places)
    odd_frame = pd.DataFrame(fitted, index=places, columns=frame.columns, dtype="str")
    # blank fields beyond the header are only trailing delimiters
    words = [
        f"{len(row)} fields where the header has {width}" if len(row) < width or any(row[width:]) else None
        for row in fields
    ]
    ragged = pd.concat([no_text(pd.Index(kept)), pd.Series(words, places, dtype="str")])
    return pd.concat([frame.set_axis(kept), odd_frame]).sort_index(), ragged.sort_index()


def _refuse_open_quotes(frame: pd.DataFrame, mark: str, label: str) -> None:
    for name in frame:
        cells = frame[name]
        many = cells[cells.str.contains("\n", regex=False).eq(True)]
        swallowed = many[many.str.count(re.escape(mark)) >= max(len(frame.columns) - 1, 1)]
        if len(swallowed):
            row, lines = swallowed.index[0] + 1, swallowed.iloc[0].count("\n") + 1
            raise InputError(
                f"{label}: row {row}, column {name!r}: a quotation mark opens a cell that runs over {lines} lines and "
                'swallows other rows. Close it, or write " twice inside a quoted cell.'
            )


def read_sheet(path: Path, label: str, sheet: str | None) -> RawTable:
    """Read one sheet of a workbook, the first unless named.

    Raises
    ------
    InputError
        Not a workbook, no such sheet, or no rows.
    """
    try:
        book = CalamineWorkbook.from_path(str(path))
        if sheet is not None and sheet not in book.sheet_names:
            raise InputError(f"{label}: no sheet {sheet!r}; the workbook has: {', '.join(book.sheet_names)}.")
        cells = book.get_sheet_by_name(sheet or book.sheet_names[0]).to_python()
    except (CalamineError, OSError, ValueError, IndexError) as error:
        raise InputError(f"{label}: cannot be read as a workbook ({error}). Save it again as .xlsx or CSV.") from error
    filled = [place for place, row in enumerate(cells) if any(cell != "" for cell in row)]
    if len(filled) < 2:
        raise InputError(f"{label}: a header and no rows. Expected a row for each core.")
    notices: list[str] = []
    head, *places = filled
    names = unique_names([str(cell) for cell in cells[head]], label, notices)
    columns = [_sheet_text(column) for column in zip(*(cells[place] for place in places), strict=True)]
    frame = pd.DataFrame(dict(zip(names, columns, strict=True)))
    # blank rows between are counted, so that a row is found again in the sheet
    return RawTable(frame, np.array(places) - head, len(frame), label, notices=notices)


def _sheet_text(cells: tuple[Any, ...]) -> pd.Series:
    """A spreadsheet keeps every number as a float and every date with a time: write them as people do."""
    text = [repr(int(cell)) if isinstance(cell, float) and cell.is_integer() else str(cell) for cell in cells]
    column = pd.Series(text, dtype="str")
    return column.where(column.ne(""))


def as_text(column: pd.Series) -> pd.Series:
    """Turn a typed column into what a person would have written; whole numbers lose their ``.0``."""
    text = column.astype("str").where(column.notna())
    if pd.api.types.is_float_dtype(column.dtype):
        text = text.str.replace(r"\.0$", "", regex=True)
    return text.where(text.str.strip().ne(""))


def select_rows(table: RawTable, condition: str, key: str) -> RawTable:
    """Keep the rows of a mere table that an SQL condition holds for; columns compare as numbers where they are.

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
        database.executemany(f"INSERT INTO t VALUES ({marks})", values.to_numpy().tolist())  # noqa: S608
        try:
            kept = [
                place - 1
                for (place,) in database.execute(f"SELECT rowid FROM t WHERE ({condition}) ORDER BY rowid")  # noqa: S608 - the programme's own words
            ]
        except sqlite3.Error as error:
            raise SettingsError(
                f"{key}: found {condition!r}, which is no SQL condition for {table.label} ({error}). "
                f"Its columns: {', '.join(table.frame.columns)}."
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
