"""Quantify: the void of each core, and the grout, water and gravel it needs.

One function per quantity; lengths in millimetres.
"""

from math import pi
from typing import Final, Literal

import numpy as np
import pandas as pd

from pipeline.programme.catalogue import Bedding, Catalogue, Geometry, Grout

__all__ = [
    "annulus_l",
    "bags_for",
    "bed_l",
    "believable_sizes",
    "core_kg",
    "disc_l",
    "gravel_kg",
    "hole_mm",
    "pilot_hole_l",
    "quantify",
]

# a litre is a cubic decimetre
_MM3_PER_L: Final = 100.0**3
# sizes that differ by less are the same: binary fractions are not exact
_EXACT: Final = 1e-9


def hole_mm(diameter_mm: pd.Series, diameter_is: Literal["hole", "core"], kerf_mm: float) -> pd.Series:
    """Return the diameter of the cut hole: as recorded, or the core's plus two kerfs."""
    return diameter_mm if diameter_is == "hole" else diameter_mm + 2 * kerf_mm


def believable_sizes(
    cores: pd.DataFrame,
    diameter_range_mm: tuple[float | pd.Series, float | pd.Series],
    depth_range_mm: tuple[float | pd.Series, float | pd.Series],
    min_thickness_mm: float | pd.Series,
    diameter_is: Literal["hole", "core"],
    kerf_mm: float,
) -> pd.DataFrame:
    """Return the sizes from which needs are worked out.

    Parameters
    ----------
    cores
        N rows with ``diameter_mm`` and ``depth_mm`` as the register has them, and the steps they were written to,
        ``diameter_step_mm`` and ``depth_step_mm``.
    diameter_range_mm, depth_range_mm
        Smallest and largest plausible size, both included: one value for all cores, or a column with one per core.
    min_thickness_mm
        Least thickness of bound pavement in which a core is reinstated.
    diameter_is
        Whether the register's diameter is of the cut hole or of the core.
    kerf_mm
        Width of the kerf.

    Returns
    -------
    pandas.DataFrame
        On ``cores.index``: ``hole_mm`` and ``depth_believed_mm``, missing where unknown or implausible, and
        ``is_thin``: the pavement is too thin to reinstate its core. A size is implausible, or thin, where every size
        that would have been written so is.
    """
    half = {name: cores[f"{name}_step_mm"].fillna(0.0) / 2 for name in ("diameter", "depth")}
    diameter, depth = (
        size.where((size + half[name]).ge(plausible[0] - _EXACT) & (size - half[name]).le(plausible[1] + _EXACT))
        for name, size, plausible in (
            ("diameter", cores["diameter_mm"], diameter_range_mm),
            ("depth", cores["depth_mm"], depth_range_mm),
        )
    )
    hole = hole_mm(diameter, diameter_is, kerf_mm)
    is_thin = (depth + half["depth"]).lt(min_thickness_mm - _EXACT)
    return pd.DataFrame({"hole_mm": hole, "depth_believed_mm": depth, "is_thin": is_thin})


def annulus_l(hole: pd.Series, depth_mm: pd.Series, kerf_mm: float | pd.Series) -> pd.Series:
    """Return the litres of the kerf: a ring of outer diameter ``hole`` and width ``kerf_mm``, as deep as the core."""
    return pi * (hole - kerf_mm) * kerf_mm * depth_mm / _MM3_PER_L


def pilot_hole_l(depth_mm: pd.Series, pilot_mm: float) -> pd.Series:
    """Return the litres of the pilot hole through the core."""
    return pi / 4 * pilot_mm**2 * depth_mm / _MM3_PER_L


def bed_l(hole: pd.Series, gap_mm: float, bed_fill: float, voids: pd.Series, thickness_mm: pd.Series) -> pd.Series:
    """Return the litres of grout below the core: the gap under it, and the filled share of the gravel's voids."""
    return disc_l(hole, gap_mm + bed_fill * voids * thickness_mm)


def disc_l(hole: pd.Series, thickness_mm: pd.Series) -> pd.Series:
    """Return the litres of a layer over the whole hole."""
    return pi / 4 * hole**2 * thickness_mm / _MM3_PER_L


def bags_for(grout_l: pd.Series, grout: Grout) -> pd.Series:
    """Return the bags, not rounded, that yield these litres of wet grout: the mix weighs what bag and water weigh."""
    # a litre of water weighs a kilogram, to a few parts in a thousand
    mix_kg = grout.bag.value + grout.water_per_bag.value
    return grout_l * grout.wet_density.value / mix_kg


def gravel_kg(hole: pd.Series, thickness_mm: pd.Series, bulk_density_kg_l: pd.Series) -> pd.Series:
    """Return the kilograms of the gravel bed over the whole hole."""
    return disc_l(hole, thickness_mm) * bulk_density_kg_l


def core_kg(hole: pd.Series, depth_mm: pd.Series, surface: pd.Series, catalogue: Catalogue) -> pd.Series:
    """Return about what each core weighs, in kilograms: a cylinder as wide as the hole less a kerf on either side.

    The pilot hole is not taken off: it is less than the rounding of the sizes, and the weight decides how to lift.

    Parameters
    ----------
    hole, depth_mm
        N diameters of the cut hole and N depths of the core, in millimetres; missing where unknown or implausible.
    surface
        N catalogue names of the surface.
    catalogue
        Kerf, and the densities by surface.

    Returns
    -------
    pandas.Series
        N weights; missing where the size or the density is not known.
    """
    kerf_mm = catalogue.materials.geometry.kerf.value
    densities = {name: density.value for name, density in catalogue.materials.core_density.items()}
    weight = disc_l(hole - 2 * kerf_mm, depth_mm) * surface.map(densities).astype(float)
    return weight.where(np.isfinite(weight))


def quantify(specified: pd.DataFrame, hole: pd.Series, depth_mm: pd.Series, catalogue: Catalogue) -> pd.DataFrame:
    """Return the need of every core.

    Parameters
    ----------
    specified
        N rows with ``shade`` and ``bedding``; missing where no core can be reinstated.
    hole, depth_mm
        N diameters of the cut hole and N depths of the core, in millimetres; missing where unknown or implausible.
    catalogue
        Geometry, grout and bedding.

    Returns
    -------
    pandas.DataFrame
        On ``specified.index``: ``grout_net_l``, ``grout_l``, ``grout_kg``, ``bags``, ``water_l_needed``,
        ``gravel_kg``; all missing for a core whose surface or size is unknown. Quantities are never guessed.
    """
    geometry: Geometry = catalogue.materials.geometry
    grout: Grout = catalogue.materials.grout
    known = specified["shade"].notna() & hole.notna() & depth_mm.notna()
    wide, deep = hole.where(known), depth_mm.where(known)

    def of_bed(value: str) -> pd.Series:
        beds: dict[str, Bedding] = catalogue.materials.bedding
        numbers = {name: getattr(bed, value).value for name, bed in beds.items()}
        return specified["bedding"].map(numbers).astype(float)

    net = (
        annulus_l(wide, deep, geometry.kerf.value)
        + pilot_hole_l(deep, geometry.pilot_hole.value)
        + bed_l(wide, geometry.gap.value, geometry.bed_fill.value, of_bed("voids"), of_bed("thickness"))
    )
    wet = net * (1 + grout.overfill.value)
    bags = bags_for(wet, grout)
    return (
        pd.DataFrame(
            {
                "grout_net_l": net,
                "grout_l": wet,
                "grout_kg": bags * grout.bag.value,
                "bags": bags,
                "water_l_needed": bags * grout.water_per_bag.value,
                "gravel_kg": gravel_kg(wide, of_bed("thickness"), of_bed("bulk_density")),
            }
        )
        .astype(float)
        .replace([np.inf, -np.inf], np.nan)
    )
