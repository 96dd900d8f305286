"""The uncertain volume model: kerf, pilot hole, gap, bed fill, wet density and overfill.

Their true values are the same at every core, so their errors do not average out: each simulation draws them once for
the whole programme.
"""

from dataclasses import dataclass
from math import pi
from typing import Final, Literal

import numpy as np
import numpy.typing as npt

from pipeline.programme.catalogue import Materials

__all__ = [
    "TERMS",
    "Calibrated",
    "Covariance",
    "Floats",
    "Model",
    "bags_of_terms",
    "draw_model",
    "likeliest_model",
    "terms_of",
]

Floats = npt.NDArray[np.float64]
Covariance = tuple[tuple[float, float], tuple[float, float]]

# a litre is a cubic decimetre
_MM3_PER_L: Final = 100.0**3
# a need is the sum of these terms, each times a factor of the model, so that sums over cores suit every draw
TERMS: Final = 8


@dataclass(frozen=True)
class Calibrated:
    """Kerf and bed thickness from a programme's own records of use, in millimetres, and their covariance, in mm^2.

    Records of use determine them only for an assumed pilot hole, wet density and overfill, so with them none of those
    counts as uncertain. The bed is the gap and the filled share of the gravel in one. Grout thrown away at the cores is
    in the records and so in both: orders must cover it, and no allowance for it is taken off.
    """

    kerf_mm: float
    bed_mm: float
    covariance: Covariance


@dataclass(frozen=True)
class Model:
    """S draws of the values that all cores share; lengths in millimetres, density in kilograms per litre."""

    kerf_mm: Floats
    pilot_mm: Floats
    gap_mm: Floats
    bed_fill: Floats
    wet_density_kg_l: Floats
    overfill: Floats


def likeliest_model(materials: Materials, calibrated: Calibrated | None = None) -> Model:
    """Return a single draw: the catalogue's values, or the calibrated ones."""
    geometry, grout = materials.geometry, materials.grout
    kerf, gap, fill = (
        (geometry.kerf.value, geometry.gap.value, geometry.bed_fill.value)
        if calibrated is None
        else (calibrated.kerf_mm, calibrated.bed_mm, 0.0)
    )
    values = (kerf, geometry.pilot_hole.value, gap, fill, grout.wet_density.value, grout.overfill.value)
    return Model(*(np.array([float(value)]) for value in values))


def draw_model(
    materials: Materials, simulations: int, rng: np.random.Generator, calibrated: Calibrated | None = None
) -> Model:
    """Draw the model a number of times.

    Parameters
    ----------
    materials
        Each value with the ends of its range: drawn from the triangular distribution between them that peaks at it.
    simulations
        S.
    rng
        The source of random numbers.
    calibrated
        If given, kerf and bed are drawn from their joint normal distribution, and nothing else is drawn.

    Returns
    -------
    Model
        S draws.
    """
    geometry, grout = materials.geometry, materials.grout
    if calibrated is not None:
        mean = (calibrated.kerf_mm, calibrated.bed_mm)
        kerf, bed = rng.multivariate_normal(mean, np.array(calibrated.covariance), simulations, method="eigh").T
        fixed = likeliest_model(materials, calibrated)
        none = np.zeros(simulations)
        return Model(
            np.maximum(kerf, 0),
            fixed.pilot_mm + none,
            np.maximum(bed, 0),
            none,
            fixed.wet_density_kg_l + none,
            fixed.overfill + none,
        )
    ranged = (geometry.kerf, geometry.pilot_hole, geometry.gap, geometry.bed_fill, grout.wet_density, grout.overfill)
    return Model(*(_triangular(one.least, one.value, one.most, simulations, rng) for one in ranged))


def _triangular(low: float, value: float, high: float, simulations: int, rng: np.random.Generator) -> Floats:
    return rng.triangular(low, value, high, simulations) if low < high else np.full(simulations, float(value))


def terms_of(wide_mm: Floats, deep_mm: Floats, bed_mm: Floats) -> Floats:
    """Return the terms of a need, on a new last axis.

    Parameters
    ----------
    wide_mm
        Diameter as recorded: of the hole or of the core.
    deep_mm
        Depth of the core.
    bed_mm
        The hollow thickness of its gravel bed: share of voids times thickness.
    """
    one = np.ones_like(wide_mm * deep_mm)
    parts = (deep_mm, wide_mm * deep_mm, wide_mm**2, wide_mm, one, bed_mm * wide_mm**2, bed_mm * wide_mm, bed_mm)
    return np.stack([part * one for part in parts], axis=-1)


def bags_of_terms(model: Model, materials: Materials, diameter_is: Literal["hole", "core"]) -> Floats:
    """Return the bags per unit of each term: S draws by TERMS.

    The hole has the diameter D = W + e k, where e is 0 if the hole was recorded and 2 if the core was. The void
    pi (D - k) k d + (pi/4) p^2 d + (pi/4) D^2 (g + f b) is then a sum over d, W d, W^2, W and 1, and the last three
    times b.
    """
    kerf, gap, fill = model.kerf_mm, model.gap_mm, model.bed_fill
    wider = 0 if diameter_is == "hole" else 2
    disc = [np.ones_like(kerf), 2 * wider * kerf, wider**2 * kerf**2]
    litres = np.stack(
        [
            pi * (wider - 1) * kerf**2 + pi / 4 * model.pilot_mm**2,
            pi * kerf,
            *(pi / 4 * part * gap for part in disc),
            *(pi / 4 * part * fill for part in disc),
        ],
        axis=-1,
    )
    grout = materials.grout
    mix_kg = grout.bag.value + grout.water_per_bag.value
    bags: Floats = litres / _MM3_PER_L * ((1 + model.overfill) * model.wet_density_kg_l / mix_kg)[:, None]
    return bags
