"""How likely each core is to lie in each of several areas, given the error of its position."""

from typing import NamedTuple

import numpy as np
import numpy.typing as npt
import pandas as pd
import shapely

from pipeline.clock import uncounted
from pipeline.engines import Done
from pipeline.locate.edge_mass import mass_by_edges
from pipeline.locate.position_error import FAR

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
    place: npt.NDArray[np.intp] | None = None,
    told: Done = uncounted,
) -> AreaChances:
    """Return how likely each of Q cores is to lie in each of M polygons that do not overlap.

    Parameters
    ----------
    x, y
        N positions, in metres; a core without one is in no polygon.
    sigma
        Q standard deviations of their errors along one axis, in metres.
    polygons, names
        M polygons in the same CRS and their names; several polygons may share a name.
    place
        Q, the position of each core, where several have the same one; None where each has its own.
    told
        Is told how many errors are done.
    """
    place = np.arange(len(x)) if place is None else place
    core, polygon, to_edge, is_inside = _reached(x, y, sigma, polygons, place)
    near = np.flatnonzero(to_edge < FAR * sigma[core])
    # most cores are far from every edge: they are inside or not
    chance = is_inside.astype(float)
    own = core[near]
    at = place[own]

    def done(at: int) -> None:
        told(at * len(sigma) // len(near))

    chance[near] = mass_by_edges(x[at], y[at], sigma[own], polygons, polygon[near], is_inside[near], done)
    edge_m = np.full(len(sigma), np.nan)
    np.fmin.at(edge_m, own, to_edge[near])

    code, distinct = pd.factorize(names, sort=True)
    table = pd.DataFrame({"core": core, "name": code[polygon], "chance": chance})
    table = table[table["chance"].gt(_NEGLIGIBLE)].sort_values(["core", "name", "chance"])
    table = table.groupby(["core", "name"])["chance"].sum().reset_index()
    # drawing errors may put a core into two areas at once: the chances never add up to more than one
    total = table.groupby("core")["chance"].transform("sum")
    table["chance"] = table["chance"] / total.clip(lower=1.0)
    return AreaChances(table.assign(name=distinct[table["name"].to_numpy()]), edge_m)


def _reached(
    x: npt.NDArray[np.float64],
    y: npt.NDArray[np.float64],
    sigma: npt.NDArray[np.float64],
    polygons: npt.NDArray[np.object_],
    place: npt.NDArray[np.intp],
) -> tuple[npt.NDArray[np.intp], npt.NDArray[np.intp], npt.NDArray[np.float64], npt.NDArray[np.bool_]]:
    """Return pairs of a core and a polygon, with the distance from its edge, in metres, and whether it holds the core.

    The polygons are those that the widest error at a position reaches.
    """
    widest = np.zeros(len(x))
    np.maximum.at(widest, place, sigma)
    placed = np.flatnonzero(np.isfinite(x) & np.isfinite(y))
    hit, polygon = shapely.STRtree(polygons).query(_boxes(x[placed], y[placed], widest[placed]))
    points = shapely.points(x[placed], y[placed])[hit]
    used, own = np.unique(polygon, return_inverse=True)
    to_edge = shapely.distance(shapely.boundary(polygons[used])[own], points)
    is_inside = shapely.intersects(polygons[polygon], points)
    # the same for every core at a position
    order = np.argsort(place, kind="stable")
    number = np.bincount(place, minlength=len(x))
    first = np.cumsum(number) - number
    spot = placed[hit]
    pair = np.repeat(np.arange(len(spot)), number[spot])
    within = np.arange(len(pair)) - np.repeat(np.cumsum(number[spot]) - number[spot], number[spot])
    return order[first[spot[pair]] + within], polygon[pair], to_edge[pair], is_inside[pair]


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
