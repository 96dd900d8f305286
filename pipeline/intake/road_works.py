"""Further layers of the road: slab joints, resurfaced roads, planned works, protected streets."""

from typing import Final, NamedTuple

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


class _Days(NamedTuple):
    """The columns with the first and last day of works, ``until`` None for none, and which of them is required."""

    on: str
    until: str | None
    required: str


_DAYS: Final = {
    "resurfaced": _Days("resurfaced_on", None, "resurfaced_on"),
    "planned_works": _Days("due_on", "ends_on", "due_on"),
    "protected": _Days("from", "until", "until"),
}


def as_joints(layer: PlacedLayer, crs: CRS) -> gpd.GeoDataFrame:
    """Return slab joints and edges as lines in the run's CRS; of a slab drawn as a polygon, its outline."""
    shapes = projected(layer, crs)
    slabs = pd.Series(shapely.get_type_id(shapes)).isin(_POLYGONS).to_numpy()
    shapes[slabs] = shapely.boundary(shapes[slabs])
    return gpd.GeoDataFrame(geometry=shapes, crs=crs)


def as_works(layer: PlacedLayer, crs: CRS, timezone: str, *, day_first: bool | None) -> gpd.GeoDataFrame:
    """Return road works in the run's CRS.

    Parameters
    ----------
    layer
        Lines or polygons of resurfaced roads, planned works or protected streets.
    crs
        The run's CRS.
    timezone
        IANA name of the programme's time zone.
    day_first
        Whether 03/04/2026 is 3 April; None refuses such a date.

    Returns
    -------
    geopandas.GeoDataFrame
        ``feature`` (number in the file, from 1), ``works_id``, ``name``, ``on`` and ``until`` (instants in the
        programme's time zone; the one that the layer must have is never missing), ``segment_id``, geometry. Features
        whose required day cannot be read are reported and left out.

    Raises
    ------
    InputError
        The layer lacks the required column, or its dates contradict ``day_first``.
    """
    days = _DAYS[layer.name]
    refuse_missing_column(layer, days.required)
    read = {name: _read_days(layer, name, timezone, day_first=day_first) for name in days[:2] if name is not None}
    nothing = pd.Series(pd.NaT, layer.table.frame.index, dtype=read[days.required].dtype)
    frame = gpd.GeoDataFrame(
        {
            "feature": layer.table.rows,
            "works_id": layer_column(layer, "works_id"),
            "name": layer_column(layer, "name"),
            "on": read[days.on],
            "until": nothing if days.until is None else read[days.until],
            "segment_id": layer_column(layer, "segment_id"),
        },
        geometry=projected(layer, crs),
        crs=crs,
    )
    required = "on" if days.required == days.on else "until"
    return frame.dropna(subset=required).reset_index(drop=True)


def _read_days(layer: PlacedLayer, name: str, timezone: str, *, day_first: bool | None) -> pd.Series:
    """Return a column of days; those that cannot be read are reported.

    Raises
    ------
    InputError
        The dates contradict ``day_first``.
    """
    text = layer_column(layer, name)
    if day_first is not None:
        order = count_orders(text)
        found = contradiction(order, order, "cores.day_first", day_first=day_first)
        if found:
            raise InputError(
                f"{layer.table.label}: the column for `{name}` {found}. Write the dates of this layer as 2026-09-30."
            )
    days = read_dates(text, timezone, day_first=day_first)
    is_required = name == _DAYS[layer.name].required
    undated = int(days.instants.isna().sum() if is_required else (days.instants.isna() & text.notna()).sum())
    if undated:
        unsettled = days.problem.eq("day or month first")
        why = f" (in {text[unsettled].iloc[0]!r} day or month may come first)" if unsettled.any() else ""
        what = "ignored: no" if is_required else "with no"
        layer.table.notices.append(
            f"{layer.table.label}: {counted(undated, 'feature')} {what} readable date in `{name}`"
            f"{why}. Write dates such as 2026-09-30."
        )
    return days.instants
