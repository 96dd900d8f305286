"""Districts on the map: outlines without text for folium, and one entry per district for the page's list."""

from collections.abc import Hashable
from typing import Any, Final

import geopandas as gpd
import numpy as np
import pandas as pd
import shapely

from pipeline.contracts import NO_DISTRICT, STATUSES
from pipeline.publish.map.packing import shown_text

__all__ = ["outline_districts", "pack_district_rows"]

# degrees, about a metre: less than the width of an outline
OUTLINE_TOLERANCE: Final = 1e-5
OUTLINE_DIGITS: Final = 6
# spots where a district may be named besides its label, in all districts and in each: a few dozen bytes each
_MOST_SPOTS: Final = 3000
_SPOTS_EACH: Final = 140
_SPOT_GRID: Final = 20
_SPOT_DIGITS: Final = 5
ORDER_COLUMNS: Final = ("period", "item", "unit", "needed", "order", "reserve", "packs")


def outline_districts(
    districts: gpd.GeoDataFrame | None,
) -> tuple[list[dict[str, Any]], dict[str, dict[str, Any]]]:
    """Return outlines without text for folium, and by name each district's label point and limits in degrees."""
    if districts is None:
        return [], {}
    named = districts[districts.geometry.notna() & ~districts.geometry.is_empty & districts["district"].notna()]
    geometry = np.asarray(named.geometry.array, dtype=object)
    thin = shapely.simplify(geometry, OUTLINE_TOLERANCE, preserve_topology=True)
    thin = shapely.transform(thin, lambda coordinates: np.round(coordinates, OUTLINE_DIGITS))
    outlines = []
    if len(thin):
        # a border that two districts share is drawn once: dashes over dashes look like another kind of line
        lines = shapely.line_merge(shapely.union_all(shapely.boundary(thin)))
        outlines.append({"type": "Feature", "id": "0", "properties": {}, "geometry": shapely.geometry.mapping(lines)})
    middle = shapely.centroid(geometry)
    is_inside = shapely.intersects_xy(geometry, shapely.get_x(middle), shapely.get_y(middle))
    middle = np.where(is_inside, middle, shapely.point_on_surface(geometry))
    frame = pd.DataFrame(shapely.bounds(geometry), columns=["west", "south", "east", "north"])
    frame["name"] = named["district"].map(str).to_numpy()
    frame["lat"], frame["lon"] = shapely.get_y(middle), shapely.get_x(middle)
    frame["area"], frame["position"] = shapely.area(geometry), np.arange(len(geometry))
    frame = frame.sort_values("area", ascending=False, kind="stable")
    parts = frame.groupby("name")
    ends = parts[["south", "west", "north", "east"]].agg({"south": "min", "west": "min", "north": "max", "east": "max"})
    largest = frame.drop_duplicates("name").set_index("name").loc[ends.index]
    most = min(_SPOTS_EACH, _MOST_SPOTS // max(1, len(ends)))
    limits = {
        str(name): {
            "label": [round(label["lat"], 6), round(label["lon"], 6)],
            "bounds": [[south, west], [north, east]],
            "spots": _spots(geometry[label["position"]], label, most),
        }
        for name, label, (south, west, north, east) in zip(
            ends.index, largest.to_dict("records"), ends.to_numpy().tolist(), strict=True
        )
    }
    return outlines, limits


def _spots(shape: shapely.Geometry, label: dict[Hashable, Any], most: int) -> list[list[float]]:
    """Return spots all over a district, latitude first, the nearest to its label first."""
    sides = [
        np.linspace(label[low], label[high], _SPOT_GRID + 2)[1:-1]
        for low, high in (("west", "east"), ("south", "north"))
    ]
    lon, lat = (side.ravel() for side in np.meshgrid(*sides))
    away = np.hypot((lon - label["lon"]) * np.cos(np.radians(label["lat"])), lat - label["lat"])
    inside = shapely.contains_xy(shape, lon, lat)
    nearest = np.flatnonzero(inside)[np.argsort(away[inside], kind="stable")]
    near, far = nearest[: most // 2], nearest[most // 2 :]
    # all that are near the label, and some from everywhere else: the middle of a town is where most cores lie
    nearest = np.concatenate([near, far[:: max(1, -(-len(far) // max(1, most - len(near))))]])
    return [
        [round(north, _SPOT_DIGITS), round(east, _SPOT_DIGITS)]
        for north, east in zip(lat[nearest].tolist(), lon[nearest].tolist(), strict=True)
    ]


def pack_district_rows(
    cores: pd.DataFrame, orders: pd.DataFrame | None, limits: dict[str, dict[str, Any]]
) -> list[dict[str, Any]]:
    """Return one entry per district: counts by status, order lines, label point and limits; "no district" last."""
    orders = pd.DataFrame(columns=["district", *ORDER_COLUMNS], dtype="str") if orders is None else orders
    ordered_for = orders["district"].mask(orders["district"] == NO_DISTRICT)
    written = [column.dropna().drop_duplicates().map(str) for column in (cores["district"], ordered_for)]
    names: list[str | None] = sorted({*limits, *written[0], *written[1]})
    if cores["district"].isna().any() or ordered_for.isna().any():
        names.append(None)
    district, known = pd.factorize(cores["district"].astype("str").fillna(""))
    status = pd.Index(STATUSES).get_indexer(pd.Index(cores["status"]))
    counts = np.bincount((district * len(STATUSES) + status)[status >= 0], minlength=len(known) * len(STATUSES))
    counted = dict(zip(known, counts.reshape(-1, len(STATUSES)).tolist(), strict=True))
    lines: dict[str | None, list[list[Any]]] = {}
    records = zip(*([_cell(value) for value in orders[column].tolist()] for column in ORDER_COLUMNS), strict=True)
    for name, record in zip(ordered_for.tolist(), records, strict=True):
        lines.setdefault(None if pd.isna(name) else str(name), []).append(list(record))
    return [
        {
            "name": None if name is None else shown_text(name),
            "counts": counted.get(name or "", [0, 0, 0]),
            "orders": lines.get(name, []),
            **limits.get(name or "", {}),
        }
        for name in names
    ]


def _cell(value: object) -> str | float | None:
    if isinstance(value, str):
        return shown_text(value)
    if isinstance(value, (int, float, np.integer, np.floating)):
        return round(float(value), 2) if np.isfinite(value) else None
    return None if pd.isna(value) else shown_text(value)  # type: ignore[call-overload]
