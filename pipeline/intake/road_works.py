"""Further layers of the road: slab joints, resurfaced roads, planned works, protected streets."""

from typing import Final, NamedTuple

import geopandas as gpd
import numpy as np
import numpy.typing as npt
import pandas as pd
import shapely
from pyproj import CRS

from pipeline.errors import InputError
from pipeline.intake.cells.date_order import contradiction, count_orders
from pipeline.intake.cells.dates import read_dates
from pipeline.intake.placed_layer import (
    PlacedLayer,
    layer_column,
    projected,
    refuse_missing_column,
    valid_shapes,
    within_crs,
)
from pipeline.wording import counted

__all__ = ["WORKS_LAYERS", "as_joints", "as_works", "with_known_segments"]

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

# sections of the programme file with a layer of works
WORKS_LAYERS: Final = frozenset(_DAYS)


def as_joints(layer: PlacedLayer, crs: CRS) -> gpd.GeoDataFrame:
    """Return slab joints and edges as lines in the run's CRS; of a slab drawn as a polygon, its outline."""
    shapes = projected(layer, crs)
    shapes = shapes[within_crs(layer, shapes)]
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
        The layer lacks the required column or has no day in it that can be read, or its dates contradict ``day_first``.
    """
    days = _DAYS[layer.name]
    refuse_missing_column(layer, days.required)
    read = {name: _read_days(layer, name, timezone, day_first=day_first) for name in days[:2] if name is not None}
    if days.until is not None:
        _ignore_reversed(layer, days, read)
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
        geometry=valid_shapes(layer, crs),
        crs=crs,
    )
    required = "on" if days.required == days.on else "until"
    return frame[_can_be_placed(layer, frame)].dropna(subset=required).reset_index(drop=True)


def with_known_segments(works: gpd.GeoDataFrame, layer: PlacedLayer, segments: gpd.GeoDataFrame) -> gpd.GeoDataFrame:
    """Return works without the segment ids that the roads do not have: these works apply where they are drawn.

    The layer's notices grow by what they are.
    """
    named = works["segment_id"]
    unknown = named.notna() & ~named.isin(segments["segment_id"])
    if unknown.any():
        layer.table.notices.append(
            f"{layer.table.label}: {counted(int(unknown.sum()), 'feature')} with a `segment_id` that is not in the "
            f"roads (such as {_example(named[unknown], works['feature'][unknown])}), used where drawn. Correct the id."
        )
    return works.assign(segment_id=named.mask(unknown))


def _can_be_placed(layer: PlacedLayer, frame: gpd.GeoDataFrame) -> npt.NDArray[np.bool_]:
    """Return which features have a shape that the run's CRS can hold; the others are reported."""
    shapes = frame.geometry.to_numpy()
    nothing = shapely.is_empty(shapes)
    if nothing.any():
        layer.table.notices.append(
            f"{layer.table.label}: {counted(int(nothing.sum()), 'feature')} whose polygon has no area (such as feature "
            f"{frame['feature'].to_numpy()[nothing][0]}), ignored. Draw the polygon again."
        )
    placed: npt.NDArray[np.bool_] = ~nothing & within_crs(layer, shapes)
    return placed


def _ignore_reversed(layer: PlacedLayer, days: _Days, read: dict[str, pd.Series]) -> None:
    """Report features that end before they begin, and drop the day of theirs that is not required."""
    assert days.until is not None
    wrong = read[days.until] < read[days.on]
    if not wrong.any():
        return
    dropped = days.until if days.required == days.on else days.on
    layer.table.notices.append(
        f"{layer.table.label}: {counted(int(wrong.sum()), 'feature')} with `{days.until}` before `{days.on}` (such as "
        f"feature {layer.table.rows[wrong][0]}), `{dropped}` ignored. Correct the dates."
    )
    read[dropped] = read[dropped].mask(wrong)


def _example(text: pd.Series, feature: pd.Series) -> str:
    """Return the first cell with the number of its feature."""
    return f"{text.iloc[0]!r} in feature {feature.iloc[0]}"


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
    undated = days.instants.isna() if is_required else days.instants.isna() & text.notna()
    if not undated.any():
        return days.instants
    written = undated & text.notna()
    unsettled = days.problem.eq("day or month first")
    shown = unsettled if unsettled.any() else written
    why = f" (such as {_example(text[shown], pd.Series(layer.table.rows)[shown])}" if shown.any() else ""
    why += (", in which day or month may come first)" if unsettled.any() else ")") if why else ""
    if undated.all() and is_required:
        raise InputError(
            f"{layer.table.label}: none of {counted(len(text), 'feature')} has a readable date in `{name}`{why}; "
            f"expected dates such as 2026-09-30. Correct them, or name another column in {layer.name}.columns.{name}."
        )
    what = "ignored: no" if is_required else "with no"
    layer.table.notices.append(
        f"{layer.table.label}: {counted(int(undated.sum()), 'feature')} {what} readable date in `{name}`{why}. "
        "Write dates such as 2026-09-30."
    )
    return days.instants
