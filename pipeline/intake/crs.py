"""Coordinate reference systems: the one a layer is in, and the one a run measures in."""

import warnings
from collections.abc import Callable
from typing import Final

import numpy as np
import numpy.typing as npt
from pyproj import CRS, Proj, Transformer
from pyproj.aoi import AreaOfInterest
from pyproj.database import query_utm_crs_info
from pyproj.exceptions import CRSError, ProjError
from pyproj.transformer import TransformerGroup

from pipeline.errors import InputError, SettingsError
from pipeline.programme.ranges import shortened

__all__ = [
    "FURTHEST", "Extent", "corners", "degrees_throughout", "extent_of", "has_degrees", "layer_crs", "name_of",
    "parse_crs", "refuse_stretch", "roads_extent", "run_crs", "stretch_of", "to_crs", "transformation_accuracy_m",
]  # fmt: skip

# no coordinate on Earth is larger, be it in metres or in feet; sums of larger ones overflow
FURTHEST: Final = 1e9
# west, south, east, north, in the units of its CRS
Extent = tuple[float, float, float, float]

# larger ones are written as whole metres or feet
_LARGEST_DEGREES: Final = 1000
# a UTM zone is within 0.1 % of ground distance even at its edge, a national grid closer
_MOST_STRETCH: Final = 0.01
_REPORTED_STRETCH: Final = 0.001
# the stretch is looked at on a grid of this many positions each way
_STRETCH_POINTS: Final = 5
# and so is whether all of an extent has degrees: where a projection ends, it ends for a large part of the Earth
_DEGREES_POINTS: Final = 64
_WEB_MERCATOR: Final = {"EPSG:3857", "EPSG:3785", "EPSG:900913", "ESRI:102100", "ESRI:102113"}


def parse_crs(text: str, key: str) -> CRS:
    """Return the CRS that a setting names; ``key`` is the setting, for the error.

    Raises
    ------
    SettingsError
        PROJ knows no such CRS.
    """
    try:
        return CRS.from_user_input(text)
    except CRSError as error:
        raise SettingsError(
            f'{key}: found {shortened(text)}, expected a CRS such as "EPSG:4326". Correct it.'
        ) from error


def layer_crs(
    declared: CRS | None,
    written: str | None,
    extent: Extent,
    label: str,
    key: str,
    notices: list[str],
    bulk: Extent | None = None,
    srid: int = 0,
) -> CRS:
    """Return the CRS of a layer: the one it declares, unless it declares none or an impossible one.

    Parameters
    ----------
    declared
        CRS in the file, if any; a local or undefined one counts as none.
    written
        CRS set in the programme file, if any.
    extent
        Extent of all features, in their own coordinates.
    label, key
        The file and the setting, for messages.
    notices
        Grows by a notice where the declared CRS and the one set differ.
    bulk
        Extent of most features, where single ones may be misplaced: a CRS is judged by it.
    srid
        SRID of the shapes of a database; 0 for none.

    Raises
    ------
    InputError
        Neither declares a CRS, or it is in degrees and the coordinates cannot be degrees.
    SettingsError
        The CRS that is set does not exist.
    """
    given = None if written is None else parse_crs(written, key)
    if declared is not None and not _is_of_the_earth(declared):
        declared = None
    if declared is None and given is None:
        unknown = f"its SRID, {srid}, is not one that the database or this program knows"
        raise InputError(
            f"{label}: {f'{unknown}, and {key} is not set' if srid else 'the layer declares no CRS and none is set'}. "
            f'Set {key} to the CRS of its coordinates, such as "EPSG:32617".'
        )
    chosen = given if declared is None else declared
    assert chosen is not None
    judged = extent if bulk is None else bulk
    if _impossible(chosen, judged):
        where = f"its coordinates extend from {corners(extent)}"
        if given is None or _impossible(given, judged):
            raise InputError(
                f"{label}: the CRS is {name_of(chosen)}, in degrees, but {where}, which cannot be degrees. "
                f'Set {key} to the CRS of these coordinates, such as "EPSG:32617".'
            )
        notices.append(f"{label}: declares {name_of(chosen)}, but {where}; {key} = {written} is used.")
        return given
    if given is not None and not given.equals(chosen, ignore_axis_order=True):
        notices.append(f"{label}: declares {name_of(chosen)}, which is used; {key} = {written} is not.")
    return chosen


def _is_of_the_earth(crs: CRS) -> bool:
    """Return whether a CRS locates anything on the Earth: a local or undefined one does not."""
    return (crs.is_geographic or crs.is_projected) and not crs.name.startswith("Undefined")


def _impossible(crs: CRS, extent: Extent) -> bool:
    """Return whether a CRS is in degrees and the extent cannot be."""
    west, south, east, north = extent
    # a layer that crosses the date line may extend beyond 180 degrees, up to a full turn
    return bool(crs.is_geographic) and (west < -361 or east > 361 or south < -91 or north > 91)


def corners(extent: Extent) -> str:
    """Return an extent as an error names it: "500,000 / 4,649,780 to 500,400 / 4,650,180", or in degrees."""
    if all(abs(side) < _LARGEST_DEGREES for side in extent):
        return "{:.6g}, {:.6g} to {:.6g}, {:.6g}".format(*extent)
    return "{:,.0f} / {:,.0f} to {:,.0f} / {:,.0f}".format(*extent)


def name_of(crs: CRS) -> str:
    """Return the code of a CRS, such as "EPSG:32617", else its name."""
    authority = crs.to_authority()
    return ":".join(authority) if authority else crs.name


def run_crs(text: str, lon: float, lat: float, key: str) -> CRS:
    """Return the projected CRS, in metres, that a run measures in: the one set, or the UTM zone of a position.

    Parameters
    ----------
    text, key
        The setting, "auto" or a CRS, and its key.
    lon, lat
        The middle of the roads, in degrees.

    Raises
    ------
    SettingsError
        The CRS set is in degrees or feet, or its metres are not metres on the ground, as in Web Mercator.
    InputError
        The position lies outside all UTM zones, or is none.
    """
    if not np.isfinite([lon, lat]).all():
        raise InputError(
            f"{key}: the roads lie beyond what their CRS can hold. Check the coordinates of the road layer, and "
            "their CRS."
        )
    if text == "auto":
        area = AreaOfInterest(lon, lat, lon, lat)
        found = query_utm_crs_info(datum_name="WGS 84", area_of_interest=area)
        if not found:
            raise InputError(
                f"{key}: the roads lie around {lat:.4f}, {lon:.4f}, outside every UTM zone. "
                f"Set {key} to a projected CRS in metres."
            )
        return CRS.from_epsg(min(int(info.code) for info in found))
    crs = parse_crs(text, key)
    wrong = None
    if name_of(crs) in _WEB_MERCATOR:
        wrong = "Web Mercator, whose metres are too long (by half at 50 degrees north)"
    elif not crs.is_projected:
        wrong = "not a projected CRS"
    elif any(axis.unit_conversion_factor != 1 for axis in crs.axis_info[:2]):
        wrong = f"in {crs.axis_info[0].unit_name}"
    elif not stretch_of(crs, np.array([lon]), np.array([lat])) <= _MOST_STRETCH:
        wrong = "stretched where the roads lie: its metres differ from metres on the ground"
    if wrong:
        raise SettingsError(
            f'{key}: {text!r} is {wrong}; expected a projected CRS in metres on the ground. Set "auto" to use UTM.'
        )
    return crs


def stretch_of(crs: CRS, lon: npt.NDArray[np.float64], lat: npt.NDArray[np.float64]) -> float:
    """Return by what share, at most, metres of a projected CRS differ from metres on the ground at some positions.

    Positions that the CRS cannot hold count as infinitely stretched.
    """
    factors = Proj(crs).get_factors(lon, lat)
    scales = np.concatenate([np.atleast_1d(factors.meridional_scale), np.atleast_1d(factors.parallel_scale)])
    return float(np.where(np.isfinite(scales), np.abs(scales - 1), np.inf).max())


def refuse_stretch(
    crs: CRS, roads: Extent, roads_crs: CRS, key: str, notices: list[str], outermost: Callable[[], str]
) -> float:
    """Return by what share metres of the run's CRS differ from metres on the ground, at most, where the roads are.

    Parameters
    ----------
    crs, key
        The run's CRS, and its setting.
    roads, roads_crs
        Extent of the roads, in their CRS.
    notices
        Grows by a notice where the difference would show in an offset.
    outermost
        Names the road that lies furthest from the others, for the error.

    Raises
    ------
    InputError
        The roads reach so far that no length measured in the CRS can be relied on at their ends.
    """
    west, south, east, north = extent_of(roads, roads_crs, CRS.from_epsg(4326))
    # across the date line the east has the smaller longitude
    east += 360 if east < west else 0
    across, up = np.linspace(west, east, _STRETCH_POINTS), np.linspace(south, north, _STRETCH_POINTS)
    lon, lat = (one.ravel() for one in np.meshgrid(across, up))
    stretch = stretch_of(crs, lon, lat)
    if not stretch <= _MOST_STRETCH:
        raise InputError(
            f"{key}: the roads extend from {west:.2f}, {south:.2f} to {east:.2f}, {north:.2f} degrees, too far for "
            f"{name_of(crs)}: its metres differ from metres on the ground by more than {_MOST_STRETCH:.0%}. "
            f"{outermost()} lies furthest from the others: correct its coordinates if they are wrong. Otherwise set "
            f"{key} to a projected CRS made for that region, or limit the roads with roads.where."
        )
    if stretch > _REPORTED_STRETCH:
        notices.append(
            f"{name_of(crs)}: lengths differ from lengths on the ground by up to {stretch:.2%} where the roads lie."
        )
    return stretch


def to_crs(
    x: npt.NDArray[np.float64], y: npt.NDArray[np.float64], source: CRS, target: CRS
) -> tuple[npt.NDArray[np.float64], npt.NDArray[np.float64]]:
    """Return coordinates in another CRS, x (easting, longitude) first in both; NaN where there is no image."""
    across, up = Transformer.from_crs(source, target, always_xy=True).transform(x, y)
    across, up = np.asarray(across, dtype=float), np.asarray(up, dtype=float)
    good = np.isfinite(across) & np.isfinite(up)
    return np.where(good, across, np.nan), np.where(good, up, np.nan)


def degrees_throughout(extent: Extent, crs: CRS) -> bool:
    """Return whether every part of an extent has a longitude and a latitude: far beyond a projection there is none."""
    west, south, east, north = extent
    across, up = np.meshgrid(np.linspace(west, east, _DEGREES_POINTS), np.linspace(south, north, _DEGREES_POINTS))
    return bool(has_degrees(across.ravel(), up.ravel(), crs).all())


def has_degrees(x: npt.NDArray[np.float64], y: npt.NDArray[np.float64], crs: CRS) -> npt.NDArray[np.bool_]:
    """Return which of N positions in a CRS have a longitude and a latitude."""
    has: npt.NDArray[np.bool_] = np.isfinite(to_crs(x, y, crs, CRS.from_epsg(4326))[0])
    return has


def extent_of(extent: Extent, source: CRS, target: CRS) -> Extent:
    """Return an extent in another CRS, wide enough to hold its sides, which are curved there."""
    if source == target:
        return extent
    west, south, east, north = Transformer.from_crs(source, target, always_xy=True).transform_bounds(*extent)
    return west, south, east, north


def roads_extent(roads: Extent, roads_crs: CRS, crs: CRS, label: str, setting: str) -> Extent:
    """Return the extent of the roads in the CRS of a register, whose ``label`` and ``setting`` an error names."""
    try:
        return extent_of(roads, roads_crs, crs)
    except ProjError as error:
        why = f"its CRS ({shortened(name_of(crs))}) cannot be transformed to that of the roads"
        raise InputError(f"{label}: {why}. Correct {setting}.") from error


def transformation_accuracy_m(source: CRS, target: CRS) -> float | None:
    """Return the accuracy of the transformation that is available, in metres; None where it is not known.

    A datum shift without its grid still gives coordinates, some metres off, and PROJ does not report it.
    """
    if source == target:
        return 0.0
    with warnings.catch_warnings():
        # a grid that is not installed shows in the accuracy
        warnings.simplefilter("ignore", UserWarning)
        transformers = TransformerGroup(source, target, always_xy=True).transformers
    accuracy = transformers[0].accuracy if transformers else -1.0
    return accuracy if accuracy >= 0 else None
