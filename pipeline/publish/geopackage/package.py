"""The GeoPackage: cores, segments, districts, findings and orders, described and styled for a GIS desktop.

It carries no project: a project names the file it lies in, so a copy under another name would open empty. What a
project would add is in the layers themselves: their order, styles, titles and lists of values.
"""

import datetime as dt
import sqlite3
from collections.abc import Mapping
from contextlib import closing
from pathlib import Path
from typing import Final

import geopandas as gpd
import pandas as pd
import pyogrio
import shapely
from pyproj import CRS

from pipeline.publish.geopackage.columns import LAYERS, Told, tell_columns
from pipeline.publish.geopackage.qgis_styles import as_qml
from pipeline.publish.geopackage.sld_styles import as_sld
from pipeline.publish.tables import rounded

__all__ = ["write_geopackage"]

# what GDAL would otherwise take from the clock
_DATE: Final = "2000-01-01T00:00:00.000Z"
# OGC 12-128r17, annex F.9 (Schema): tables word for word
_DATA_COLUMNS: Final = (
    "CREATE TABLE gpkg_data_columns (table_name TEXT NOT NULL, column_name TEXT NOT NULL, name TEXT, title TEXT, "
    "description TEXT, mime_type TEXT, constraint_name TEXT, "
    "CONSTRAINT pk_gdc PRIMARY KEY (table_name, column_name), CONSTRAINT gdc_tn UNIQUE (table_name, name))"
)
_CONSTRAINTS: Final = (
    "CREATE TABLE gpkg_data_column_constraints (constraint_name TEXT NOT NULL, constraint_type TEXT NOT NULL, "
    "value TEXT, min NUMERIC, min_is_inclusive BOOLEAN, max NUMERIC, max_is_inclusive BOOLEAN, description TEXT, "
    "CONSTRAINT gdcc_ntv UNIQUE (constraint_name, constraint_type, value))"
)
# the version that programs of 2021 and later read without a warning
_VERSION: Final = "1.3"
_SCHEMA_DEFINITION: Final = "http://www.geopackage.org/spec130/#extension_schema"
_STYLE_TABLE: Final = (
    "CREATE TABLE layer_styles (id INTEGER PRIMARY KEY AUTOINCREMENT NOT NULL, f_table_catalog TEXT, "
    "f_table_schema TEXT, f_table_name TEXT, f_geometry_column TEXT, styleName TEXT, styleQML TEXT, styleSLD TEXT, "
    "useAsDefault BOOLEAN, description TEXT, owner TEXT, ui TEXT, update_time DATETIME)"
)
_OWN_COLUMN: Final = "The register's own column, as it was read"


def write_geopackage(
    table: pd.DataFrame,
    places: pd.DataFrame,
    findings: pd.DataFrame | None,
    orders: pd.DataFrame | None,
    segments: gpd.GeoDataFrame,
    districts: gpd.GeoDataFrame | None,
    crs: CRS,
    path: Path,
    *,
    title: str | None = None,
    as_of: dt.date | None = None,
) -> None:
    """Write the GeoPackage.

    Parameters
    ----------
    table
        The table of cores, N rows; all of its columns or some. What a style needs and is not there is left out of it.
    places
        ``x_m``, ``y_m`` of them in ``crs``; a core without them stands in the layer without a point.
    findings, orders
        Tables, written as they are; None for none.
    segments, districts
        In ``crs``, with the counts of cores by status.
    crs
        Projected, in metres.
    path
        The file; there must be none yet.
    title, as_of
        Name of the programme and date of the run, for the descriptions of the layers.

    Notes
    -----
    Layers stand in the file with those on top first. Columns are described by the Schema extension of the OGC's
    GeoPackage standard (12-128r17, annex F.9), styles lie in the table ``layer_styles`` of QGIS, as QML and as SLD.
    """
    points = shapely.points(places["x_m"].to_numpy(), places["y_m"].to_numpy())
    points[places["x_m"].isna().to_numpy()] = None
    cores = gpd.GeoDataFrame(table, geometry=points, crs=crs)
    frames: dict[str, pd.DataFrame] = {"cores": cores}
    pyogrio.set_gdal_config_options({"OGR_CURRENT_DATE": _DATE})
    try:
        _write(cores, path, "cores", "Point")
        frames["segments"] = segments.sort_values("segment_id", kind="stable")
        _write(frames["segments"], path, "segments", "LineString")
        if districts is not None:
            frames["districts"] = districts.assign(geometry=_multi(districts))
            _write(frames["districts"], path, "districts", "MultiPolygon")
        if findings is not None:
            frames["findings"] = findings
            _write(findings, path, "findings", None)
        if orders is not None:
            frames["orders"] = rounded(orders)
            _write(frames["orders"], path, "orders", None)
    finally:
        pyogrio.set_gdal_config_options({"OGR_CURRENT_DATE": None})
    told = {layer: tell_columns(layer, frame) for layer, frame in frames.items()}
    run = f" {title}." if title else ""
    run += f" As of {as_of.isoformat()}." if as_of else ""
    with closing(sqlite3.connect(path)) as database, database:
        _name_layers(database, list(frames), run)
        _describe_columns(database, told)
        _add_styles(database, told)


def _multi(districts: gpd.GeoDataFrame) -> gpd.GeoSeries:
    return districts.geometry.map(
        lambda shape: shapely.multipolygons([shape]) if shape.geom_type == "Polygon" else shape
    )


def _write(frame: pd.DataFrame, path: Path, layer: str, kind: str | None) -> None:
    options: dict[str, object] = {"geometry_type": kind} if kind else {}
    if not path.exists():
        options["dataset_options"] = {"VERSION": _VERSION}
    pyogrio.write_dataframe(
        frame.reset_index(drop=True),
        path,
        layer=layer,
        driver="GPKG",
        append=path.exists(),
        use_arrow=True,
        **options,
    )


def _name_layers(database: sqlite3.Connection, layers: list[str], run: str) -> None:
    database.executemany(
        "UPDATE gpkg_contents SET identifier = ?, description = ? WHERE table_name = ?",
        [(LAYERS[layer][0], f"{LAYERS[layer][0]}: {LAYERS[layer][1]}.{run}", layer) for layer in layers],
    )


def _columns_in(database: sqlite3.Connection, layer: str) -> list[str]:
    """Return a table's columns as they stand in the file, its geometry left out."""
    rows = database.execute("SELECT name FROM pragma_table_info(?)", (layer,))
    return [name for (name,) in rows if name != "geom"]


def _describe_columns(database: sqlite3.Connection, told: Mapping[str, Mapping[str, Told]]) -> None:
    database.execute(_DATA_COLUMNS)
    database.execute(_CONSTRAINTS)
    rows: list[tuple[str | None, ...]] = []
    lists: list[tuple[str | None, ...]] = []
    for layer, columns in told.items():
        for name in _columns_in(database, layer):
            if name in columns:
                one = columns[name]
                constraint = f"{layer}_{name}_enum" if one.values else None
                rows.append((layer, name, one.title, one.title, one.meaning, constraint))
                lists += [(constraint, value, meaning) for value, meaning in one.values.items()]
            elif layer == "cores" and name != "fid":
                rows.append((layer, name, None, None, _OWN_COLUMN, None))
    database.executemany(
        "INSERT INTO gpkg_data_columns (table_name, column_name, name, title, description, constraint_name) "
        "VALUES (?, ?, ?, ?, ?, ?)",
        rows,
    )
    database.executemany(
        "INSERT INTO gpkg_data_column_constraints (constraint_name, constraint_type, value, description) "
        "VALUES (?, 'enum', ?, ?)",
        lists,
    )
    database.executemany(
        "INSERT INTO gpkg_extensions (table_name, column_name, extension_name, definition, scope) "
        "VALUES (?, NULL, 'gpkg_schema', ?, 'read-write')",
        [(table, _SCHEMA_DEFINITION) for table in ("gpkg_data_columns", "gpkg_data_column_constraints")],
    )


def _add_styles(database: sqlite3.Connection, told: Mapping[str, Mapping[str, Told]]) -> None:
    """Add the table that QGIS and other programs read as the default look of each layer."""
    database.execute(_STYLE_TABLE)
    for layer, columns in told.items():
        names = _columns_in(database, layer)
        sld = as_sld(layer, names)
        database.execute(
            "INSERT INTO layer_styles (f_table_catalog, f_table_schema, f_table_name, f_geometry_column, styleName, "
            "styleQML, styleSLD, useAsDefault, description, owner, update_time) "
            "VALUES ('', '', ?, ?, ?, ?, ?, 1, ?, '', ?)",
            (layer, "geom" if sld else "", layer, as_qml(layer, names, columns), sld, LAYERS[layer][0], _DATE),
        )
    database.execute(
        "INSERT INTO gpkg_contents (table_name, data_type, identifier, description, last_change) "
        "VALUES ('layer_styles', 'attributes', 'layer_styles', 'Default styles of the layers, as QML and as SLD', ?)",
        (_DATE,),
    )
