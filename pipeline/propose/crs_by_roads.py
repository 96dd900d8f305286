"""Which CRS positions are in: the one that puts them on the roads."""

import re
from collections.abc import Iterator
from dataclasses import dataclass
from functools import cached_property
from typing import Final

import numpy as np
import numpy.typing as npt
import shapely
from pyproj import CRS, Proj, Transformer
from pyproj.aoi import AreaOfInterest
from pyproj.database import query_crs_info
from pyproj.enums import PJType
from pyproj.exceptions import ProjError

from pipeline.intake.crs import FURTHEST, name_of, run_crs, to_crs

__all__ = ["Fit", "Roads", "crs_that_fit"]

Floats = npt.NDArray[np.float64]

_DEGREES: Final = CRS.from_epsg(4326)
# so many positions show the CRS
_SAMPLE: Final = 400
# a candidate is looked at closely if it puts the middle of the positions this near to the roads
_IN_REACH_M: Final = 100_000.0
# farther from the roads than this at the median, a CRS is wrong, or the roads are
_FARTHEST_M: Final = 250.0
# CRS that put every position in one place are one: NAD83 and its realisations, ETRS89 and WGS 84
_SAME_M: Final = 5.0
_EQUAL_M: Final = 0.1
# a wrong CRS is out of the question if it puts cores this far off, and this many times as far as the best one
_CLEARLY_OFF_M: Final = 15.0
_CLEARLY_WORSE: Final = 3.0


@dataclass(frozen=True)
class Fit:
    """A CRS that puts positions near the roads.

    ``median_m``: distance to the nearest road line, at the median. ``swapped``: the first number is the y. ``same``:
    codes of other CRS that put every position in the same place.
    """

    crs: CRS
    median_m: float
    swapped: bool
    same: tuple[str, ...] = ()

    @property
    def name(self) -> str:
        """The code of the CRS and what it is called, such as "EPSG:32617, WGS 84 / UTM zone 17N"."""
        return f"{name_of(self.crs)}, {self.crs.name}"


@dataclass(frozen=True)
class Roads:
    """The road lines, in the CRS of their layer."""

    lines: npt.NDArray[np.object_]
    crs: CRS

    @cached_property
    def middle(self) -> tuple[float, float]:
        """Longitude and latitude of the middle of the roads."""
        x, y = np.median(shapely.get_coordinates(self.lines), axis=0)
        lon, lat = to_crs(np.array([x]), np.array([y]), self.crs, _DEGREES)
        return float(lon[0]), float(lat[0])

    @cached_property
    def metric(self) -> CRS:
        """The UTM zone of the roads, in which distances are measured."""
        return run_crs("auto", *self.middle, "programme.crs")

    @cached_property
    def tree(self) -> shapely.STRtree:
        """The lines in that zone."""
        move = Transformer.from_crs(self.crs, self.metric, always_xy=True)
        return shapely.STRtree(
            shapely.transform(self.lines, lambda xy: np.column_stack(move.transform(xy[:, 0], xy[:, 1])))
        )

    @cached_property
    def extent(self) -> tuple[float, float, float, float]:
        """West, south, east and north of the roads, in degrees."""
        bounds = shapely.total_bounds(self.lines)
        west, south, east, north = Transformer.from_crs(self.crs, _DEGREES, always_xy=True).transform_bounds(*bounds)
        return west, south, east, north

    def distances_m(self, x: Floats, y: Floats) -> Floats:
        """Return the distance from each position, in the UTM zone of the roads, to the nearest line."""
        points = shapely.points(x, y)
        _, distances = self.tree.query_nearest(points, return_distance=True, all_matches=False)
        found: Floats = distances
        return found


@dataclass(frozen=True)
class _Placed:
    """Positions in a CRS, moved to the UTM zone of the roads."""

    crs: CRS
    swapped: bool
    x_m: Floats
    y_m: Floats
    median_m: float

    def is_same(self, other: "_Placed") -> bool:
        """Return whether the two put the positions in the same place; feet of two kinds are never the same."""
        apart_m = float(np.nanmedian(np.hypot(self.x_m - other.x_m, self.y_m - other.y_m)))
        return apart_m <= _EQUAL_M or (apart_m <= _SAME_M and _unit_m(self.crs) == _unit_m(other.crs))


def crs_that_fit(first: Floats, second: Floats, roads: Roads) -> list[Fit]:
    """Return the CRS that put positions on the roads, the nearest first; CRS that agree to a few metres are one.

    Parameters
    ----------
    first, second
        N coordinates as written, easting or longitude first if the header is right; NaN where not read.
    roads
        The road lines.

    Returns
    -------
    list of Fit
        The first is certain if it is the only one. None where no CRS puts the positions near the roads.
    """
    read = np.flatnonzero(np.isfinite(first) & np.isfinite(second))
    if not len(read):
        return []
    kept = read[np.linspace(0, len(read) - 1, min(len(read), _SAMPLE)).astype(int)]
    pairs = ((first[kept], second[kept], False), (second[kept], first[kept], True))
    placed = [
        one
        for x, y, swapped in pairs
        for crs in _candidates(x, y, roads)
        if (one := _placed(crs, x, y, roads, swapped=swapped)) is not None and one.median_m <= _FARTHEST_M
    ]
    if not placed:
        return []
    least = min(one.median_m for one in placed)
    plausible = [one for one in placed if one.median_m <= max(_CLEARLY_WORSE * least, _CLEARLY_OFF_M)]
    groups: list[list[_Placed]] = []
    for one in sorted(plausible, key=lambda placed_one: placed_one.median_m):
        group = next((group for group in groups if group[0].is_same(one)), None)
        if group is None:
            groups.append([one])
        else:
            group.append(one)
    # that of the roads comes first, however near the others are
    return sorted((_fit(group, roads) for group in groups), key=lambda fit: fit.crs != roads.crs)


def _fit(group: list[_Placed], roads: Roads) -> Fit:
    """Return one CRS of several that agree: that of the roads, else one on their datum, else the first by its code."""
    best = min(group, key=lambda one: (_order(one.crs, roads), one.swapped))
    same = [name_of(one.crs) for one in group if one is not best and name_of(one.crs) != name_of(best.crs)]
    return Fit(best.crs, best.median_m, best.swapped, tuple(same))


def _order(crs: CRS, roads: Roads) -> tuple[bool, bool, bool, bool, int]:
    code = crs.to_authority()
    number = int(code[1]) if code is not None and code[1].isdigit() else 0
    own, datum = roads.crs.geodetic_crs, crs.geodetic_crs
    on_datum = own is not None and datum is not None and own.to_authority() == datum.to_authority()
    is_usual = crs.geodetic_crs is not None and crs.geodetic_crs.to_authority() in _USUAL
    # degrees are nearly always those of satellite positioning
    return crs != _DEGREES, crs != roads.crs, not on_datum, not is_usual, number


_USUAL: Final = (("EPSG", "4326"), ("EPSG", "4269"), ("EPSG", "4258"))
# WGS 72 and 72BE, used by satellite positioning before 1987 and metres away from WGS 84
_HISTORIC: Final = (("EPSG", "4322"), ("EPSG", "4324"))
# realisations of one datum are decimetres apart, and costly to transform
_REALISATION: Final = re.compile(r"^(NAD83|ETRS89|ETRF|WGS 84|GDA2020|SIRGAS)\b.*")


def _candidates(x: Floats, y: Floats, roads: Roads) -> Iterator[CRS]:
    """Return the CRS that positions may be in: degrees, that of the roads, and those made for where the roads are."""
    if np.median(np.abs(x)) <= 180 and np.median(np.abs(y)) <= 90:
        yield _DEGREES
        return
    if not roads.crs.is_geographic:
        yield roads.crs
    west, south, east, north = roads.extent
    found = query_crs_info(
        auth_name="EPSG",
        pj_types=PJType.PROJECTED_CRS,
        area_of_interest=AreaOfInterest(west, south, east, north),
        contains=False,
        allow_deprecated=False,
    )
    middle = (float(np.median(x)), float(np.median(y)))
    known = {_projection(roads.crs)}
    every = (CRS.from_authority(info.auth_name, info.code) for info in found)
    near = [crs for crs in every if crs != roads.crs and _in_reach(crs, middle, roads)]
    for crs in sorted(near, key=lambda one: _order(one, roads)):
        own = _projection(crs)
        is_historic = crs.geodetic_crs is not None and crs.geodetic_crs.to_authority() in _HISTORIC
        if own not in known and not is_historic:
            known.add(own)
            yield crs


def _projection(crs: CRS) -> tuple[object, ...]:
    """Return what tells a projected CRS from others: its method, numbers and unit, and the family of its datum."""
    operation, datum = crs.coordinate_operation, crs.geodetic_crs
    if operation is None or datum is None:
        return (crs.to_wkt(),)
    numbers = tuple((param.name, round(float(param.value), 9), param.unit_name) for param in operation.params)
    unit = tuple((axis.unit_name, axis.direction) for axis in crs.axis_info[:2])
    return operation.method_name, numbers, tuple(sorted(unit)), _REALISATION.sub(r"\1", datum.name)


def _in_reach(crs: CRS, middle: tuple[float, float], roads: Roads) -> bool:
    """Return whether a projection has the middle of the positions near that of the roads, the datum aside."""
    try:
        x, y = Proj(crs)(*roads.middle)
    except ProjError:
        return False
    return bool(np.hypot(x - middle[0], y - middle[1]) * _unit_m(crs) <= _IN_REACH_M)


def _unit_m(crs: CRS) -> float:
    """Return the length of the unit of a projected CRS, in metres."""
    return float(crs.axis_info[0].unit_conversion_factor) if crs.axis_info else 1.0


def _placed(crs: CRS, x: Floats, y: Floats, roads: Roads, *, swapped: bool) -> _Placed | None:
    """Return positions in a CRS, with their median distance to the roads; None where it cannot be worked out."""
    try:
        x_m, y_m = to_crs(x, y, crs, roads.metric)
    except ProjError:
        return None
    # the tree finds no line for a position so far away that its distance overflows
    good = (np.abs(x_m) <= FURTHEST) & (np.abs(y_m) <= FURTHEST)
    if good.sum() * 2 < len(x):
        return None
    # a wrong position is far from the roads in any CRS, and the median does not see it
    distances = np.full(len(x), np.inf)
    distances[good] = roads.distances_m(x_m[good], y_m[good])
    x_m, y_m = (np.where(good, metres, np.nan) for metres in (x_m, y_m))
    return _Placed(crs, swapped, x_m, y_m, float(np.median(distances)))
