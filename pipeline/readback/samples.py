"""An inspection sample that comes back: the sheet as filled in, and the record of how it was drawn."""

from pathlib import Path
from typing import Final

import pandas as pd
from pydantic import BaseModel, Field, ValidationError

from pipeline.contracts import no_text
from pipeline.errors import InputError
from pipeline.intake.files.delimited import read_csv
from pipeline.intake.files.workbooks import read_sheet
from pipeline.programme.sampling_schemes import Isolated, LotsBy, Of, Series
from pipeline.programme.setting_errors import sentences
from pipeline.readback.json_text import parse_json

__all__ = ["DrawnRecord", "read_drawn", "read_filled"]

_COLUMNS: Final = ("row", "core_id", "result", "remark")
_WORKBOOKS: Final = (".xlsx", ".xls", ".ods")


class DrawnLot(BaseModel):
    """One lot of a drawn sample; ``rows`` in the order of drawing."""

    lot: str
    cores: int
    n: int
    accept: int
    rows: list[int]


class DrawnRecord(BaseModel):
    """The entries of ``sample.json`` from which its sample can be drawn again; it holds further entries."""

    programme: str
    as_of: str
    register_sha256: str
    seed: int = Field(ge=0)
    of: Of
    by: LotsBy = "district"  # a sample of an older version has no such entry
    plan: Series | Isolated = Field(discriminator="plan")
    lots: list[DrawnLot]


def read_drawn(path: Path) -> DrawnRecord:
    """Return the record of a drawn sample.

    Parameters
    ----------
    path
        A ``sample.json``.

    Raises
    ------
    InputError
        It is missing or damaged.
    """
    try:
        return DrawnRecord.model_validate(parse_json(path.read_text("utf-8")))
    except ValidationError as error:
        found = sentences(error, DrawnRecord)[0].rstrip(".")
        raise InputError(f"{path}: {found}. Expected the file as `kerfbook sample` wrote it: draw it again.") from error
    except OSError as error:
        raise InputError(
            f"{path}: cannot be read ({error.strerror}). Results are judged by the sample.json written with the "
            "sheet: keep the two in one folder, or give that folder with --out."
        ) from error
    except (ValueError, RecursionError) as error:
        raise InputError(
            f"{path}: not valid JSON ({error}). Expected the file as `kerfbook sample` wrote it: draw it again."
        ) from error


def read_filled(path: Path) -> pd.DataFrame:
    """Return a sheet as it was filled in, whichever program saved it: delimited text or a workbook.

    Parameters
    ----------
    path
        The file.

    Returns
    -------
    pandas.DataFrame
        N rows as text: ``row``, ``core_id``, ``result``, ``remark`` (missing if the file has no such column), and
        ``line``, the 1-based data row of the file, and ``ragged``, how its fields do not fit the header (missing where
        they do). Blank rows are left out.

    Raises
    ------
    InputError
        The file cannot be read as a table, or has no column ``row``, ``core_id`` or ``result``.
    """
    if not path.is_file():
        raise InputError(f"{path}: no such file. Give the sample.csv that the inspectors filled in.")
    try:
        table = (
            read_sheet(path, str(path), None)
            if path.suffix.lower() in _WORKBOOKS
            else read_csv(path, str(path), None, None)
        )
    except OSError as error:
        raise InputError(
            f"{path}: cannot be read ({error.strerror}). Give the sample.csv that the inspectors filled in."
        ) from error
    by_form = {str(name).strip().casefold(): str(name) for name in reversed(table.frame.columns.tolist())}
    for name in _COLUMNS[:3]:
        if name not in by_form:
            raise InputError(
                f"{path}: no column {name!r}; the file has: {', '.join(map(str, table.frame.columns))}. "
                "Fill in the sheet as `kerfbook sample` wrote it, and keep its header."
            )
    found = pd.DataFrame(
        {
            name: table.frame[by_form[name]].astype("str") if name in by_form else no_text(table.frame.index)
            for name in _COLUMNS
        }
    ).assign(line=table.rows, ragged=no_text(table.frame.index) if table.ragged is None else table.ragged)
    return found[table.frame.notna().any(axis="columns")].reset_index(drop=True)
