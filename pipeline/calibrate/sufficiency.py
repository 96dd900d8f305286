"""Whether records of use are sufficient for a calibration, and what to do if they are not."""

from collections.abc import Iterator
from typing import Final

import pandas as pd

from pipeline.calibrate.model import Estimate
from pipeline.wording import counted

__all__ = ["FEWEST_RECORDS", "habit_reasons", "insufficiencies"]

FEWEST_RECORDS: Final = 30
_LEAST_SPAN_MM: Final = 50.0
# measured: with needs that span fewer steps, mistakes disappear in the rounding and the intervals are too short
_LEAST_STEPS: Final = 1.5
_MOST_OUTLIERS: Final = 0.25


def insufficiencies(
    records: pd.DataFrame, kerf: Estimate, bed: Estimate, step: float, litres_per_bag: float
) -> Iterator[str]:
    """Yield why the records are not sufficient, each reason with what to do; nothing if they are.

    Parameters
    ----------
    records
        M rows with ``depth_mm``, ``fitted_l`` and ``is_outlier``.
    kerf, bed
        What was fitted to them.
    step
        The step that bags are recorded in.
    litres_per_bag
        What a bag yields.
    """
    if len(records) < FEWEST_RECORDS:
        usable = counted(len(records), "usable record")
        yield f"{usable} of use; at least {FEWEST_RECORDS} are required. Record the bags used at every reinstated core."
        return
    span = _span(records["depth_mm"])
    if span < _LEAST_SPAN_MM:
        yield (
            f"Nine in ten depths are within {span:.0f} mm of each other; at least {_LEAST_SPAN_MM:.0f} mm are required "
            "to tell kerf from bed. Add records from thinner and thicker pavements."
        )
    steps = _span(records["fitted_l"]) / (step * litres_per_bag)
    if steps < _LEAST_STEPS:
        yield (
            f"Bags are recorded in steps of {step:g}, and nine in ten needs are within {steps:.1f} steps of each "
            f"other; at least {_LEAST_STEPS:g} steps are required. Record tenths of a bag, or weigh what is left."
        )
    share = float(records["is_outlier"].mean())
    if share > _MOST_OUTLIERS:
        yield (
            f"{share:.0%} of the records are outliers; at most {_MOST_OUTLIERS:.0%} are acceptable. Check that "
            'everyone means the same by "a bag".'
        )
    for name, fitted in (("kerf", kerf), ("bed", bed)):
        found = f"The fitted {name} is {fitted.mm:.1f} mm ({fitted.low_mm:.1f} to {fitted.high_mm:.1f})"
        plausible = f"{fitted.least_mm:.3g} to {fitted.most_mm:.3g} mm"
        if not fitted.is_plausible:
            yield (
                f"{found}, outside its plausible range of {plausible}, so the stated range is used instead. Check wet "
                "density, overfill, pilot hole, and how bags are rounded."
            )
        elif fitted.high_mm - fitted.low_mm > fitted.most_mm - fitted.least_mm:
            yield (
                f"{found}, no more precise than its plausible range of {plausible}. Record more cores, in tenths of a "
                "bag."
            )


def habit_reasons(crews: pd.DataFrame) -> Iterator[str]:
    """Yield why the way in which crews round leaves kerf and bed open; nothing if it is known of all who are used.

    Parameters
    ----------
    crews
        By crew, ``step_bags``, ``habit`` (empty if it cannot be told), ``against`` (whether the records contradict
        what was stated) and ``is_used``.
    """
    unknown = crews[crews["is_used"] & crews["habit"].eq("")]
    if len(unknown):
        steps = " and ".join(f"{step:g}" for step in sorted(set(unknown["step_bags"]), reverse=True))
        yield (
            f"The bags of {counted(len(unknown), 'crew')} are in steps of {steps}, and the records cannot tell whether "
            'they were rounded up, to the nearest or down. Ask the crews and state it, as in --rounded "Crew A=up", '
            "or record tenths of a bag."
        )
    against = int((crews["is_used"] & crews["against"]).sum())
    if against:
        yield (
            f"The records of {counted(against, 'crew')} contradict the rounding stated with --rounded. Ask the crews "
            "how they round, or run without --rounded."
        )


def _span(numbers: pd.Series) -> float:
    """Return the width that contains nine in ten."""
    low, high = numbers.quantile([0.05, 0.95])
    return float(high - low)
