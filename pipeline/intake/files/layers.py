"""Files read into raw tables: every map format that pyogrio opens, Parquet, and tables without geometry."""

import hashlib
import re
import tempfile
import warnings
import zipfile
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Final

import geopandas as gpd
import numpy as np
import pandas as pd
import pyarrow as pa
import pyogrio
from pyogrio.errors import DataLayerError, DataSourceError
from pyproj import CRS
from shapely.errors import ShapelyError

from pipeline.errors import InputError
from pipeline.intake.files.delimited import read_csv
from pipeline.intake.files.header_rows import wanted_of
from pipeline.intake.files.tables import RawTable, as_text, select_rows, unique_names
from pipeline.intake.files.truncation import refuse_cut_short
from pipeline.intake.files.workbooks import read_sheet
from pipeline.programme.settings import Cores, Layer
from pipeline.wording import counted

__all__ = ["fingerprint", "read_raw"]

_TEXT: Final = {".csv", ".tsv", ".txt"}
_SHEETS: Final = {".xlsx", ".xlsm", ".xls", ".xlsb", ".ods"}
_PARQUET: Final = {".parquet", ".geoparquet", ".pq"}
_WHOLE_NUMBERS: Final = {pa.int64(): pd.Int64Dtype(), pa.int32(): pd.Int32Dtype()}
_UNREADABLE: Final = (
    DataSourceError, DataLayerError, OSError, RuntimeError, ValueError, ShapelyError, pa.ArrowException,
)  # fmt: skip
# the keys that make a closed way an area instead of a line, as in GDAL's own configuration
_OSM_AREAS: Final = (
    "aeroway,amenity,boundary,building,craft,geological,historic,landuse,leisure,military,natural,office,place,shop,"
    "sport,tourism,highway=platform,public_transport=platform"
)
_SQL_WORDS: Final = {"AND", "OR", "NOT", "IS", "NULL", "IN", "LIKE", "ILIKE", "BETWEEN"}
_INSIDE_ZIP: Final = (".shp", ".gpkg", ".geojson", ".fgb", ".gdb/", ".tab", ".gml", ".kml")


def read_raw(section: Layer, folder: Path, name: str, wanted: list[str] | None) -> RawTable:
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

    Raises
    ------
    InputError
        The file is missing, cannot be read, or is empty.
    SettingsError
        The condition of ``where``, or the encoding, does not apply to the file.
    """
    path, label = folder / section.path, section.path
    try:
        if not path.exists():
            raise InputError(f"{label}: no such file (looked for {path}). Correct {name}.path.")
        return _read(path, label, section, name, wanted)
    except OSError as error:
        raise InputError(
            f"{label}: cannot be read ({error.strerror or error}). Check {name}.path and the permissions of the file."
        ) from error


def _read(path: Path, label: str, section: Layer, name: str, wanted: list[str] | None) -> RawTable:
    """Read a file by the format that its name ends in."""
    suffix = path.suffix.lower()
    if suffix in _TEXT and isinstance(section, Cores):
        table = read_csv(path, label, section.encoding, section.delimiter, wanted_of(section, name))
    elif suffix in _SHEETS:
        table = read_sheet(path, label, section.layer, wanted_of(section, name))
    elif suffix in _PARQUET:
        table = _read_parquet(path, label)
    else:
        return _read_layer(path, label, section, name, wanted)
    if section.where is not None:
        table = select_rows(table, section.where, f"{name}.where")
        _refuse_empty(table, section, name)
    return table


def _refuse_empty(table: RawTable, section: Layer, name: str) -> None:
    """Stop where a file, or the condition on it, gives no features."""
    if table.frame.shape[0] == 0 and section.where is not None and table.rows_in_file:
        raise InputError(
            f"{table.label}: {name}.where = {section.where!r} selects no features; the file has "
            f"{table.rows_in_file:,}. Correct the condition."
        )
    if table.frame.shape[0] == 0:
        raise InputError(f"{table.label}: the layer has no features. Give one that has in {name}.path or {name}.layer.")


def _read_parquet(path: Path, label: str) -> RawTable:
    """Read a Parquet file, with or without geometry."""
    try:
        try:
            frame: pd.DataFrame = gpd.read_parquet(path)
        except ValueError:  # no geometry
            frame = pd.read_parquet(path)
    except (pa.ArrowException, OSError, ValueError) as error:
        raise InputError(f"{label}: cannot be read as Parquet ({error}). Export it again.") from error
    if frame.empty:
        raise InputError(f"{label}: the file has no rows. Export it again, with the data.")
    # an index with a name is a column
    frame = frame.reset_index(drop=all(name is None for name in frame.index.names))
    declared = frame.crs if isinstance(frame, gpd.GeoDataFrame) else None
    return _raw(frame, np.arange(1, len(frame) + 1), len(frame), label, declared, [])


def _read_layer(path: Path, label: str, section: Layer, name: str, wanted: list[str] | None) -> RawTable:
    """Read one layer of a map file with GDAL."""
    source = _source_of(path, label)
    refuse_cut_short(path, label)
    notices: list[str] = []
    try:
        with _gdal_warnings(label, notices), _osm_keys(path, section):
            layer = _layer_of(source, label, section.layer, name)
            info = pyogrio.read_info(source, layer=layer)
            fields = list(info["fields"])
            asked = {column.strip().casefold() for column in wanted or ()}
            read = [field for field in fields if field.strip().casefold() in asked] if wanted is not None else None
            # a geometry that cannot be built counts as missing: one broken ring must not stop the run
            frame = pyogrio.read_dataframe(
                source,
                layer=layer,
                where=section.where,
                columns=read,
                fid_as_index=True,
                use_arrow=True,
                on_invalid="ignore",
                # whole numbers stay whole in a column with missing values
                arrow_to_pandas_kwargs={"types_mapper": _WHOLE_NUMBERS.get},
            )
            rows, total = _rows(source, layer, frame.index, selected=section.where is not None)
    except _UNREADABLE as error:
        hint = f" If it opens elsewhere, check {name}.where = {section.where!r}." if section.where else ""
        why = _first_sentence(error).replace(source, label)
        if "onlinear" in why:
            raise InputError(
                f"{label}: the layer has curves, which cannot be read. Save it with straight segments "
                "(ogr2ogr -nlt CONVERT_TO_LINEAR)."
            ) from error
        raise InputError(
            f"{label}: cannot be read as a map layer ({why}). Check that the file is complete and of this format.{hint}"
        ) from error
    promised = int(info["features"])
    # other formats count deleted features too, and report in their own way that they are cut short
    if path.suffix.lower() == ".fgb" and section.where is None and promised > total:
        raise InputError(
            f"{label}: the file is cut short ({total:,} of {counted(promised, 'feature')}). Copy or export it again."
        )
    declared = frame.crs if isinstance(frame, gpd.GeoDataFrame) else None
    table = _raw(frame.reset_index(drop=True), rows, total, label, declared, notices)
    table.fields = fields
    _refuse_empty(table, section, name)
    return table


def _raw(
    frame: pd.DataFrame, rows: np.ndarray, total: int, label: str, declared: CRS | None, notices: list[str]
) -> RawTable:
    """Return a frame as a raw table: attributes as text, geometry apart."""
    geometry = None
    if isinstance(frame, gpd.GeoDataFrame):
        geometry = np.asarray(frame.geometry.array)
        frame = pd.DataFrame(frame.drop(columns=frame.geometry.name))
    frame.columns = unique_names([str(column) for column in frame.columns], label, notices)
    try:
        text = pd.DataFrame({column: as_text(frame[column]) for column in frame}, index=frame.index)
    except (pa.ArrowException, UnicodeError) as error:
        raise InputError(
            f"{label}: its text is not UTF-8 ({_first_sentence(error)}). Save it as UTF-8, or put a .cpg file with the "
            "name of its encoding, such as cp1250, beside the shapefile."
        ) from error
    return RawTable(text, rows, total, label, geometry, declared, notices=notices)


def _rows(source: str, layer: str, fids: pd.Index, *, selected: bool) -> tuple[np.ndarray, int]:
    """Return the 1-based rows of the features read, and how many the file has; feature ids may have gaps."""
    if not selected:
        return np.arange(1, len(fids) + 1), len(fids)
    every = pyogrio.read_dataframe(source, layer=layer, columns=[], read_geometry=False, fid_as_index=True).index
    return every.get_indexer(fids) + 1, len(every)


def _source_of(path: Path, label: str) -> str:
    """Return what GDAL has to open: the file, or the one map file inside a zip archive."""
    if path.suffix.lower() != ".zip" or path.name.lower().endswith(".gdb.zip"):
        return str(path)
    try:
        with zipfile.ZipFile(path) as archive:
            names = archive.namelist()
    except (zipfile.BadZipFile, OSError) as error:
        raise InputError(
            f"{label}: cannot be read as a zip archive ({error}). Zip the file again, or unpack it and give its path."
        ) from error
    # GDAL finds a shapefile in a subfolder only by its path; a geodatabase is a folder
    found = sorted({re.sub(r"(\.gdb/).*", r"\1", name, flags=re.IGNORECASE) for name in names})
    found = [name for name in found if name.lower().endswith(_INSIDE_ZIP) and not name.startswith("__MACOSX")]
    if len(found) != 1:
        what = f"{len(found)} map files ({', '.join(found)})" if found else "no map file"
        raise InputError(
            f"{label}: the archive has {what}; expected exactly one. Unpack it and give the path of the file."
        )
    return f"/vsizip/{path}/{found[0].rstrip('/')}"


def _layer_of(source: str, label: str, wanted: str | None, name: str) -> str:
    """Return the layer to read: the one that is set, else the only one."""
    # a table of styles has no features
    layers = [str(layer) for layer, kind in pyogrio.list_layers(source) if layer != "layer_styles"]
    if wanted is not None:
        if wanted not in layers:
            raise InputError(f"{label}: no layer {wanted!r}; the file has: {', '.join(layers)}. Correct {name}.layer.")
        return wanted
    spatial = [
        str(layer) for layer, kind in pyogrio.list_layers(source) if kind is not None and layer != "layer_styles"
    ]
    candidates = spatial or layers
    if len(candidates) != 1:
        what = f"{len(candidates)} layers ({', '.join(candidates)})" if candidates else "no layer"
        raise InputError(f"{label}: the file has {what}; expected one. Give its name in {name}.layer.")
    return candidates[0]


@contextmanager
def _gdal_warnings(label: str, notices: list[str]) -> Iterator[None]:
    """Add the warnings of GDAL to the notices."""
    with warnings.catch_warnings(record=True) as caught:
        warnings.simplefilter("always")
        yield
    sentences = dict.fromkeys(_first_sentence(warning.message) for warning in caught)
    notices.extend(f"{label}: {sentence}." for sentence in sentences)


@contextmanager
def _osm_keys(path: Path, section: Layer) -> Iterator[None]:
    """Let GDAL return the OpenStreetMap keys that the programme names as fields, not packed into one text."""
    if not path.name.lower().endswith((".osm.pbf", ".pbf", ".osm")):
        yield
        return
    words = [word for word in re.findall(r"[A-Za-z_][\w:]*", section.where or "") if word.upper() not in _SQL_WORDS]
    keys = dict.fromkeys([*section.columns.values(), "name", "highway", "surface", *words])
    keys.pop("osm_id", None)
    shape = f"osm_id=yes\nattributes={','.join(keys)}\nother_tags=yes\n"
    layers = ("points", "lines", "multipolygons", "multilinestrings", "other_relations")
    with tempfile.TemporaryDirectory() as folder:
        config = Path(folder) / "osm.ini"
        config.write_text(
            f"closed_ways_are_polygons={_OSM_AREAS}\nattribute_name_laundering=no\n"
            + "".join(f"[{layer}]\n{shape}" for layer in layers),
            encoding="utf-8",
        )
        pyogrio.set_gdal_config_options({"OSM_CONFIG_FILE": str(config)})
        try:
            yield
        finally:
            pyogrio.set_gdal_config_options({"OSM_CONFIG_FILE": None})


def _first_sentence(error: object) -> str:
    """Return the first sentence of a library's message: the rest is advice about the library."""
    return re.split(r"[\n;]", str(error).strip(), maxsplit=1)[0].rstrip(". ")[:200]


def fingerprint(path: Path) -> str:
    """Return the SHA-256 of an input: of the file, or of all files of a format that has several."""
    if path.is_dir():
        files = sorted(file for file in path.rglob("*") if file.is_file())
    elif path.suffix.lower() in {".shp", ".tab"}:
        files = sorted(file for file in path.parent.glob(f"{path.stem}.*") if file.is_file())
    else:
        files = [path]
    digests = []
    for file in files:
        with file.open("rb") as stream:
            digests.append(hashlib.file_digest(stream, "sha256"))
    if len(digests) == 1:
        return digests[0].hexdigest()
    return hashlib.sha256(b"".join(digest.digest() for digest in digests)).hexdigest()
