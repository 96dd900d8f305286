"""The grout used at each core, and the range of its void by the catalogue or by the calibration."""

from typing import Final

import numpy as np
import pandas as pd

from pipeline.calibrate.model import Z95, Calibration, bag_l, bed_mm, void_l
from pipeline.programme.catalogue import Catalogue
from pipeline.programme.materials import Grout

__all__ = ["calibrated_range_l", "grout_used_l", "grout_used_range_l", "judged_grout", "void_range_l"]

# water of less than half or more than double what the bags need is taken for a mistake, or for another unit
_WATER: Final = (0.5, 2.0)


def grout_used_l(bags_used: pd.Series, water_l: pd.Series, grout: Grout) -> pd.Series:
    """Return the litres of wet grout that were mixed.

    Parameters
    ----------
    bags_used, water_l
        N bags, and N litres of water; missing where not recorded.
    grout
        What a bag and its water weigh, and the wet density.

    Returns
    -------
    pandas.Series
        On ``bags_used.index``: the volume of the bags with the stated water, plus or minus the difference between the
        recorded and the stated water. Water that is missing, or less than half or more than double the stated amount,
        counts as the stated amount.
    """
    stated = bags_used * grout.water_per_bag.value
    water = water_l.where(water_l.between(_WATER[0] * stated, _WATER[1] * stated), stated)
    return bags_used * bag_l(grout) + water - stated


def grout_used_range_l(cores: pd.DataFrame, grout: Grout) -> pd.DataFrame:
    """Return the least and the most wet grout that the bags and the water recorded may stand for.

    Parameters
    ----------
    cores
        N rows with ``bags_used``, ``water_l`` and the steps they were written to, ``bags_used_step``, ``water_step_l``.
    grout
        As for :func:`grout_used_l`, by whose rule the water counts, as it was written.

    Returns
    -------
    pandas.DataFrame
        On ``cores.index``: ``grout_used_low_l``, ``grout_used_high_l``.
    """
    bags, water, stated = cores["bags_used"], cores["water_l"], grout.water_per_bag.value
    counts = water.between(_WATER[0] * stated * bags, _WATER[1] * stated * bags)
    half_bags, half_l = cores["bags_used_step"].fillna(0.0) / 2, cores["water_step_l"].fillna(0.0) / 2
    found = {}
    for name, sign in (("grout_used_low_l", -1), ("grout_used_high_l", 1)):
        mixed = (bags + sign * half_bags).clip(lower=0.0)
        added = (water + sign * half_l - stated * mixed).where(counts, 0.0)
        found[name] = (mixed * bag_l(grout) + added).clip(lower=0.0)
    return pd.DataFrame(found)


def void_range_l(specified: pd.DataFrame, hole: pd.Series, depth_mm: pd.Series, catalogue: Catalogue) -> pd.DataFrame:
    """Return the least and the greatest void of every core by the ranges of the catalogue.

    Kerf, pilot hole, gap and bed fill vary independently of each other, so the effects of each going from its stated
    value to either end are combined in quadrature. Each is the same for all cores of a programme: the error is
    systematic and does not average out.

    Parameters
    ----------
    specified
        N rows with ``bedding``.
    hole, depth_mm
        N diameters of the cut hole, taken as exact, and N depths, in millimetres.
    catalogue
        Geometry and bedding.

    Returns
    -------
    pandas.DataFrame
        On ``specified.index``: ``grout_least_l``, ``grout_most_l``, litres without overfill; missing where the need is.
    """
    geometry = catalogue.materials.geometry
    stated = {name: getattr(geometry, name).value for name in type(geometry).model_fields}

    def void(**changed: float) -> pd.Series:
        values = stated | changed
        bed = bed_mm(specified, catalogue, values["gap"], values["bed_fill"])
        return void_l(hole, depth_mm, values["kerf"], values["pilot_hole"], bed)

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
    """Return the least and the greatest void of every core by the calibration, or by the ranges if records are too few.

    Parameters
    ----------
    calibration
        From ``calibrate``, with the same catalogue.
    specified, hole, depth_mm, catalogue
        As for ``void_range_l``.

    Returns
    -------
    pandas.DataFrame
        On ``specified.index``: ``grout_least_l``, ``grout_most_l``: the calibrated void less and plus 1.96 standard
        errors (delta method), the least divided by one plus the most waste; clipped to the void with every stated range
        at its end.
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
    without_waste = void["grout_net_l"] - Z95 * void["se_l"]
    return pd.DataFrame(
        {
            "grout_least_l": (without_waste / (1 + calibration.most_waste)).clip(*ends),
            "grout_most_l": (void["grout_net_l"] + Z95 * void["se_l"]).clip(*ends),
        }
    )


def judged_grout(
    calibration: Calibration, specified: pd.DataFrame, sizes: pd.DataFrame, used_l: pd.Series, catalogue: Catalogue
) -> pd.DataFrame:
    """Return the sizes of every core with the grout used in it and the range of void that it is judged against.

    Parameters
    ----------
    calibration
        From ``calibrate``, with the same catalogue.
    specified
        N rows with ``bedding``.
    sizes
        N rows with ``hole_mm``, ``depth_believed_mm`` and ``is_thin``.
    used_l
        N numbers, litres of wet grout as recorded.
    catalogue
        Geometry and bedding.

    Returns
    -------
    pandas.DataFrame
        On ``sizes.index``: ``sizes`` with ``grout_least_l``, ``grout_most_l``, ``grout_used_l`` and
        ``grout_judged_by``, which names the source of the range.
    """
    void = calibrated_range_l(calibration, specified, sizes["hole_mm"], sizes["depth_believed_mm"], catalogue)
    judged_by = "by this programme's own records" if calibration.enough else "by the stated ranges"
    return sizes.join(void).assign(grout_used_l=used_l, grout_judged_by=judged_by)
