"""Sheets of ours that people filled in with any program: delimited text or a workbook, its columns known by name."""

from collections.abc import Sequence
from pathlib import Path
from typing import Final

import pandas as pd

from pipeline.contracts import no_text
from pipeline.errors import InputError, NoCoresError
from pipeline.intake.files.checksums import unchanged
from pipeline.intake.files.delimited import read_csv
from pipeline.intake.files.header_rows import Wanted
from pipeline.intake.files.paths import input_path
from pipeline.intake.files.tables import RawTable
from pipeline.intake.files.workbooks import read_sheet
from pipeline.spreadsheet_text import as_written

__all__ = ["name_form", "own_columns", "read_filled_sheet", "sheet_texts"]

_WORKBOOKS: Final = (".xlsx", ".xlsm", ".xls", ".xlsb", ".ods")
_TEXTS: Final = (".csv", ".tsv", ".txt")


def read_filled_sheet(
    path: str,
    folder: Path,
    wanted: Wanted,
    *,
    key: str = "path",
    layer: str | None = None,
    encoding: str | None = None,
    delimiter: str | None = None,
) -> tuple[RawTable | None, str]:
    """Return a sheet as a raw table, None where it has a header and no row, and its checksum.

    Parameters
    ----------
    path, folder
        The file, and the folder that its path is relative to.
    wanted
        The columns that reveal the header; ``section`` and ``one`` are named in errors.
    key
        Key of the section that names the file, for errors.
    layer, encoding, delimiter
        Sheet of a workbook; encoding and delimiter of a text; None: found out.

    Raises
    ------
    InputError
        The file cannot be read, or has no header that is wanted.
    """
    place, suffix = input_path(path, folder, wanted.section, key), Path(path).suffix.lower()
    if suffix not in (*_WORKBOOKS, *_TEXTS):
        raise InputError(
            f"{path}: not a file of {wanted.one}s; expected delimited text or a workbook ({', '.join(_TEXTS)}, "
            f"{', '.join(_WORKBOOKS)}). Save it as one of these, and correct {wanted.section}.{key}."
        )
    try:
        with unchanged(place, path) as sha256:
            try:
                if suffix in _WORKBOOKS:
                    return read_sheet(place, path, layer, wanted), sha256
                return read_csv(place, path, encoding, delimiter, wanted), sha256
            except NoCoresError:
                return None, sha256
    except OSError as error:
        raise InputError(
            f"{path}: cannot be read ({error.strerror or error}). Check {wanted.section}.{key} and the permissions of "
            "the file."
        ) from error


def own_columns(table: RawTable) -> dict[str, str]:
    """Return the sheet's columns by the form of their name; of two with one form, the first."""
    return {name_form(str(name)): str(name) for name in reversed(table.frame.columns.tolist())}


def sheet_texts(table: RawTable, names: Sequence[str]) -> pd.DataFrame:
    """Return N rows of texts, a column per name: stripped, missing where a cell or the column is not there."""
    own = own_columns(table)
    cells = {}
    for name in names:
        text = table.frame[own[name]].astype("str") if name in own else no_text(table.frame.index)
        text = as_written(text.str.strip())
        cells[name] = text.where(text.ne(""))
    return pd.DataFrame(cells, index=table.frame.index)


def name_form(name: str) -> str:
    """Return the name of a column without regard to case, blanks and lines."""
    return "_".join(name.replace("_", " ").casefold().split())
