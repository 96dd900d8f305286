"""Calibrate: kerf and bed thickness from a programme's own records of use.

The litres of a core are a straight line in its depth, so records of use determine two numbers and no more: the kerf
``k`` and the effective thickness ``b = g + f n t`` of the grout in the bed. Pilot hole and overfill are taken as exact:
no record can distinguish an overfill from a wider void.

A record of half a bag does not mean that half a bag was needed: the need was up to a step below it if crews round up,
half a step on either side if they round to the nearest. So each record counts as an interval as wide as the step that
its crew records in, placed by the way in which that crew rounds. Half a step is several millimetres of bed, so the
way matters: it is judged for each crew (``habits``), and where records cannot tell it, they are reported as
insufficient, or that crew is left out. Steps finer than a quarter are taken as read off a scale, to the nearest.
Scatter is a share of the litres. Records that only a mistake explains lose their weight smoothly. One bed thickness is
fitted for all beds. Grout that was thrown away cannot be distinguished from void; see ``waste`` and ``uneven``.

Accuracy: ``python -m tests.bench.bench_calibration``. In half bags at ordinary sizes, nearly all records are 1/2 or 1
and mistakes disappear in the rounding: kerf and bed are 2 and 3 mm off, and intervals as wide as the plausible range
still miss up to one time in five. Such records are reported as insufficient.
"""

from math import nan
from typing import Final, Literal

import pandas as pd

from pipeline.calibrate.habits import LEAD
from pipeline.calibrate.model import Calibration, Estimate, bag_l, bags_by_habit, bed_mm, needs_before_and_after
from pipeline.calibrate.ranges import (
    calibrated_range_l,
    grout_used_l,
    grout_used_range_l,
    judged_grout,
    void_range_l,
)
from pipeline.calibrate.readings import Exact, Read, read_records, with_waste
from pipeline.calibrate.records import records_of_use
from pipeline.calibrate.steps import Rounded, Rounding, recorded_steps
from pipeline.calibrate.sufficiency import FEWEST_RECORDS, habit_reasons, insufficiencies
from pipeline.calibrate.uneven import uneven_share
from pipeline.programme.catalogue import Catalogue

__all__ = [
    "LEAD",
    "Calibration",
    "Estimate",
    "Rounded",
    "Rounding",
    "bags_by_habit",
    "calibrate",
    "calibrated_range_l",
    "grout_used_l",
    "grout_used_range_l",
    "judged_grout",
    "needs_before_and_after",
    "records_of_use",
    "void_range_l",
]

_MM_PER_INCH: Final = 25.4
# a record more likely a mistake than this is an outlier
_OUTLIER: Final = 0.5
_MAD_TO_SIGMA: Final = 1.4826


def calibrate(
    cores: pd.DataFrame,
    catalogue: Catalogue,
    diameter_is: Literal["hole", "core"] = "hole",
    rounded: Rounded | None = None,
) -> Calibration:
    """Fit kerf and bed thickness to records of use, all diameters together.

    Parameters
    ----------
    cores
        N rows with ``hole_mm``, ``depth_mm``, ``bedding``, ``bags_used``, ``grout_used_l``, ``crew`` and the boolean
        ``is_usable``: the core is reinstated, with a record of its own.
    catalogue
        Pilot hole, overfill, the yield of a bag, the most waste, and the plausible ranges.
    diameter_is
        If ``"core"``, ``hole_mm`` is the core's diameter plus two stated kerfs, and follows the fitted kerf.
    rounded
        How all crews round to whole, half or quarter bags, or each by its name and the others by none; None judges it
        for each crew from the records.

    Returns
    -------
    Calibration
        ``enough`` says whether the records are sufficient.

    Raises
    ------
    SettingsError
        ``rounded`` names a crew that has no records.
    """
    geometry, grout = catalogue.materials.geometry, catalogue.materials.grout
    able = cores["is_usable"] & cores[["hole_mm", "depth_mm", "grout_used_l", "bedding"]].notna().all(axis="columns")
    used = cores.loc[able & cores["bags_used"].gt(0) & cores["grout_used_l"].gt(0)]
    exact = Exact(geometry.pilot_hole.value, grout.overfill.value, geometry.kerf.value, 2 * (diameter_is == "core"))
    written = recorded_steps(used["bags_used"], used["crew"])
    read = read_records(used, written, bag_l(grout), exact, rounded)
    fit, used, written = read.fit, used.loc[read.used], written.loc[read.used]
    table = _with_residuals(used, read)
    uneven = uneven_share(read.records, fit)
    most_waste = max(grout.most_waste.value, uneven)
    kerf_mm, bed_mm = with_waste(fit, used["hole_mm"], most_waste, exact)
    kerf = Estimate(*kerf_mm, geometry.kerf.value, geometry.kerf.least, geometry.kerf.most)
    bed = Estimate(*bed_mm, *_stated_bed_mm(used, catalogue))
    (kk, kb), (_, bb) = fit.covariance.tolist()
    step = float(written["step"].median()) if len(written) else nan
    reasons = list(insufficiencies(table, kerf, bed, step, bag_l(grout)))
    if len(table) >= FEWEST_RECORDS:
        reasons = [*habit_reasons(read.crews), *reasons]
    return Calibration(
        kerf, bed, ((kk, kb), (kb, bb)), fit.scatter, table, _by_diameter(table), step,
        _beside_the_fit(read.crews, table, written["group"]), _by_habit(read), bag_l(grout), exact.pilot_mm,
        exact.overfill, exact.widens, most_waste, uneven, tuple(reasons),
    )  # fmt: skip


def _with_residuals(used: pd.DataFrame, read: Read) -> pd.DataFrame:
    records, fit = read.records, read.fit
    litres = records.wet_l(fit.kerf_mm[0], fit.bed_mm[0])
    return used[["hole_mm", "depth_mm", "bags_used", "grout_used_l"]].assign(
        from_l=records.from_l,
        to_l=records.to_l,
        fitted_l=litres,
        residual_l=(records.from_l + records.to_l) / 2 - litres,
        is_outlier=fit.mistaken > _OUTLIER,
    )


def _beside_the_fit(crews: pd.DataFrame, table: pd.DataFrame, group: pd.Series) -> pd.DataFrame:
    """Add how much more or less than the fit each crew used; missing for a crew that is not in it."""
    good = ~table["is_outlier"]
    beside = (table["residual_l"] / table["fitted_l"])[good].groupby(group[good]).median()
    return crews.assign(beside_fit=beside.reindex(crews.index))


def _stated_bed_mm(used: pd.DataFrame, catalogue: Catalogue) -> list[float]:
    """Return the median bed thickness by the catalogue: as stated, at the least and at the most."""
    geometry = catalogue.materials.geometry
    return [
        float(bed_mm(used, catalogue, getattr(geometry.gap, end), getattr(geometry.bed_fill, end)).median())
        for end in ("value", "least", "most")
    ]


def _by_habit(read: Read) -> pd.DataFrame:
    """Return kerf and bed of all records, read in each way."""
    lengths = {habit: [*fit.kerf_mm, *fit.bed_mm] for habit, fit in read.by_habit.items()}
    names = ["kerf_mm", "kerf_low_mm", "kerf_high_mm", "bed_mm", "bed_low_mm", "bed_high_mm"]
    return pd.DataFrame.from_dict(lengths, orient="index", columns=names).rename_axis("habit")


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
