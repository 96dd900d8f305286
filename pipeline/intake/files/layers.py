"""Files read into raw tables: map layers of many formats, Parquet, and tables without geometry."""

import re
import warnings
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Final

import geopandas as gpd
import numpy as np
import numpy.typing as npt
import pandas as pd
import pyarrow as pa
import pyogrio
from pyogrio.errors import DataLayerError, DataSourceError
from shapely.errors import ShapelyError

from pipeline.clock import Counted
from pipeline.databases import library
from pipeline.errors import InputError, NoCoresError, NoRowsError
from pipeline.intake.files.checksums import sums_of_parts, unchanged
from pipeline.intake.files.conditions import refuse_statement
from pipeline.intake.files.delimited import read_csv
from pipeline.intake.files.drivers import drivers_for, only_drivers
from pipeline.intake.files.encodings import in_utf8
from pipeline.intake.files.frames import WHOLE_NUMBERS, first_sentence, raw_table
from pipeline.intake.files.header_rows import wanted_of
from pipeline.intake.files.nested_shapes import refuse_nested_in_geopackage
from pipeline.intake.files.osm import osm_keys
from pipeline.intake.files.parquet import read_parquet, read_parquet_parts
from pipeline.intake.files.parquet_parts import PARQUET, is_parts_folder
from pipeline.intake.files.paths import input_path
from pipeline.intake.files.sheet_choice import matching_sheets
from pipeline.intake.files.staging import staged
from pipeline.intake.files.tables import RawTable, select_rows
from pipeline.intake.files.workbooks import read_sheet
from pipeline.programme.ranges import shortened
from pipeline.programme.settings import Cores, Layer
from pipeline.scratch import scratch_folder
from pipeline.wording import counted

__all__ = ["layers_of", "read_raw"]

_TEXT: Final = {".csv", ".tsv", ".txt"}
_SHEETS: Final = {".xlsx", ".xlsm", ".xls", ".xlsb", ".ods"}
_UNREADABLE: Final = (
    DataSourceError,
    DataLayerError,
    OSError,
    RuntimeError,
    ValueError,
    ShapelyError,
    pa.ArrowException,
    UnboundLocalError,  # of pyogrio, where a CRS is written in bytes that are no text
)
# layers and columns that an error lists
_MOST_LISTED: Final = 8


def read_raw(
    section: Layer, folder: Path, name: str, wanted: list[str] | None, tell: Counted | None = None
) -> RawTable:
    """Return one input of a programme as a raw table.

    Parameters
    ----------
    section
        Its settings.
    folder
        Folder of the programme file, which the path is relative to.
    name
        Name of the section, for errors.
    wanted
        Columns to read; None reads all.
    tell
        Is told how many rows of a database are read.

    Raises
    ------
    InputError
        The file is missing, cannot be read, is empty, is a link to other data, or changes while it is read.
    SettingsError
        The condition of ``where``, or the encoding, does not apply to the file.
    """
    label = section.path
    if section.where is not None:
        refuse_statement(section.where, f"{name}.where")
    if section.is_database:
        library(f"{name}.path")
        from pipeline.intake.files.server_rows import read_database  # noqa: PLC0415 - its library is an extra

        return read_database(section, name, wanted, tell)
    try:
        path = input_path(label, folder, name, may_be_parts=True)
        with unchanged(path, label) as sha256:
            table = _read(path, label, section, name, wanted)
            table.part_sums = sums_of_parts(path, label)
    except OSError as error:
        raise InputError(
            f"{label}: cannot be read ({error.strerror or error}). Check {name}.path and the permissions of the file."
        ) from error
    table.sha256 = sha256
    return table


def layers_of(section: Cores, folder: Path) -> tuple[list[str | None], list[str]]:
    """Return the sheets or layers of one file that a register asks for, and notices of those left out.

    Raises
    ------
    InputError
        The file is missing, is no workbook, or does not have what is asked for.
    """
    asked, suffix = section.layer, Path(section.path).suffix.lower()
    names = asked if isinstance(asked, list) else [asked] if asked is not None else []
    if suffix in _SHEETS and any("*" in name or len(names) > 1 for name in names):
        path = input_path(section.path, folder, "cores")
        found, notices = matching_sheets(path, section.path, names, wanted_of(section, "cores"))
        return [*found], notices
    # texts have no layers
    if not names or suffix in _TEXT | PARQUET or is_parts_folder(folder / section.path):
        return [None], []
    return [*names], []


def _one_layer(section: Layer, name: str) -> str | None:
    """Return the layer that is set; stop where there are several."""
    if not isinstance(section.layer, list):
        return section.layer
    if len(section.layer) > 1:
        raise InputError(f"{section.path}: {name}.layer names {len(section.layer)} layers, expected one. Name one.")
    return section.layer[0]


def _read(path: Path, label: str, section: Layer, name: str, wanted: list[str] | None) -> RawTable:
    """Read a file by the format that its name ends in."""
    suffix = path.suffix.lower()
    if is_parts_folder(path):
        table = read_parquet_parts(path, label)
    elif suffix in _TEXT and isinstance(section, Cores):
        table = read_csv(path, label, section.encoding, section.delimiter, wanted_of(section, name))
    elif suffix in _SHEETS:
        table = read_sheet(path, label, _one_layer(section, name), wanted_of(section, name))
    elif suffix in PARQUET:
        table = read_parquet(path, label, wanted_of(section, name))
    else:
        return _read_layer(path, label, section, name, wanted)
    if section.where is not None:
        table = select_rows(table, section.where, f"{name}.where")
        _refuse_empty(table, section, name)
    return table


def _refuse_empty(table: RawTable, section: Layer, name: str) -> None:
    """Stop where a file, or the condition on it, gives no features."""
    if table.frame.shape[0] == 0 and section.where is not None and table.rows_in_file:
        noun = "row" if isinstance(section, Cores) else "feature"
        what = f"{name}.where = {shortened(section.where)} selects none of its {counted(table.rows_in_file, noun)}"
        if isinstance(section, Cores):
            raise NoCoresError(table.label, what, "Correct the condition.")
        raise InputError(f"{table.label}: {what}. Correct the condition.")
    if table.frame.shape[0] == 0:
        what = "table has no rows" if Path(section.path).suffix.lower() in _TEXT else "layer has no features"
        needed = isinstance(section, Cores) or name == "roads"
        remedy = "." if needed else f", or remove [{name}]."
        raise NoRowsError(f"{table.label}: the {what}. Give one that has in {name}.path or {name}.layer{remedy}")


def _read_layer(path: Path, label: str, section: Layer, name: str, wanted: list[str] | None) -> RawTable:
    """Read one layer of a map file with GDAL."""
    with scratch_folder(label) as scratch:
        notices: list[str] = []
        opened = staged(path, label, scratch)
        opened = in_utf8(opened, label, scratch, notices) if opened.suffix.lower() in _TEXT else opened
        try:
            with (
                only_drivers(drivers_for(opened, label), scratch),
                _gdal_warnings(label, notices, opened),
                osm_keys(opened, section, scratch),
            ):
                table = _read_opened(opened, label, section, name, wanted)
        except _UNREADABLE as error:
            raise _unreadable(error, opened, label, section, name) from error
    table.notices = [*notices, *table.notices]
    _refuse_empty(table, section, name)
    return table


def _read_opened(path: Path, label: str, section: Layer, name: str, wanted: list[str] | None) -> RawTable:
    """Read one layer of a file that GDAL may open."""
    layer = _layer_of(path, label, _one_layer(section, name), name)
    info = pyogrio.read_info(path, layer=layer)
    fields = list(info["fields"])
    asked = {column.strip().casefold() for column in wanted or ()}
    read = [field for field in fields if field.strip().casefold() in asked] if wanted is not None else None
    # a column may have the name of the feature ids, and Arrow hands on only one of the two
    is_taken = info["fid_column"] in fields
    if path.suffix.lower() == ".gpkg":
        refuse_nested_in_geopackage(path, layer, section.where, label)
    # a geometry that cannot be built counts as missing: one broken ring must not stop the run
    frame = pyogrio.read_dataframe(
        path,
        layer=layer,
        where=section.where,
        columns=read,
        fid_as_index=not is_taken,
        use_arrow=True,
        on_invalid="ignore",
        # whole numbers stay whole in a column with missing values
        arrow_to_pandas_kwargs={"types_mapper": WHOLE_NUMBERS.get},
    )
    fids = _fids(path, layer, section.where) if is_taken and section.where is not None else frame.index
    rows, total = _rows(path, layer, fids, selected=section.where is not None)
    if not is_taken and info["fid_column"] in section.columns.values():
        frame.insert(0, info["fid_column"], fids)
        fields.insert(0, info["fid_column"])
    promised = int(info["features"])
    # other formats count deleted features too, and report in their own way that they are cut short
    if path.suffix.lower() == ".fgb" and section.where is None and promised > total:
        raise InputError(
            f"{label}: the file is cut short ({total:,} of {counted(promised, 'feature')}). Copy or export it again."
        )
    declared = frame.crs if isinstance(frame, gpd.GeoDataFrame) else None
    table = raw_table(frame.reset_index(drop=True), rows, total, label, declared, [])
    table.fields = fields
    return table


def _unreadable(error: Exception, path: Path, label: str, section: Layer, name: str) -> InputError:
    """Return the error for a layer that GDAL cannot read."""
    hint = f" If it opens elsewhere, check {name}.where = {shortened(section.where)}." if section.where else ""
    is_crs = isinstance(error, UnboundLocalError)
    why = "its CRS is not text" if is_crs else _without_paths(first_sentence(error), path, label)
    if "onlinear" in why:
        return InputError(
            f"{label}: the layer has curves, which cannot be read. Save it with straight segments "
            "(ogr2ogr -nlt CONVERT_TO_LINEAR)."
        )
    what = "table" if Path(section.path).suffix.lower() in _TEXT else "map layer"
    return InputError(
        f"{label}: cannot be read as a {what} ({why}). Check that the file is complete and of this format.{hint}"
    )


def _rows(path: Path, layer: str, fids: pd.Index, *, selected: bool) -> tuple[npt.NDArray[np.int64], int]:
    """Return the 1-based rows of the features read, and how many the file has; feature ids may have gaps."""
    if not selected:
        return np.arange(1, len(fids) + 1), len(fids)
    every = _fids(path, layer, None)
    return every.get_indexer(fids) + 1, len(every)


def _fids(path: Path, layer: str, where: str | None) -> pd.Index:
    """Return the ids of the features that a condition selects, in their order."""
    ids: pd.Index = pyogrio.read_dataframe(
        path, layer=layer, where=where, columns=[], read_geometry=False, fid_as_index=True
    ).index
    return ids


def _layer_of(path: Path, label: str, wanted: str | None, name: str) -> str:
    """Return the layer to read: the one that is set, else the only one."""
    # a table of styles has no features
    kinds = {str(layer): kind for layer, kind in pyogrio.list_layers(path) if layer != "layer_styles"}
    if wanted is not None:
        if wanted not in kinds:
            raise InputError(f"{label}: no layer {wanted!r}; the file has: {', '.join(kinds)}. Correct {name}.layer.")
        return wanted
    candidates = [layer for layer, kind in kinds.items() if kind is not None] or list(kinds)
    if len(candidates) != 1:
        listed = "; ".join(_with_columns(path, layer) for layer in candidates[:_MOST_LISTED])
        more = "; ..." if len(candidates) > _MOST_LISTED else ""
        what = f"{len(candidates)} layers ({listed}{more})" if candidates else "no layer"
        raise InputError(f"{label}: the file has {what}; expected one. Give its name in {name}.layer.")
    return candidates[0]


def _with_columns(path: Path, layer: str) -> str:
    """Return the name of a layer and those of its first columns."""
    fields = list(pyogrio.read_info(path, layer=layer)["fields"])
    columns = [*fields[:_MOST_LISTED], "..."] if len(fields) > _MOST_LISTED else fields
    return f"{layer} with {', '.join(columns) or 'no columns'}"


@contextmanager
def _gdal_warnings(label: str, notices: list[str], path: Path) -> Iterator[None]:
    """Add the warnings of GDAL to the notices."""
    with warnings.catch_warnings(record=True) as caught:
        warnings.simplefilter("always")
        yield
    sentences = dict.fromkeys(_without_paths(first_sentence(warning.message), path, label) for warning in caught)
    notices.extend(f"{label}: {sentence}." for sentence in sentences)


def _without_paths(sentence: str, path: Path, label: str) -> str:
    """Return a message in which the file is named as the programme names it."""
    folder = re.escape(str(path.parent))
    return re.sub(rf"{folder}[\\/][^'\"\s]*", label, sentence.replace(str(path), label))
