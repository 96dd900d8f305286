"""The road layer: one row per unbroken line of a road segment, in the run's CRS."""

from typing import Final

import geopandas as gpd
import numpy as np
import pandas as pd
import shapely
from pyproj import CRS

from pipeline.errors import InputError
from pipeline.intake.cells.measures import read_measures
from pipeline.intake.cells.numbers import read_numbers
from pipeline.intake.crs_source import crs_cure, crs_source
from pipeline.intake.placed_layer import PlacedLayer, layer_column, projected, surface_column, within_crs
from pipeline.programme.catalogue import Catalogue
from pipeline.wording import counted

__all__ = ["as_segments"]

# between neighbouring vertices; hardly any road is drawn so straight, and a wrong vertex is further away than most
_LONGEST_STRAIGHT_KM: Final = 20
# a segment may be drawn as several lines, but not a town
_MANY_LINES: Final = 20
# words in the level or tunnel column of a road layer for a road below ground
_UNDERGROUND: Final = {"yes", "true", "tunnel", "underground", "culvert", "covered", "building_passage"}


def as_segments(layer: PlacedLayer, catalogue: Catalogue, crs: CRS) -> gpd.GeoDataFrame:
    """Return the road segments in the run's CRS, one row per unbroken line.

    Columns ``segment_id``, ``street``, ``surface``, ``road_class``, ``class_name`` (the catalogue's name of the class),
    ``road_authority``, ``slope_percent``, ``half_width_m`` (from the layer's width, else by class),
    ``is_underground``, ``start_m`` (chainage at the start of the line: the lines of a segment continue one another),
    geometry. Sorted by segment id, whole numbers by value, so that the first of equal segments does not depend on the
    order of the layer.

    Raises
    ------
    InputError
        No segment has a length in the run's CRS.
    """
    ids = layer_column(layer, "segment_id").fillna(pd.Series(layer.table.rows).astype("str"))
    lines = projected(layer, crs)
    within_crs(layer, lines)
    several = shapely.get_type_id(lines) == shapely.GeometryType.MULTILINESTRING
    lines[several] = shapely.line_merge(lines[several])
    road_class = layer_column(layer, "road_class")
    frame = gpd.GeoDataFrame(
        {
            "segment_id": ids,
            "street": layer_column(layer, "street"),
            "surface": surface_column(layer, catalogue),
            "road_class": road_class,
            "class_name": catalogue.road_classes(road_class).fillna("other"),
            "road_authority": layer_column(layer, "road_authority"),
            "slope_percent": _slope_percent(layer),
            "half_width_m": _width_m(layer, catalogue) / 2,
            "is_underground": _is_underground(layer_column(layer, "level")),
        },
        geometry=lines,
        crs=crs,
    ).explode(ignore_index=False)
    frame = frame[np.isfinite(frame.length) & frame.length.gt(0)]
    if frame.empty:
        raise InputError(
            f"{layer.table.label}: no segment has a length in {crs.name}. Its CRS is "
            f"{crs_source(layer.table, layer.section, layer.crs, layer.name)}. "
            + crs_cure(layer.table, layer.section, layer.crs, layer.name)
        )
    _report_straight(layer, frame)
    length = frame.length
    frame["start_m"] = length.groupby(level=0).cumsum() - length
    repeats = int(ids.duplicated().sum())
    if repeats == len(ids) - 1 >= _MANY_LINES:
        raise InputError(
            f"{layer.table.label}: all {len(ids):,} features have the segment id {ids.iloc[0]!r}; expected a different "
            f"id for each segment. Name another column in {layer.name}.columns.segment_id, or leave that key out: "
            "segments are then numbered."
        )
    if repeats:
        layer.table.notices.append(
            f"{layer.table.label}: {counted(repeats, 'feature')} with the segment id of an earlier feature; features "
            "that share an id are treated as one segment."
        )
    return _sorted_by_id(frame)


def _report_straight(layer: PlacedLayer, frame: gpd.GeoDataFrame) -> None:
    """Report lines that go straight on for longer than roads do, such as from the town to a vertex far away."""
    points, line = shapely.get_coordinates(frame.geometry.array, return_index=True)
    km = np.hypot(*np.diff(points, axis=0).T) / 1000
    km[line[1:] != line[:-1]] = 0
    is_long = km > _LONGEST_STRAIGHT_KM
    if not is_long.any():
        return
    features = layer.table.rows[layer.table.frame.index.get_indexer(frame.index[line[1:]])]
    longest, count = km.argmax(), len(np.unique(features[is_long]))
    such_as = f"feature {features[longest]}, {km[longest]:,.0f} km"
    layer.table.notices.append(
        f"{layer.table.label}: {counted(count, 'feature')} with neighbouring vertices more than {_LONGEST_STRAIGHT_KM} "
        f"km apart (such as {such_as}), used as drawn. Correct the coordinates if one of them is wrong."
    )


def _sorted_by_id(frame: gpd.GeoDataFrame) -> gpd.GeoDataFrame:
    """Return the lines sorted by segment id, by value where every id is a whole number, then by geometry."""
    are_numbers = frame["segment_id"].str.fullmatch(r"[0-9]{1,18}").all()
    number = pd.to_numeric(frame["segment_id"]) if are_numbers else pd.Series(0, frame.index)
    keys = pd.DataFrame({"number": number, "id": frame["segment_id"]}).reset_index(drop=True)
    key = keys["number" if are_numbers else "id"]
    if key.is_unique:
        order = key.sort_values().index
    else:
        keys["wkb"] = shapely.to_wkb(frame.geometry.array)
        order = keys.sort_values(["number", "id", "wkb"], kind="stable").index
    return frame.iloc[order].reset_index(drop=True)


def _width_m(layer: PlacedLayer, catalogue: Catalogue) -> pd.Series:
    """Return the width of each road in metres: the layer's own, else the usual one of its class."""
    by_class = catalogue.road_widths_m(layer_column(layer, "road_class"))
    written = read_measures(layer_column(layer, "width"), "m", "m", None)
    unread = int(written.problem.notna().sum())
    if unread:
        layer.table.notices.append(
            f"{layer.table.label}: {counted(unread, 'width')} cannot be read; the usual width of the class is used."
        )
    return written.values.where(written.values.gt(0)).fillna(by_class)


def _slope_percent(layer: PlacedLayer) -> pd.Series:
    """Return slopes in percent, written with or without the sign; "1 in 12" and the like are reported and not read."""
    written = layer_column(layer, "slope")
    slope = read_numbers(written.str.replace("%", "", regex=False).str.strip(), None)
    unread = int((written.notna() & slope.isna()).sum())
    if unread:
        layer.table.notices.append(
            f"{layer.table.label}: {counted(unread, 'slope')} cannot be read. Write slopes in percent, such as 8."
        )
    return slope


def _is_underground(level: pd.Series) -> pd.Series:
    """Return where the level is below zero, or a word for it; a bridge, above zero, can have cores."""
    number = pd.to_numeric(level, errors="coerce")
    return number.lt(0) | level.str.casefold().isin(_UNDERGROUND)
