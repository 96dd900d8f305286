"""Further layers of the road: slab joints, resurfaced roads, works that are planned."""

from typing import Final

import geopandas as gpd
import pandas as pd
import shapely
from pyproj import CRS

from pipeline.contracts import Column
from pipeline.errors import InputError
from pipeline.intake.cells.dates import read_dates
from pipeline.intake.register import find_column
from pipeline.intake.road_layer import PlacedLayer, layer_column, projected

__all__ = ["as_joints", "as_works"]

_POLYGONS: Final = (shapely.GeometryType.POLYGON, shapely.GeometryType.MULTIPOLYGON)


def as_joints(layer: PlacedLayer, crs: CRS) -> gpd.GeoDataFrame:
    """Return slab joints and edges as lines in the run's CRS; of a slab drawn as a polygon, its outline."""
    shapes = projected(layer, crs)
    slabs = pd.Series(shapely.get_type_id(shapes)).isin(_POLYGONS).to_numpy()
    shapes[slabs] = shapely.boundary(shapes[slabs])
    return gpd.GeoDataFrame(geometry=shapes, crs=crs)


def as_works(layer: PlacedLayer, crs: CRS, date: str, timezone: str, *, day_first: bool | None) -> gpd.GeoDataFrame:
    """Return the works on roads in the run's CRS: ``on`` (day, in the run's time zone), ``segment_id``, geometry.

    ``date`` is the layer's column that holds the day; works without a day that can be read are left aside, and said.

    Raises
    ------
    InputError
        The layer has no such column.
    """
    if find_column(layer.table, layer.section.columns, Column(date, "text"), layer.name) is None:
        raise InputError(
            f"{layer.table.label}: no column for `{date}`; "
            f"the file has: {', '.join(layer.table.fields or layer.table.frame.columns)}. "
            f'Set {layer.name}.columns.{date} = "..." in the programme file.'
        )
    days = read_dates(layer_column(layer, date), timezone, day_first=day_first)
    frame = gpd.GeoDataFrame(
        {"on": days.instants, "segment_id": layer_column(layer, "segment_id")},
        geometry=projected(layer, crs),
        crs=crs,
    )
    undated = frame["on"].isna()
    if undated.any():
        layer.table.notices.append(
            f"{layer.table.label}: {int(undated.sum())} works have no date that can be read, and are left aside."
        )
    return frame[~undated].reset_index(drop=True)
