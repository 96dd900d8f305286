"""Coordinate reference systems: which one a layer is in, which one a run measures in, and slips told apart."""

import warnings
from typing import Final

import numpy as np
import numpy.typing as npt
from pyproj import CRS, Proj, Transformer
from pyproj.aoi import AreaOfInterest
from pyproj.database import query_utm_crs_info
from pyproj.exceptions import CRSError
from pyproj.transformer import TransformerGroup

from pipeline.errors import InputError, SettingsError

__all__ = ["Extent", "extent_of", "layer_crs", "parse_crs", "run_crs", "to_crs", "transformation_accuracy_m"]

# west, south, east, north, in the units of its CRS
Extent = tuple[float, float, float, float]

# a UTM zone is within 0.1 % of ground even at its edge, a national grid within less
_MOST_STRETCH: Final = 0.01
_WEB_MERCATOR: Final = {"EPSG:3857", "EPSG:3785", "EPSG:900913", "ESRI:102100", "ESRI:102113"}


def parse_crs(text: str, key: str) -> CRS:
    """Read a CRS as settings write it.

    Raises
    ------
    SettingsError
        No such CRS.
    """
    try:
        return CRS.from_user_input(text)
    except CRSError as error:
        raise SettingsError(f'{key}: found {text!r}, expected a CRS such as "EPSG:4326".') from error


def layer_crs(
    declared: CRS | None,
    written: str | None,
    extent: Extent,
    label: str,
    key: str,
    notices: list[str],
    bulk: Extent | None = None,
) -> CRS:
    """Settle the CRS of a layer: what it declares, unless it declares none or an impossible one.

    ``bulk`` is where most of the layer lies, where single features may lie wrong: it is judged by that.

    Raises
    ------
    InputError
        No CRS at all, or degrees declared over coordinates that cannot be degrees.
    """
    given = None if written is None else parse_crs(written, key)
    if declared is not None and not _is_of_the_earth(declared):
        declared = None
    if declared is None and given is None:
        raise InputError(
            f"{label}: the layer declares no CRS, and none is set. "
            f'Set {key} to the CRS of its coordinates, such as "EPSG:32617".'
        )
    chosen = given if declared is None else declared
    assert chosen is not None
    judged = extent if bulk is None else bulk
    if _impossible(chosen, judged):
        where = f"its coordinates run from {extent[0]:.6g}, {extent[1]:.6g} to {extent[2]:.6g}, {extent[3]:.6g}"
        if given is None or _impossible(given, judged):
            raise InputError(
                f"{label}: the CRS is {name_of(chosen)}, in degrees, but {where}, which are no degrees. "
                f'Set {key} to the CRS they are really in, such as "EPSG:32617".'
            )
        notices.append(f"{label}: declares {name_of(chosen)}, but {where}; {key} = {written} is used.")
        return given
    if given is not None and not given.equals(chosen, ignore_axis_order=True):
        notices.append(f"{label}: declares {name_of(chosen)}, which is used; {key} = {written} is not.")
    return chosen


def _is_of_the_earth(crs: CRS) -> bool:
    """A local or an undefined CRS says no more than none."""
    return (crs.is_geographic or crs.is_projected) and not crs.name.startswith("Undefined")


def _impossible(crs: CRS, extent: Extent) -> bool:
    west, south, east, north = extent
    # layers that cross the date line run a little past 180
    return bool(crs.is_geographic) and (west < -361 or east > 361 or south < -91 or north > 91)


def name_of(crs: CRS) -> str:
    """Return the authority's code, else the name."""
    authority = crs.to_authority()
    return ":".join(authority) if authority else crs.name


def run_crs(text: str, lon: float, lat: float, key: str) -> CRS:
    """Return the projected CRS, in metres, that a run measures in: the one set, or the UTM zone of a place.

    Raises
    ------
    SettingsError
        A CRS in degrees or feet, or Web Mercator, whose metres are not metres of ground.
    InputError
        The place lies outside all UTM zones.
    """
    if text == "auto":
        area = AreaOfInterest(lon, lat, lon, lat)
        found = query_utm_crs_info(datum_name="WGS 84", area_of_interest=area)
        if not found:
            raise InputError(f"No UTM zone holds {lat:.4f}, {lon:.4f}: set {key} to a projected CRS in metres.")
        return CRS.from_epsg(min(int(info.code) for info in found))
    crs = parse_crs(text, key)
    wrong = None
    if name_of(crs) in _WEB_MERCATOR:
        wrong = "Web Mercator, whose metres are stretched (at 50 degrees north by half)"
    elif not crs.is_projected:
        wrong = "not a projected CRS"
    elif any(axis.unit_conversion_factor != 1 for axis in crs.axis_info[:2]):
        wrong = f"in {crs.axis_info[0].unit_name}"
    else:
        factors = Proj(crs).get_factors(lon, lat)
        stretch = max(abs(factors.meridional_scale - 1), abs(factors.parallel_scale - 1))
        if not stretch <= _MOST_STRETCH:
            wrong = f"{crs.name}, whose metres are stretched where the cores lie"
    if wrong:
        raise SettingsError(f'{key}: {text!r} is {wrong}; expected "auto" or a projected CRS in metres of ground.')
    return crs


def to_crs(
    x: npt.NDArray[np.float64], y: npt.NDArray[np.float64], source: CRS, target: CRS
) -> tuple[npt.NDArray[np.float64], npt.NDArray[np.float64]]:
    """Bring coordinates from one CRS to another, x (east, longitude) first in both; what has no image is NaN."""
    across, up = Transformer.from_crs(source, target, always_xy=True).transform(x, y)
    across, up = np.asarray(across, dtype=float), np.asarray(up, dtype=float)
    good = np.isfinite(across) & np.isfinite(up)
    return np.where(good, across, np.nan), np.where(good, up, np.nan)


def extent_of(extent: Extent, source: CRS, target: CRS) -> Extent:
    """Bring an extent to another CRS, its sides bent as they should be."""
    if source == target:
        return extent
    west, south, east, north = Transformer.from_crs(source, target, always_xy=True).transform_bounds(*extent)
    return west, south, east, north


def transformation_accuracy_m(source: CRS, target: CRS) -> float | None:
    """Return the accuracy of the transformation at hand, in metres; None where it is not known.

    Without its datum grids a transformation works all the same, only some metres off, and says nothing.
    """
    if source == target:
        return 0.0
    with warnings.catch_warnings():
        # a grid that is not installed is what the accuracy tells
        warnings.simplefilter("ignore", UserWarning)
        transformers = TransformerGroup(source, target, always_xy=True).transformers
    accuracy = transformers[0].accuracy if transformers else -1.0
    return accuracy if accuracy >= 0 else None
