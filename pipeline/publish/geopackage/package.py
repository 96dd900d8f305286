"""The GeoPackage: cores, works, segments, districts, findings and orders, described and styled for a GIS desktop.

It holds no project: a project names its own file, so a copy under another name would open empty. What a project
would add is in the layers themselves: their order, styles, titles and lists of values.
"""

import datetime as dt
import sqlite3
from collections.abc import Callable, Mapping
from contextlib import closing
from functools import partial
from pathlib import Path
from typing import Final, NamedTuple

import geopandas as gpd
import pandas as pd
import pyogrio
import shapely
from pyproj import CRS

from pipeline.clock import Counted, uncounted
from pipeline.publish.geopackage.columns import LAYERS, Description, date_columns, describe_columns
from pipeline.publish.geopackage.dates import with_dates
from pipeline.publish.geopackage.qgis_styles import as_qml
from pipeline.publish.geopackage.relations import Relation, relate
from pipeline.publish.geopackage.scales import Scales, scales_of
from pipeline.publish.geopackage.sld_styles import as_sld
from pipeline.publish.tables import rounded
from pipeline.publish.urgent_first import most_urgent_first
from pipeline.publish.works import works_layers
from pipeline.works import ListedWorks

__all__ = ["GeoPackage", "write_geopackage"]

# a fixed time, so that the same inputs give the same bytes
_DATE: Final = "2000-01-01T00:00:00.000Z"
_WHILE_WRITING: Final = {
    # GDAL would otherwise write the time of day
    "OGR_CURRENT_DATE": _DATE,
    # nobody else reads a file that is not there yet, and of a broken one nothing is kept: no journal, no waiting for
    # the disk, and pages stay in memory until the layer is complete
    "OGR_SQLITE_PRAGMA": "journal_mode=OFF,synchronous=OFF,cache_size=-200000",
}
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


class GeoPackage(NamedTuple):
    """What a GeoPackage holds.

    ``cores``: N rows, all columns of the table of cores or some; what a style needs and is not there is left out of
    it. ``positions``: ``x_m``, ``y_m`` of them in ``crs``; a core without them is in the layer without a point.
    ``segments``, ``districts``: in ``crs``, with the counts of cores by status. ``crs``: projected, in metres.
    ``findings``, ``orders``: tables, findings written with the most urgent first; None for none. ``title``, ``as_of``:
    name of the programme and date of the run, for the descriptions of the layers. ``is_pack``: it is handed to the road
    authority. ``works``: in ``crs``, with the cores in each; None for none. ``changes``, ``rules``: what changed since
    the run before, and the rule book, as a pack has them; None for none.
    """

    cores: pd.DataFrame
    positions: pd.DataFrame
    segments: gpd.GeoDataFrame
    districts: gpd.GeoDataFrame | None
    crs: CRS
    findings: pd.DataFrame | None = None
    orders: pd.DataFrame | None = None
    title: str | None = None
    as_of: dt.date | None = None
    is_pack: bool = False
    works: ListedWorks | None = None
    changes: pd.DataFrame | None = None
    rules: pd.DataFrame | None = None


def write_geopackage(content: GeoPackage, path: Path, tell: Counted = uncounted) -> dict[str, pd.DataFrame]:
    """Write the GeoPackage, and return its shapes besides the cores, by layer as they are in it.

    Parameters
    ----------
    content
        What it holds.
    path
        The file; there must be none yet.
    tell
        Is told the layers written: in parts, a layer would be written with other bytes.

    Notes
    -----
    Layers are in the file with those on top first. Columns are described by the Schema extension of the OGC's
    GeoPackage standard (12-128r17, annex F.9). Styles are in the table ``layer_styles`` of QGIS, as QML and as SLD.
    """
    # a layer is made as it is written, and of the long ones no more is kept than the rest asks for
    layers: dict[str, pd.DataFrame] = {}
    described: dict[str, Mapping[str, Description]] = {}
    pyogrio.set_gdal_config_options(_WHILE_WRITING)
    try:
        made = _layers(content)
        for done, (name, (make, kind)) in enumerate(made.items()):
            tell(done, len(made), "layers")
            frame = make()
            _write(with_dates(frame, date_columns(name, is_pack=content.is_pack)), path, name, kind)
            described[name] = describe_columns(name, frame.columns, is_pack=content.is_pack)
            is_drawn = kind is not None and name != "cores"
            layers[name] = frame if is_drawn else pd.DataFrame(frame.filter(items=["row"]))
    finally:
        pyogrio.set_gdal_config_options(dict.fromkeys(_WHILE_WRITING))
    run = f" {content.title}." if content.title else ""
    run += f" As of {content.as_of.isoformat()}." if content.as_of else ""
    with closing(sqlite3.connect(path)) as database, database:
        _name_layers(database, list(layers), run)
        relate(database, _relations(layers, content.works), _DATE)
        _describe_columns(database, described)
        _add_styles(database, described, scales_of(content.cores, content.segments))
    return {name: frame.reset_index(drop=True) for name, frame in layers.items() if "geometry" in frame}


def _layers(content: GeoPackage) -> dict[str, tuple[Callable[[], pd.DataFrame], str | None]]:
    """Return what makes each layer and its kind of geometry, None for a table, in the order of the file."""
    layers: dict[str, tuple[Callable[[], pd.DataFrame], str | None]] = {
        "cores": (partial(_points, content), "Point"),
        "segments": (partial(content.segments.sort_values, "segment_id", kind="stable"), "LineString"),
    }
    if content.works is not None:
        kinds = {"works": "MultiPolygon", "works_lines": "MultiLineString"}
        layers |= {name: (layer.copy, kinds[name]) for name, layer in works_layers(content.works.works).items()}
    if content.districts is not None:
        layers["districts"] = (partial(content.districts.assign, geometry=_multi(content.districts)), "MultiPolygon")
    if content.findings is not None:
        layers["findings"] = (partial(most_urgent_first, content.findings), None)
    for name, table in (("changes", content.changes), ("rules", content.rules)):
        if table is not None:
            layers[name] = (table.copy, None)
    if content.orders is not None:
        layers["orders"] = (partial(rounded, content.orders), None)
    return layers


def _points(content: GeoPackage) -> gpd.GeoDataFrame:
    points = shapely.points(content.positions["x_m"].to_numpy(), content.positions["y_m"].to_numpy())
    points[content.positions["x_m"].isna().to_numpy()] = None
    return gpd.GeoDataFrame(content.cores, geometry=points, crs=content.crs)


def _relations(layers: Mapping[str, pd.DataFrame], works: ListedWorks | None) -> list[Relation]:
    """Return which findings belong to which core, and which cores lie in which works; rows are numbered as written."""
    cores = layers["cores"]
    if "row" not in cores:
        return []
    number = pd.Series(range(1, len(cores) + 1), cores["row"])
    relations = []
    if "findings" in layers:
        found = layers["findings"]["row"]
        fids = pd.Series(range(1, len(found) + 1))
        relations.append(
            Relation(
                "cores", "findings", "attributes", "cores_findings", "Which findings belong to which core",
                found.map(number), fids,
            )
        )  # fmt: skip
    for name in ("works", "works_lines"):
        if works is not None and name in layers:
            here = layers[name]["works_id"]
            fid = pd.Series(range(1, len(here) + 1), here)
            inside = works.cores[works.cores["works_id"].isin(here)]
            relations.append(
                Relation(
                    name, "cores", "features", f"{name}_cores", "Which cores lie in which works",
                    inside["works_id"].map(fid), inside["row"].map(number),
                )
            )  # fmt: skip
    return relations


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
        [(LAYERS[layer].title, f"{LAYERS[layer].title}: {LAYERS[layer].meaning}.{run}", layer) for layer in layers],
    )


def _columns_in(database: sqlite3.Connection, layer: str) -> list[str]:
    """Return a table's columns in the order of the file, without its geometry."""
    rows = database.execute("SELECT name FROM pragma_table_info(?)", (layer,))
    return [name for (name,) in rows if name != "geom"]


def _describe_columns(database: sqlite3.Connection, described: Mapping[str, Mapping[str, Description]]) -> None:
    database.execute(_DATA_COLUMNS)
    database.execute(_CONSTRAINTS)
    rows: list[tuple[str | None, ...]] = []
    lists: list[tuple[str | None, ...]] = []
    for layer, columns in described.items():
        for name in _columns_in(database, layer):
            if name in columns:
                title, meaning, values = columns[name]
                constraint = f"{layer}_{name}_enum" if values else None
                rows.append((layer, name, title, title, meaning, constraint))
                lists += [(constraint, value, meaning) for value, meaning in values.items()]
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


def _add_styles(
    database: sqlite3.Connection, described: Mapping[str, Mapping[str, Description]], scales: Scales
) -> None:
    """Add the table from which QGIS and other programs read the default style of each layer."""
    database.execute(_STYLE_TABLE)
    for layer, columns in described.items():
        names = _columns_in(database, layer)
        sld = as_sld(layer, names)
        database.execute(
            "INSERT INTO layer_styles (f_table_catalog, f_table_schema, f_table_name, f_geometry_column, styleName, "
            "styleQML, styleSLD, useAsDefault, description, owner, update_time) "
            "VALUES ('', '', ?, ?, ?, ?, ?, 1, ?, '', ?)",
            (
                layer,
                "geom" if sld else "",
                layer,
                as_qml(layer, names, columns, scales),
                sld,
                LAYERS[layer].title,
                _DATE,
            ),
        )
    database.execute(
        "INSERT INTO gpkg_contents (table_name, data_type, identifier, description, last_change) "
        "VALUES ('layer_styles', 'attributes', 'layer_styles', 'Default styles of the layers, as QML and as SLD', ?)",
        (_DATE,),
    )
