"""The figures that rules compare and no register writes: one function per figure, whole columns at a time."""

from collections.abc import Collection, Mapping
from typing import Final

import numpy as np
import pandas as pd

from pipeline.contracts import AUDIT_FRAME, no_text, sharing_blanks
from pipeline.programme.catalogue import Catalogue
from pipeline.programme.materials import Grout

__all__ = [
    "core_state",
    "days_of",
    "minutes_between",
    "minutes_uncertain",
    "water_ratio",
    "water_ratio_range",
    "with_figures",
    "yes_or_no",
]

# the coarsest step of a position that tells two cores apart: 0.00001 degrees are 1.1 m, 0.0001 degrees 11 m
_FINE_STEP_M: Final = 2.0
# figures that say yes or no, and the date that shows it
_YES_OR_NO: Final = {
    "reinstatement_known": "reinstated_at",
    "plate_known": "plated_on",
    "interim_known": "interim_on",
    "notice_known": "notice_sent_on",
    "inspection_known": "inspected_on",
}


def days_of(instants: pd.Series) -> pd.Series:
    """Return the local day of each instant, without a time zone."""
    day: pd.Series = instants.dt.tz_localize(None).dt.normalize()
    return day


def water_ratio(water_l: pd.Series, bags: pd.Series, grout: Grout) -> pd.Series:
    """Return litres of water per kilogram of dry grout."""
    return water_l / (bags.where(bags.gt(0)) * grout.bag.value)


def minutes_between(start: pd.Series, end: pd.Series, start_text: pd.Series, end_text: pd.Series) -> pd.Series:
    """Return minutes from one instant to another; missing where either was written without a time of day."""
    timed = start_text.str.contains(":", regex=False).eq(True) & end_text.str.contains(":", regex=False).eq(True)
    minutes: pd.Series = (end - start).dt.total_seconds() / 60
    return minutes.where(timed)


def minutes_uncertain(cores: pd.DataFrame) -> pd.Series:
    """Return by how many minutes the time from reinstatement to traffic may be off, up or down.

    Each of the two instants is written to the minute, or to the second where its register writes seconds other than
    nought. One that is rounded to the nearest is off by up to half of that; of two that are cut off, so is the
    difference by as much as both together. One in an hour that the clocks repeat may be in either.

    Parameters
    ----------
    cores
        N rows with ``register``, ``reinstated_at`` and ``reopened_at``.
    """
    off = pd.Series(0.0, cores.index)
    for name in ("reinstated_at", "reopened_at"):
        shows_seconds = cores[name].dt.second.gt(0).groupby(cores["register"], dropna=False).transform("any")
        off += np.where(shows_seconds, 0.5 / 60, 0.5)
        an_hour_later = cores[name] + pd.Timedelta(hours=1)
        off += 60.0 * an_hour_later.dt.tz_localize(None).eq(cores[name].dt.tz_localize(None))
    return off


def water_ratio_range(cores: pd.DataFrame, grout: Grout) -> pd.DataFrame:
    """Return the least and the greatest ratio of water that the figures of N cores may stand for.

    Parameters
    ----------
    cores
        N rows with ``water_l``, ``bags_used`` and the steps they were written to.
    grout
        What a bag weighs.

    Returns
    -------
    pandas.DataFrame
        On ``cores.index``: ``low``, ``high``; without an end upwards where the bags may round up from none.
    """
    water, bags = cores["water_l"], cores["bags_used"]
    half_l, half_bags = cores["water_step_l"].fillna(0.0) / 2, cores["bags_used_step"].fillna(0.0) / 2
    known = water_ratio(water, bags, grout).notna()
    most = water_ratio(water + half_l, bags - half_bags, grout).fillna(np.inf)
    least = water_ratio((water - half_l).clip(lower=0.0), bags + half_bags, grout)
    return pd.DataFrame({"low": least.where(known), "high": most.where(known)})


def yes_or_no(instants: pd.Series, problems: pd.Series) -> pd.Series:
    """Return "yes" where a date is given, "no" where the cell is empty; missing where the date cannot be read."""
    answer: pd.Series = no_text(instants.index).mask(instants.notna(), "yes").mask(instants.isna(), "no")
    return answer.where(problems.isna())


def core_state(cores: pd.DataFrame, keeping: Collection[str]) -> pd.Series:
    """Return where each of N cores is: open, plated, interim, back or unknown.

    Parameters
    ----------
    cores
        With ``register``, ``reinstated_at`` and its problem, ``interim_on``, ``plated_on``.
    keeping
        Names of the registers that keep the reinstatement date; whether a core of another is back is not known.
    """
    back = cores["reinstated_at"].notna()
    unknown = cores["reinstated_at_problem"].notna() | ~cores["register"].isin(list(keeping))
    known = [back, unknown, cores["interim_on"].notna(), cores["plated_on"].notna()]
    return pd.Series(np.select(known, ["back", "unknown", "interim", "plated"], "open"), cores.index, dtype="str")


def with_figures(cores: pd.DataFrame, catalogue: Catalogue, kept: Mapping[str, frozenset[str]]) -> pd.DataFrame:
    """Add the figures that rules compare.

    Parameters
    ----------
    cores
        N rows with the registers', located, specified, calibrated and quantified columns.
    catalogue
        What a mix is made of, which surfaces are rigid, what shades and conditions are called.
    kept
        By contract column, the names of the registers that keep it. In a column that is kept, an empty cell says that
        nothing has happened; a column that is not kept says nothing.

    Returns
    -------
    pandas.DataFrame
        ``cores`` with the figures of ``contracts.AUDITED_COLUMNS``, all but ``status``, ``findings`` and ``urgency``.
    """
    answers = {
        name: yes_or_no(cores[column], cores[AUDIT_FRAME[column].problem_name]).where(
            cores["register"].isin(kept.get(column, frozenset()))
        )
        for name, column in _YES_OR_NO.items()
    }
    thickness = {name: bed.thickness.value for name, bed in catalogue.materials.bedding.items()}
    counted = cores.loc[~cores["is_copy"], "segment_id"].value_counts()
    ratio = water_ratio_range(cores, catalogue.materials.grout)
    figures = cores.assign(
        # an unreadable reinstatement date may still mean that the core was reinstated: it does not count as open
        is_open=cores["reinstated_at"].isna() & cores["reinstated_at_problem"].isna(),
        state=core_state(cores, kept.get("reinstated_at", frozenset())),
        water_ratio=water_ratio(cores["water_l"], cores["bags_used"], catalogue.materials.grout),
        water_ratio_low=ratio["low"],
        water_ratio_high=ratio["high"],
        bedding_specified_mm=cores["bedding"].map(thickness).astype(float),
        reopened_after_min=minutes_between(
            cores["reinstated_at"], cores["reopened_at"], cores["reinstated_at_text"], cores["reopened_at_text"]
        ),
        reopened_within_min=minutes_uncertain(cores),
        shade_used_name=catalogue.shade_names(cores["shade_used"]),
        core_fault=catalogue.core_faults(cores["core_condition"]),
        is_rigid=cores["surface"].isin([name for name, surface in catalogue.surfaces.items() if surface.is_rigid]),
        segment_cores=cores["segment_id"].map(counted).astype(float),
        # two positions written to three decimals of a degree may be equal, and the cores 80 m apart
        spacing_x_m=cores["x_m"].mask(cores["position_step_m"].gt(_FINE_STEP_M)),
        **answers,
    )
    return sharing_blanks(figures)
