"""Calibrate: kerf and bed thickness from a programme's own records of use.

Litres a core are a straight line in its depth, so records of use fix two numbers and no more: the kerf ``k`` and the
effective thickness ``b = g + f n t`` of the grout in the bed. The pilot hole and the overfill are taken as given: no
record can tell an overfill from a wider void.
"""

from math import nan
from typing import Final, Literal

import numpy as np
import pandas as pd

from pipeline.calibrate.likelihood import Fit, Records, fit_records
from pipeline.calibrate.model import COARSE_STEP, Calibration, Estimate, Rounding, bag_l, bed_mm, needs_before_and_after
from pipeline.calibrate.ranges import calibrated_range_l, grout_used_l, void_range_l
from pipeline.calibrate.records import records_of_use
from pipeline.programme.catalogue import Catalogue

__all__ = [
    "Calibration",
    "Estimate",
    "Rounding",
    "calibrate",
    "calibrated_range_l",
    "grout_used_l",
    "needs_before_and_after",
    "records_of_use",
    "void_range_l",
]

_MM_PER_INCH: Final = 25.4
# portions of a bag: what is mixed so as not to come short; finer figures are read off
_PORTIONS: Final = (1.0, 0.5, COARSE_STEP)
_FINER: Final = (0.2, 0.1, 0.05, 0.01)
# so many of the records are whole multiples of the step they were written in
_IN_STEP: Final = 0.9
_FEWEST: Final = 30
_LEAST_SPAN_MM: Final = 50.0
# measured: with needs that span fewer steps, slips hide behind the rounding and the intervals are too short
_LEAST_STEPS: Final = 1.5
_MOST_OUTLIERS: Final = 0.25
_MOST_DOUBT: Final = 0.5
_MAD_TO_SIGMA: Final = 1.4826


def calibrate(
    cores: pd.DataFrame,
    catalogue: Catalogue,
    diameter_is: Literal["hole", "core"] = "hole",
    rounded: Rounding = "up",
) -> Calibration:
    """Fit kerf and bed thickness to records of use, all diameters together.

    A record of half a bag does not say that half a bag was needed: where bags are written in whole, half or quarter
    bags, crews mix so much as not to come short, and the need lay within one step below what was written. Every
    record therefore counts as the interval it stands for, by the step that the records are written in (the largest of
    1, 1/2, 1/4, 1/5, 1/10, 1/20, 1/100 that nine in ten of them are multiples of); steps finer than a quarter are
    taken as read to the nearest. Scatter is a share of the litres. Records that nothing but a slip explains lose their
    weight smoothly. One bed thickness serves all beds.

    What was measured, 50 simulated registers of 60 records a case (mixed diameters, scatter of 5 and 10 %, one in ten
    doubled or halved): in tenths or quarters, rounded up or to the nearest, kerf and bed come back within 0.4 and 1.2
    mm on average, and the intervals hold the truth in 84 to 100 % of a case's registers, 95 % (kerf) and 94 % (bed)
    over all. A line through the written figures less half a step, with outliers weighed down, was up to 2 mm of kerf
    and 5 mm of bed off, with intervals that seldom held the truth. In half bags at ordinary sizes nearly all records
    read 1/2 or 1, slips hide behind the rounding, kerf and bed come back 2 and 3 mm off, the intervals are as wide as
    the plausible range and still miss up to one time in five: that is not enough, and is said.

    Parameters
    ----------
    cores
        N rows with ``hole_mm``, ``depth_mm``, ``bedding``, ``bags_used``, ``grout_used_l`` and the truth
        ``is_usable``: whether the core is back, and its own.
    catalogue
        Pilot hole, overfill, what a bag yields, and the plausible ranges.
    diameter_is
        If ``"core"``, ``hole_mm`` is the core's diameter and two stated kerfs, and follows the kerf that is fitted.
    rounded
        ``"up"``: portions of a bag are what was mixed, never too little. ``"nearest"``: what was left was guessed. No
        record can tell; half a step up or down is as much as the bed itself.

    Returns
    -------
    Calibration
        ``enough`` says whether to go by it.
    """
    geometry, grout = catalogue.materials.geometry, catalogue.materials.grout
    able = cores["is_usable"] & cores[["hole_mm", "depth_mm", "grout_used_l", "bedding"]].notna().all(axis="columns")
    used = cores.loc[able & cores["bags_used"].gt(0) & cores["grout_used_l"].gt(0)]
    step, steps = _steps(used["bags_used"])
    width = steps * bag_l(grout)
    is_up = (rounded == "up") & steps.ge(COARSE_STEP)
    to = used["grout_used_l"] + np.where(is_up, 0.0, width / 2)
    widens = 2 if diameter_is == "core" else 0
    hole, depth, low, high = (one.to_numpy(float) for one in (used["hole_mm"], used["depth_mm"], to - width, to))
    once = np.ones(len(used))
    pilot_mm, overfill, kerf_mm = geometry.pilot_hole.value, grout.overfill.value, geometry.kerf.value
    records = Records(hole, depth, low, high, once, pilot_mm, overfill, kerf_mm, widens)
    fit = fit_records(records) if len(used) >= _FEWEST else _nothing(len(used))
    fitted = records.wet_l(fit.kerf_mm[0], fit.bed_mm[0])
    table = used[["hole_mm", "depth_mm", "bags_used", "grout_used_l"]].assign(
        from_l=to - width,
        to_l=to,
        fitted_l=fitted,
        residual_l=to - width / 2 - fitted,
        is_outlier=fit.slip > _MOST_DOUBT,
    )
    beds = [
        float(bed_mm(used, catalogue, getattr(geometry.gap, end), getattr(geometry.bed_fill, end)).median())
        for end in ("value", "least", "most")
    ]
    kerf = Estimate(*fit.kerf_mm, geometry.kerf.value, geometry.kerf.least, geometry.kerf.most)
    bed = Estimate(*fit.bed_mm, *beds)
    (kk, kb), (_, bb) = fit.covariance.tolist()
    return Calibration(
        kerf,
        bed,
        ((kk, kb), (kb, bb)),
        fit.scatter,
        table,
        _by_diameter(table),
        step,
        rounded,
        bag_l(grout),
        pilot_mm,
        overfill,
        widens,
        tuple(_reasons(table, kerf, bed, step, bag_l(grout))),
    )


def _steps(bags: pd.Series) -> tuple[float, pd.Series]:
    """The step that the records are written in, and that of each: one that is no multiple of it was read finely."""
    ways = {step: np.isclose(bags / step, (bags / step).round(), rtol=0, atol=1e-6) for step in (*_PORTIONS, *_FINER)}
    finest = _FINER[-1]
    step = next((step for step, fits in ways.items() if len(bags) and fits.mean() >= _IN_STEP), finest)
    return step, pd.Series(np.where(ways[step], step, finest), bags.index)


def _nothing(count: int) -> Fit:
    none = (nan, nan, nan)
    return Fit(none, none, np.full((2, 2), nan), nan, np.zeros(count))


def _by_diameter(records: pd.DataFrame) -> pd.DataFrame:
    good = records[~records["is_outlier"]]

    def spread(residual: pd.Series) -> float:
        return float(_MAD_TO_SIGMA * (residual - residual.median()).abs().median())

    def inch(table: pd.DataFrame) -> pd.Series:
        return (table["hole_mm"] / _MM_PER_INCH).round().rename("inch")

    counts = records.groupby(inch(records)).agg(
        hole_mm=("hole_mm", "median"), records=("hole_mm", "size"), outliers=("is_outlier", "sum")
    )
    residuals = good.groupby(inch(good))["residual_l"].agg(residual_l="median", spread_l=spread)
    joined = counts.join(residuals).reset_index()
    return joined.sort_values(["records", "inch"], ascending=[False, True], ignore_index=True)


def _reasons(records: pd.DataFrame, kerf: Estimate, bed: Estimate, step: float, bag_l: float) -> list[str]:
    """Why the records are not enough, each with what to do."""
    if len(records) < _FEWEST:
        few = f"{len(records)} records of use can be used, {_FEWEST} are the fewest."
        return [f"{few} Record the bags used at every core that goes back."]
    said = []
    span = _span(records["depth_mm"])
    if span < _LEAST_SPAN_MM:
        said.append(
            f"Nine in ten depths lie within {span:.0f} mm, {_LEAST_SPAN_MM:.0f} mm is the least that tells kerf from "
            "bed. Add records of thinner and thicker pavements."
        )
    steps = _span(records["fitted_l"]) / (step * bag_l)
    if steps < _LEAST_STEPS:
        said.append(
            f"Bags are written in steps of {step:g}, and nine in ten needs lie within {steps:.1f} steps, "
            f"{_LEAST_STEPS:g} is the least. Record tenths of a bag, or weigh what is left."
        )
    share = float(records["is_outlier"].mean())
    if share > _MOST_OUTLIERS:
        said.append(
            f"{share:.0%} of the records fit no model that the others fit, {_MOST_OUTLIERS:.0%} is the most. Check "
            "whether all of them mean the same by a bag."
        )
    for name, one in (("kerf", kerf), ("bed", bed)):
        fitted = f"The {name} of {one.mm:.1f} mm ({one.low_mm:.1f} to {one.high_mm:.1f})"
        plausible = f"its plausible range of {one.least_mm:.3g} to {one.most_mm:.3g} mm"
        if not one.is_plausible:
            said.append(
                f"{fitted} lies outside {plausible}: it is not believed, and the stated range serves. Check wet "
                "density, overfill, pilot hole, and how bags are rounded."
            )
        elif one.high_mm - one.low_mm > one.most_mm - one.least_mm:
            said.append(f"{fitted} is known no better than {plausible}. Record more cores, in tenths of a bag.")
    return said


def _span(numbers: pd.Series) -> float:
    """The width that holds nine in ten."""
    low, high = numbers.quantile([0.05, 0.95])
    return float(high - low)
