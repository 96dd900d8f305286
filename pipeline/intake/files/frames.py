"""Typed frames as raw tables: attributes as text, geometry apart."""

import re
from typing import Final

import geopandas as gpd
import numpy as np
import numpy.typing as npt
import pandas as pd
import pyarrow as pa
from pyproj import CRS

from pipeline.contracts.arrow_texts import texts_of
from pipeline.errors import InputError
from pipeline.intake.files.tables import RawTable, as_text, refuse_too_wide, unique_names

__all__ = ["WHOLE_NUMBERS", "first_sentence", "raw_table"]

# whole numbers of Arrow stay whole in a column with missing values
WHOLE_NUMBERS: Final = {
    pa.int8(): pd.Int8Dtype(), pa.int16(): pd.Int16Dtype(), pa.int32(): pd.Int32Dtype(), pa.int64(): pd.Int64Dtype(),
    pa.uint8(): pd.UInt8Dtype(), pa.uint16(): pd.UInt16Dtype(), pa.uint32(): pd.UInt32Dtype(),
    pa.uint64(): pd.UInt64Dtype(),
}  # fmt: skip

# a grid of a datum shift, named by a path or an address in place of the name of a grid
_GRID_ELSEWHERE: Final = re.compile(r"""PARAMETERFILE\["[^"]*","([^"]*[/\\:][^"]*)"|grids=([^\s,"]*[/\\:][^\s,"]*)""")


def raw_table(
    frame: pd.DataFrame, rows: npt.NDArray[np.int64], total: int, label: str, declared: CRS | None, notices: list[str]
) -> RawTable:
    """Return a frame as a raw table.

    Parameters
    ----------
    frame
        N rows, with or without geometry.
    rows
        N 1-based rows of the file.
    total
        Number of rows of the file.
    label, declared
        The file's name, and the CRS that it declares.
    notices
        Grow by the columns that are renamed.

    Raises
    ------
    InputError
        The text of the file is not UTF-8, or its CRS needs another file.
    """
    _refuse_grids_elsewhere(declared, label)
    refuse_too_wide(len(frame.columns), label)
    geometry = None
    if isinstance(frame, gpd.GeoDataFrame):
        geometry = np.asarray(frame.geometry.array)
        frame = pd.DataFrame(frame.drop(columns=frame.geometry.name))
    frame.columns = unique_names([str(column) for column in frame.columns], label, notices)
    text = pd.DataFrame({column: _text_of(frame[column], label) for column in frame}, index=frame.index)
    return RawTable(text, rows, total, label, geometry, declared, notices=notices)


def _text_of(column: pd.Series, label: str) -> pd.Series:
    """Return a column as text; stop where it holds anything else."""
    try:
        text = as_text(column)
        # some readers hand on bytes as they lie in the file
        texts_of(text).validate(full=True)
    except (pa.ArrowException, UnicodeError) as error:
        if label.lower().endswith((".shp", ".dbf", ".zip")):
            beside = "put a .cpg file with the name of its encoding, such as cp1250, beside the shapefile"
        else:
            beside = "if these are the shapes, export the layer again as GeoParquet, which says so"
        raise InputError(
            f"{label}: column {column.name!r} is not UTF-8 text ({first_sentence(error)}). Save it as UTF-8, or "
            f"{beside}."
        ) from error
    return text


def _refuse_grids_elsewhere(declared: CRS | None, label: str) -> None:
    """Stop where a layer's CRS names a file of its own choice, which a transformation would open."""
    found = _GRID_ELSEWHERE.search(declared.to_wkt()) if declared is not None else None
    if found:
        raise InputError(
            f"{label}: its CRS needs the file {found[1] or found[2]!r}, a link to other data; expected a CRS that is "
            'complete in itself. Save the layer in a CRS with a code, such as "EPSG:32617".'
        )


def first_sentence(error: object) -> str:
    """Return the first sentence of a library's message: the rest is advice about the library."""
    return re.split(r"[\n;]", str(error).strip(), maxsplit=1)[0].rstrip(". ")[:200]
