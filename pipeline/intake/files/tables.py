"""The raw table that every format is read into, and what can be done with it before anything is interpreted."""

import sqlite3
from contextlib import closing
from dataclasses import dataclass, field
from typing import Final

import numpy as np
import numpy.typing as npt
import pandas as pd
import pyarrow as pa
import pyarrow.compute as pc
from pyproj import CRS

from pipeline.errors import InputError, SettingsError
from pipeline.intake.files.conditions import confine
from pipeline.programme.ranges import shortened

__all__ = [
    "SET_ASIDE",
    "RawTable",
    "as_text",
    "float_text",
    "forget_content",
    "refuse_too_wide",
    "select_rows",
    "unique_names",
]

# columns of the table of rows that hold no core
SET_ASIDE: Final = ("place", "reason", "text")
# SQLite, which conditions and the GeoPackage rest on, takes 2,000, and an output adds some
_MOST_COLUMNS: Final = 1900
# between these Arrow and Python write every number without a power of ten
_LEAST_PLAIN: Final = 1e-4
_MOST_PLAIN: Final = 1e9
# a file may have thousands
_MOST_LISTED: Final = 60


@dataclass
class RawTable:
    """What a file holds, before anything is interpreted.

    ``frame``: N rows of attributes, as text. ``rows``: N 1-based data rows of the file. ``geometry``: N geometries, or
    None for a table without geometry. ``ragged``: N texts that describe how the fields of a row do not fit the header,
    missing where they do. ``rows_in_file``: number of rows before any ``where``. ``fields``: names of all columns of
    the file, where only some were read. ``places``: N numbers of the row of the sheet or the line of the text, as a
    person finds it in the file; None where a format has none. ``set_aside``: the rows that hold no core, with their
    ``place``, ``reason`` and ``text``. ``header_units``: unit by column, from a units row under the header.
    ``stored_as_number``: N rows, one column of truths per column of ``frame``: the workbook stores the cell as a
    number; None for formats without types. ``is_1904``: the workbook counts days from 1904. ``hint``: what is
    likely where a name is not among the columns, for errors; empty where the header holds every name. ``sha256``: of
    the file as it was read, and ``part_sums``: of each part, by its name, where it is a folder of them. ``sheet``: the
    sheet of a workbook. ``header_place``: the row of the sheet or line of the text that the names are in; 0 for other
    formats. ``srid``: that of the shapes of a database; 0 for none.
    ``origin``: what it was read from, for errors: "file", "table" or "query".
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
    set_aside: pd.DataFrame = field(default_factory=lambda: pd.DataFrame(columns=list(SET_ASIDE), dtype="str"))
    header_units: dict[str, str] = field(default_factory=dict)
    stored_as_number: pd.DataFrame | None = None
    is_1904: bool = False
    hint: str = ""
    sha256: str = ""
    part_sums: dict[str, str] = field(default_factory=dict)
    sheet: str = ""
    header_place: int = 0
    srid: int = 0
    origin: str = "file"

    @property
    def listed_columns(self) -> str:
        """Return the names of the columns for an error, and what is likely where one of them is missing."""
        names = self.fields or self.frame.columns.tolist()
        if self.origin != "file":
            # as SQL has them: the case of a letter matters there, and a blank
            names = [f'"{name}"' for name in names]
        more = f" and {len(names) - _MOST_LISTED:,} more" if len(names) > _MOST_LISTED else ""
        return f"{', '.join(names[:_MOST_LISTED])}{more}.{' ' * bool(self.hint)}{self.hint}"


def refuse_too_wide(columns: int, label: str) -> None:
    """Stop at a table with more columns than conditions and outputs can hold.

    Raises
    ------
    InputError
        It has.
    """
    if columns > _MOST_COLUMNS:
        raise InputError(
            f"{label}: {columns:,} columns, expected at most {_MOST_COLUMNS:,}. Delete those that are not needed, and "
            "save the table again."
        )


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


def as_text(column: pd.Series) -> pd.Series:
    """Return a typed column as people would write it; whole numbers lose their ``.0``."""
    if column.dtype == np.float64:
        # sizes repeat: each distinct one is written once; by their bits, as zero and minus zero are equal
        codes, bits = pd.factorize(column.to_numpy().view(np.int64))
        written = float_text(pd.Series(bits.view(np.float64))).str.replace(r"\.0$", "", regex=True)
        return pd.Series(written.array.take(codes), column.index, name=column.name)
    text = column if column.dtype == "str" else column.astype("str").where(column.notna())
    if pd.api.types.is_float_dtype(column.dtype):
        text = text.str.replace(r"\.0$", "", regex=True)
    return text.where(text.str.strip().ne(""))


def float_text(column: pd.Series) -> pd.Series:
    """Return N floats of 64 bits as text, in the shortest digits that give each back; missing ones stay missing."""
    numbers = column.to_numpy()
    text = pd.Series(
        pd.array(pc.cast(pa.array(numbers), pa.large_string()), dtype="str"), column.index, name=column.name
    )
    whole = numbers == np.trunc(numbers)
    if whole.any():
        text = text.mask(whole, text + ".0")
    # Arrow turns to powers of ten at other sizes than Python
    size = np.abs(numbers)
    other = ~((size >= _LEAST_PLAIN) & (size < _MOST_PLAIN))
    if other.any():
        text[other] = column[other].astype("str")
    return text


def forget_content(table: RawTable) -> None:
    """Let go of the cells and shapes of a table that have been read as what they are; the number of rows stays."""
    table.frame, table.geometry = table.frame[[]], None


def select_rows(table: RawTable, condition: str, key: str) -> RawTable:
    """Return the rows of a table that an SQL condition selects; columns of numbers compare as numbers.

    Raises
    ------
    SettingsError
        The condition is not valid SQL for these columns.
    """
    refuse_too_wide(len(table.frame.columns), table.label)
    quoted = [_quoted(name) for name in table.frame.columns]
    # a table may have a column called rowid, which would hide the number of the row
    own, taken = "row", {name.casefold() for name in table.frame.columns}
    while own in taken:
        own += "_"
    with closing(sqlite3.connect(":memory:")) as database:
        columns = ", ".join([f"{_quoted(own)} INTEGER PRIMARY KEY", *(f"{name} NUMERIC" for name in quoted)])
        database.execute(f"CREATE TABLE t ({columns})")
        marks = ", ".join(["NULL", *"?" * len(quoted)])
        values = table.frame.astype(object).where(table.frame.notna(), None)
        database.executemany(f"INSERT INTO t VALUES ({marks})", values.to_numpy().tolist())  # noqa: S608 - question marks alone
        confine(database)
        try:
            found = database.execute(f"SELECT {_quoted(own)} FROM t WHERE ({condition}) ORDER BY 1")  # noqa: S608 - the condition is the user's own, on a database in memory
            kept = [number - 1 for (number,) in found]
        except sqlite3.Error as error:
            raise SettingsError(
                f"{key}: found {shortened(condition)}, expected an SQL condition on {table.label} ({error}). "
                f"Its columns: {', '.join(table.frame.columns)}. Correct it."
            ) from error
    table.frame = table.frame.iloc[kept].reset_index(drop=True)
    table.rows = table.rows[kept]
    if table.geometry is not None:
        table.geometry = table.geometry[kept]
    if table.ragged is not None:
        table.ragged = table.ragged.iloc[kept].reset_index(drop=True)
    if table.places is not None:
        table.places = table.places[kept]
    if table.stored_as_number is not None:
        table.stored_as_number = table.stored_as_number.iloc[kept].reset_index(drop=True)
    return table


def _quoted(name: str) -> str:
    return '"' + name.replace('"', '""') + '"'
