"""Further layers of the road: slab joints, resurfaced roads, planned works."""

from typing import Final

import geopandas as gpd
import pandas as pd
import shapely
from pyproj import CRS

from pipeline.errors import InputError
from pipeline.intake.cells.date_order import contradiction, count_orders
from pipeline.intake.cells.dates import read_dates
from pipeline.intake.placed_layer import PlacedLayer, layer_column, projected, refuse_missing_column
from pipeline.wording import counted

__all__ = ["as_joints", "as_works"]

_POLYGONS: Final = (shapely.GeometryType.POLYGON, shapely.GeometryType.MULTIPOLYGON)


def as_joints(layer: PlacedLayer, crs: CRS) -> gpd.GeoDataFrame:
    """Return slab joints and edges as lines in the run's CRS; of a slab drawn as a polygon, its outline."""
    shapes = projected(layer, crs)
    slabs = pd.Series(shapely.get_type_id(shapes)).isin(_POLYGONS).to_numpy()
    shapes[slabs] = shapely.boundary(shapes[slabs])
    return gpd.GeoDataFrame(geometry=shapes, crs=crs)


def as_works(layer: PlacedLayer, crs: CRS, date: str, timezone: str, *, day_first: bool | None) -> gpd.GeoDataFrame:
    """Return road works in the run's CRS: ``on`` (day, in the programme's time zone), ``segment_id``, geometry.

    Parameters
    ----------
    layer
        Lines or polygons of works.
    crs
        The run's CRS.
    date
        The layer's column with the day; works whose day cannot be read are reported and left out.
    timezone
        IANA name of the programme's time zone.
    day_first
        Whether 03/04/2026 is 3 April; None refuses such a date.

    Raises
    ------
    InputError
        The layer has no such column, or its dates contradict ``day_first``.
    """
    refuse_missing_column(layer, date)
    text = layer_column(layer, date)
    if day_first is not None:
        order = count_orders(text)
        found = contradiction(order, order, "cores.day_first", day_first=day_first)
        if found:
            raise InputError(
                f"{layer.table.label}: the column for `{date}` {found}. Write the dates of this layer as 2026-09-30."
            )
    days = read_dates(text, timezone, day_first=day_first)
    frame = gpd.GeoDataFrame(
        {"on": days.instants, "segment_id": layer_column(layer, "segment_id")},
        geometry=projected(layer, crs),
        crs=crs,
    )
    undated = int(frame["on"].isna().sum())
    if undated:
        unsettled = days.problem.eq("day or month first")
        why = f" (in {text[unsettled].iloc[0]!r} day or month may come first)" if unsettled.any() else ""
        layer.table.notices.append(
            f"{layer.table.label}: {counted(undated, 'feature')} ignored: no readable date in `{date}`"
            f"{why}. Write dates such as 2026-09-30."
        )
    return frame.dropna(subset="on").reset_index(drop=True)
