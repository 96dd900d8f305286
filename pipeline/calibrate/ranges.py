"""What was used, and the range a core's void lies in: by the catalogue's ranges, or by the calibration."""

from typing import Final

import numpy as np
import pandas as pd

from pipeline.calibrate.model import Z95, Calibration, bag_l, bed_mm, void_l
from pipeline.programme.catalogue import Catalogue
from pipeline.programme.materials import Grout

__all__ = ["calibrated_range_l", "grout_used_l", "void_range_l"]

# water outside half to double of what the bags want is a slip of the pen, or of another unit
_WATER: Final = (0.5, 2.0)


def grout_used_l(bags_used: pd.Series, water_l: pd.Series, grout: Grout) -> pd.Series:
    """Litres of wet grout that were mixed.

    Parameters
    ----------
    bags_used, water_l
        N bags, and N litres of water; missing where not recorded.
    grout
        What a bag and its water weigh, and the wet density.

    Returns
    -------
    pandas.Series
        On ``bags_used.index``: bags with the stated water over wet density, and litre for litre the water beyond it
        or short of it. Water that is missing, or beyond half and double the stated amount, counts as the stated.
    """
    stated = bags_used * grout.water_per_bag.value
    water = water_l.where(water_l.between(_WATER[0] * stated, _WATER[1] * stated), stated)
    return bags_used * bag_l(grout) + water - stated


def void_range_l(specified: pd.DataFrame, hole: pd.Series, depth_mm: pd.Series, catalogue: Catalogue) -> pd.DataFrame:
    """Least and most void of every core by the ranges that the catalogue states.

    The swings of kerf, pilot hole, gap and bed fill, each from its stated value to either end, are independent of
    each other and combined in quadrature. Each is the same for all cores of a programme: the spread is systematic, and
    does not average out over many.

    Parameters
    ----------
    specified
        N rows with ``bedding``.
    hole, depth_mm
        N diameters of the cut hole, taken as given, and N depths, in millimetres.
    catalogue
        Geometry and bedding.

    Returns
    -------
    pandas.DataFrame
        On ``specified.index``: ``grout_least_l``, ``grout_most_l``, litres without overfill; missing as the need is.
    """
    geometry = catalogue.materials.geometry
    stated = {name: getattr(geometry, name).value for name in type(geometry).model_fields}

    def void(**changed: float) -> pd.Series:
        one = stated | changed
        bed = bed_mm(specified, catalogue, one["gap"], one["bed_fill"])
        return void_l(hole, depth_mm, one["kerf"], one["pilot_hole"], bed)

    expected = void()
    below = sum((expected - void(**{name: getattr(geometry, name).least})) ** 2 for name in stated)
    above = sum((void(**{name: getattr(geometry, name).most}) - expected) ** 2 for name in stated)
    return pd.DataFrame(
        {
            "grout_least_l": (expected - np.sqrt(below)).clip(lower=0.0),
            "grout_most_l": expected + np.sqrt(above),
        }
    )


def calibrated_range_l(
    calibration: Calibration, specified: pd.DataFrame, hole: pd.Series, depth_mm: pd.Series, catalogue: Catalogue
) -> pd.DataFrame:
    """Least and most void of every core by the calibration; by the stated ranges where that is not enough.

    Parameters
    ----------
    calibration
        From ``calibrate``, with the same catalogue.
    specified, hole, depth_mm, catalogue
        As for ``void_range_l``.

    Returns
    -------
    pandas.DataFrame
        On ``specified.index``: ``grout_least_l``, ``grout_most_l``: the calibrated void and 1.96 standard errors
        (delta method) to either side, never beyond what all stated ranges at their ends together allow.
    """
    if not calibration.enough:
        return void_range_l(specified, hole, depth_mm, catalogue)
    geometry = catalogue.materials.geometry
    ends = [
        void_l(
            hole,
            depth_mm,
            getattr(geometry.kerf, end),
            getattr(geometry.pilot_hole, end),
            bed_mm(specified, catalogue, getattr(geometry.gap, end), getattr(geometry.bed_fill, end)),
        )
        for end in ("least", "most")
    ]
    void = calibration.void_l(hole, depth_mm).where(ends[0].notna())
    return pd.DataFrame(
        {
            "grout_least_l": (void["grout_net_l"] - Z95 * void["se_l"]).clip(*ends),
            "grout_most_l": (void["grout_net_l"] + Z95 * void["se_l"]).clip(*ends),
        }
    )
