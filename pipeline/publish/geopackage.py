"""The GeoPackage: cores, segments, districts, findings and orders, styled for a GIS desktop."""

import sqlite3
from contextlib import closing
from pathlib import Path
from typing import Final

import geopandas as gpd
import pandas as pd
import pyogrio
import shapely
from pyproj import CRS

from pipeline.publish.looks import DISTRICT_LINE, SEGMENT_LINE, STATUS_LOOKS
from pipeline.publish.tables import rounded

__all__ = ["write_geopackage"]

# what GDAL would otherwise take from the clock
_DATE: Final = "2000-01-01T00:00:00.000Z"


def write_geopackage(
    table: pd.DataFrame,
    places: pd.DataFrame,
    findings: pd.DataFrame,
    orders: pd.DataFrame | None,
    segments: gpd.GeoDataFrame,
    districts: gpd.GeoDataFrame | None,
    crs: CRS,
    path: Path,
) -> None:
    """Write the GeoPackage.

    Parameters
    ----------
    table
        The table of cores, N rows.
    places
        ``x_m``, ``y_m`` of them in ``crs``; a core without them stands in the layer without a point.
    findings, orders
        Tables, written as they are.
    segments, districts
        In ``crs``, with the counts of cores by status.
    """
    points = shapely.points(places["x_m"].to_numpy(), places["y_m"].to_numpy())
    points[places["x_m"].isna().to_numpy()] = None
    cores = gpd.GeoDataFrame(table, geometry=points, crs=crs)
    pyogrio.set_gdal_config_options({"OGR_CURRENT_DATE": _DATE})
    try:
        _write(cores, path, "cores", "Point")
        _write(segments.sort_values("segment_id", kind="stable"), path, "segments", "LineString")
        if districts is not None:
            _write(districts.assign(geometry=_multi(districts)), path, "districts", "MultiPolygon")
        _write(findings, path, "findings", None)
        if orders is not None:
            _write(rounded(orders), path, "orders", None)
    finally:
        pyogrio.set_gdal_config_options({"OGR_CURRENT_DATE": None})
    _add_styles(path, with_districts=districts is not None)


def _multi(districts: gpd.GeoDataFrame) -> gpd.GeoSeries:
    return districts.geometry.map(
        lambda shape: shapely.multipolygons([shape]) if shape.geom_type == "Polygon" else shape
    )


def _write(frame: pd.DataFrame, path: Path, layer: str, kind: str | None) -> None:
    options = {"geometry_type": kind} if kind else {}
    pyogrio.write_dataframe(
        frame.reset_index(drop=True),
        path,
        layer=layer,
        driver="GPKG",
        append=path.exists(),
        use_arrow=True,
        **options,
    )


def _add_styles(path: Path, *, with_districts: bool) -> None:
    """A style table that QGIS and other programs read as the default look of each layer."""
    styles = {"segments": _line_style(SEGMENT_LINE, 0.4), "cores": _core_style()}
    if with_districts:
        styles["districts"] = _outline_style()
    with closing(sqlite3.connect(path)) as database, database:
        database.execute(
            "CREATE TABLE layer_styles (id INTEGER PRIMARY KEY AUTOINCREMENT, f_table_catalog TEXT, "
            "f_table_schema TEXT, "
            "f_table_name TEXT, f_geometry_column TEXT, styleName TEXT, styleQML TEXT, "
            "styleSLD TEXT, useAsDefault BOOLEAN, "
            "description TEXT, owner TEXT, ui TEXT, update_time DATETIME)"
        )
        database.executemany(
            "INSERT INTO layer_styles (f_table_catalog, f_table_schema, f_table_name, "
            "f_geometry_column, styleName, styleQML, "
            "useAsDefault, update_time) VALUES ('', '', ?, 'geom', ?, ?, 1, ?)",
            [(layer, layer, style, _DATE) for layer, style in sorted(styles.items())],
        )
        database.execute(
            "INSERT INTO gpkg_contents (table_name, data_type, identifier, description, last_change) "
            "VALUES ('layer_styles', 'attributes', 'layer_styles', '', ?)",
            (_DATE,),
        )


def _option(name: str, value: object) -> str:
    return f'<Option name="{name}" type="QString" value="{value}"/>'


def _symbol(name: str, kind: str, layer: str, options: dict[str, object]) -> str:
    inner = "".join(_option(key, value) for key, value in options.items())
    return (
        f'<symbol name="{name}" type="{kind}" alpha="1"><layer class="{layer}" enabled="1" pass="0">'
        f'<Option type="Map">{inner}</Option></layer></symbol>'
    )


def _qml(renderer: str, geometry_type: int) -> str:
    return (
        '<!DOCTYPE qgis PUBLIC "http://mrcc.com/qgis.dtd" "SYSTEM"><qgis styleCategories="Symbology" version="3.22">'
        f"{renderer}<layerGeometryType>{geometry_type}</layerGeometryType></qgis>"
    )


def _core_style() -> str:
    categories, symbols = "", ""
    for place, (status, look) in enumerate(STATUS_LOOKS.items()):
        categories += f'<category value="{status}" symbol="{place}" label="{status}" render="true"/>'
        symbols += _symbol(
            str(place), "marker", "SimpleMarker",
            {
                "name": look.gis_marker, "color": _rgba(look.fill), "outline_color": _rgba(look.outline),
                "outline_width": "0.4", "outline_width_unit": "MM", "size": "3", "size_unit": "MM",
            },
        )  # fmt: skip
    return _qml(
        f'<renderer-v2 type="categorizedSymbol" attr="status"><categories>{categories}</categories>'
        f"<symbols>{symbols}</symbols></renderer-v2>",
        0,
    )


def _line_style(colour: str, width_mm: float) -> str:
    symbol = _symbol(
        "0",
        "line",
        "SimpleLine",
        {"line_color": _rgba(colour), "line_width": width_mm, "line_width_unit": "MM"},
    )
    return _qml(f'<renderer-v2 type="singleSymbol"><symbols>{symbol}</symbols></renderer-v2>', 1)


def _outline_style() -> str:
    symbol = _symbol(
        "0", "fill", "SimpleFill",
        {
            "style": "no", "outline_color": _rgba(DISTRICT_LINE), "outline_width": "0.6",
            "outline_style": "dash", "outline_width_unit": "MM",
        },
    )  # fmt: skip
    return _qml(f'<renderer-v2 type="singleSymbol"><symbols>{symbol}</symbols></renderer-v2>', 2)


def _rgba(colour: str) -> str:
    return ",".join(str(int(colour[at : at + 2], 16)) for at in (1, 3, 5)) + ",255"
