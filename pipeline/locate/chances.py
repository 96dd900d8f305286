"""How likely a core is in each of several areas, under the error of its position."""

from typing import NamedTuple

import numpy as np
import numpy.typing as npt
import pandas as pd
import shapely

from pipeline.locate.position_error import FAR, mass_in

__all__ = ["AreaChances", "area_chances", "names_around", "near_edges", "without_smaller"]

# an overlap of less than a hand's breadth square is a slip of drawing
_LEAST_OVERLAP_M2 = 0.01
_SURE = 1e-9


class AreaChances(NamedTuple):
    """``table``: a row for each core and name: ``core`` (place), ``name``, ``chance`` above zero; sorted.

    ``edge_m``: for each of N cores the distance to the nearest edge that its error may cross, missing without one.
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
    """Weigh N positions over M polygons that do not overlap.

    Parameters
    ----------
    x, y, sigma
        N positions and the standard deviations of their errors along one axis, in metres; a missing position is
        in no polygon.
    polygons, names
        M polygons in the same CRS and their names; several may share one.
    """
    edge_m = np.full(len(x), np.nan)
    placed = np.flatnonzero(np.isfinite(x) & np.isfinite(y))
    place, polygon = shapely.STRtree(polygons).query(_boxes(x[placed], y[placed], sigma[placed]))
    core = placed[place]
    points = shapely.points(x[core], y[core])
    # most cores are far from every edge: for them it is yes or no
    to_edge = shapely.distance(shapely.boundary(polygons)[polygon], points)
    chance = shapely.intersects(polygons[polygon], points).astype(float)
    near = np.flatnonzero(to_edge < FAR * sigma[core])
    chance[near] = mass_in(x[core[near]], y[core[near]], sigma[core[near]], polygons[polygon[near]])
    np.fmin.at(edge_m, core[near], to_edge[near])

    table = pd.DataFrame({"core": core, "name": names[polygon], "chance": chance})
    table = table[table["chance"].gt(_SURE)].sort_values(["core", "name", "chance"])
    table = table.groupby(["core", "name"])["chance"].sum().reset_index()
    # slips of drawing may give a core to two names at once: together they are never more than certain
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
    """Return ``core`` and ``name`` of every polygon whose box the error of one of N positions may reach."""
    placed = np.flatnonzero(np.isfinite(x) & np.isfinite(y))
    place, polygon = shapely.STRtree(polygons).query(_boxes(x[placed], y[placed], sigma[placed]))
    return pd.DataFrame({"core": placed[place], "name": names[polygon]}).drop_duplicates()


def near_edges(
    x: npt.NDArray[np.float64],
    y: npt.NDArray[np.float64],
    sigma: npt.NDArray[np.float64],
    polygons: npt.NDArray[np.object_],
) -> npt.NDArray[np.intp]:
    """Return the places of the cores whose error may reach an edge of any polygon."""
    points, ring = shapely.get_coordinates(shapely.get_parts(shapely.boundary(polygons)), return_index=True)
    start = np.flatnonzero(ring[:-1] == ring[1:])
    edges = shapely.linestrings(np.stack([points[start], points[start + 1]], axis=1))
    placed = np.flatnonzero(np.isfinite(x) & np.isfinite(y))
    place, _ = shapely.STRtree(edges).query(_boxes(x[placed], y[placed], sigma[placed]))
    near: npt.NDArray[np.intp] = placed[np.unique(place)]
    return near


def _boxes(
    x: npt.NDArray[np.float64], y: npt.NDArray[np.float64], sigma: npt.NDArray[np.float64]
) -> npt.NDArray[np.object_]:
    reach = FAR * sigma
    boxes: npt.NDArray[np.object_] = shapely.box(x - reach, y - reach, x + reach, y + reach)
    return boxes


def without_smaller(polygons: npt.NDArray[np.object_]) -> npt.NDArray[np.object_]:
    """Cut from each polygon what smaller ones cover, so that none overlap: a patch lies within its street.

    ``polygons`` come smallest first.
    """
    larger, smaller = shapely.STRtree(polygons).query(polygons, predicate="intersects")
    # the edges of streets touch; only areas count
    apart = larger > smaller
    larger, smaller = larger[apart], smaller[apart]
    overlap = shapely.area(shapely.intersection(polygons[larger], polygons[smaller])) > _LEAST_OVERLAP_M2
    larger, smaller = larger[overlap], smaller[overlap]
    order = np.lexsort((smaller, larger))
    larger, smaller = larger[order], smaller[order]
    cut = polygons.copy()
    # one smaller polygon after the other, for all larger ones at once
    turn = np.arange(len(larger)) - np.searchsorted(larger, larger)
    for one in range(int(turn.max(initial=-1)) + 1):
        here = turn == one
        cut[larger[here]] = shapely.difference(cut[larger[here]], polygons[smaller[here]])
    return cut
