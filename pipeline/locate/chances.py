"""How likely each core is to lie in each of several areas, given the error of its position."""

from typing import NamedTuple

import numpy as np
import numpy.typing as npt
import pandas as pd
import shapely

from pipeline.locate.position_error import FAR, mass_in

__all__ = ["AreaChances", "area_chances", "names_around", "near_edges"]

# chances below this are rounding errors
_NEGLIGIBLE = 1e-9


class AreaChances(NamedTuple):
    """Areas of N cores, by name.

    ``table``: one row per core and name, sorted: ``core`` (position among the cores), ``name``, ``chance`` above zero.
    ``edge_m``: for each core the distance to the nearest edge that its error may cross, in metres; missing without one.
    """

    table: pd.DataFrame
    edge_m: npt.NDArray[np.float64]


def area_chances(
    x: npt.NDArray[np.float64],
    y: npt.NDArray[np.float64],
    sigma: npt.NDArray[np.float64],
    polygons: npt.NDArray[np.object_],
    names: npt.NDArray[np.object_],
) -> AreaChances:
    """Return how likely each of N cores is to lie in each of M polygons that do not overlap.

    Parameters
    ----------
    x, y, sigma
        N positions and the standard deviations of their errors along one axis, in metres; a core without a position
        is in no polygon.
    polygons, names
        M polygons in the same CRS and their names; several polygons may share a name.
    """
    edge_m = np.full(len(x), np.nan)
    placed = np.flatnonzero(np.isfinite(x) & np.isfinite(y))
    hit, polygon = shapely.STRtree(polygons).query(_boxes(x[placed], y[placed], sigma[placed]))
    core = placed[hit]
    points = shapely.points(x[core], y[core])
    # most cores are far from every edge: they are inside or not
    to_edge = shapely.distance(shapely.boundary(polygons)[polygon], points)
    chance = shapely.intersects(polygons[polygon], points).astype(float)
    near = np.flatnonzero(to_edge < FAR * sigma[core])
    chance[near] = mass_in(x[core[near]], y[core[near]], sigma[core[near]], polygons[polygon[near]])
    np.fmin.at(edge_m, core[near], to_edge[near])

    table = pd.DataFrame({"core": core, "name": names[polygon], "chance": chance})
    table = table[table["chance"].gt(_NEGLIGIBLE)].sort_values(["core", "name", "chance"])
    table = table.groupby(["core", "name"])["chance"].sum().reset_index()
    # drawing errors may put a core into two areas at once: the chances never add up to more than one
    total = table.groupby("core")["chance"].transform("sum")
    table["chance"] = table["chance"] / total.clip(lower=1.0)
    return AreaChances(table, edge_m)


def names_around(
    x: npt.NDArray[np.float64],
    y: npt.NDArray[np.float64],
    sigma: npt.NDArray[np.float64],
    polygons: npt.NDArray[np.object_],
    names: npt.NDArray[np.object_],
) -> pd.DataFrame:
    """Return ``core`` and ``name`` for every polygon whose bounding box the error of one of N positions may reach."""
    placed = np.flatnonzero(np.isfinite(x) & np.isfinite(y))
    hit, polygon = shapely.STRtree(polygons).query(_boxes(x[placed], y[placed], sigma[placed]))
    return pd.DataFrame({"core": placed[hit], "name": names[polygon]}).drop_duplicates()


def near_edges(
    x: npt.NDArray[np.float64],
    y: npt.NDArray[np.float64],
    sigma: npt.NDArray[np.float64],
    polygons: npt.NDArray[np.object_],
) -> npt.NDArray[np.intp]:
    """Return which of N cores have an error that may reach an edge of any polygon."""
    points, ring = shapely.get_coordinates(shapely.get_parts(shapely.boundary(polygons)), return_index=True)
    start = np.flatnonzero(ring[:-1] == ring[1:])
    edges = shapely.linestrings(np.stack([points[start], points[start + 1]], axis=1))
    placed = np.flatnonzero(np.isfinite(x) & np.isfinite(y))
    hit, _ = shapely.STRtree(edges).query(_boxes(x[placed], y[placed], sigma[placed]))
    near: npt.NDArray[np.intp] = placed[np.unique(hit)]
    return near


def _boxes(
    x: npt.NDArray[np.float64], y: npt.NDArray[np.float64], sigma: npt.NDArray[np.float64]
) -> npt.NDArray[np.object_]:
    """Return a box around each position as far as its error reaches."""
    reach = FAR * sigma
    boxes: npt.NDArray[np.object_] = shapely.box(x - reach, y - reach, x + reach, y + reach)
    return boxes
