"""The records read as rounded up, to the nearest and down, how each crew rounds, and the fit that follows."""

from dataclasses import replace
from typing import Final, NamedTuple

import numpy as np
import pandas as pd

from pipeline.calibrate.habits import LEAD, Judged, judge_habits
from pipeline.calibrate.likelihood import Fit, Records, fit_records
from pipeline.calibrate.steps import HABITS, SMALL_CREWS, Rounded, Rounding, interval_l
from pipeline.calibrate.sufficiency import FEWEST_RECORDS
from pipeline.calibrate.waste import with_waste_mm
from pipeline.errors import SettingsError

__all__ = ["Exact", "Read", "read_records", "with_waste"]

# crews that read a scale are taken to read it to the nearest
_ON_A_SCALE: Final = "nearest"
_MIDDLE: Final = 1.0
# an error names no more crews
_MOST_NAMED: Final = 12


class Exact(NamedTuple):
    """What is taken as exact, as in ``Records``."""

    pilot_mm: float
    overfill: float
    kerf_mm: float
    widens: int


class Read(NamedTuple):
    """What :func:`read_records` returns.

    ``crews``: by crew, or what it was taken together with: ``records``, ``step_bags``, ``habit`` (how it rounds;
    empty if that cannot be told), ``known_from`` ("scale", "stated", "found" or ""), ``read_as`` (the habit, or the
    likeliest), ``lead`` (of the likeliest habit in log-likelihood; missing where it was not judged), ``against``
    (whether the records contradict what was stated) and ``is_used``. ``by_habit``: the fit of all records by habit.
    ``used``: which of the M records are in the fit. ``records``: those, and what they stand for.
    """

    crews: pd.DataFrame
    by_habit: dict[Rounding, Fit]
    used: pd.Series
    records: Records
    fit: Fit


def read_records(
    used: pd.DataFrame, written: pd.DataFrame, litres_per_bag: float, exact: Exact, rounded: Rounded | None
) -> Read:
    """Fit the records, read in each way and as each crew rounds.

    Parameters
    ----------
    used
        M rows with ``hole_mm``, ``depth_mm`` and ``grout_used_l``.
    written
        Their steps, from ``recorded_steps``.
    litres_per_bag
        What a bag yields.
    exact
        What is taken as exact.
    rounded
        How all crews round portions, or each by its name and the others by none; None judges it from the records.

    Returns
    -------
    Read
        Where the rounding of a crew cannot be told, its records are not used if the others are enough. Otherwise all
        are, and the intervals cover each way of rounding.
    """
    step_l = written["step"] * litres_per_bag
    enough = len(used) >= FEWEST_RECORDS
    fits: dict[Rounding, Fit] = {}
    read_in: dict[Rounding, Records] = {}
    for habit in HABITS if enough else ():
        ends = interval_l(used["grout_used_l"], step_l, pd.Series(habit, used.index))
        read_in[habit] = _records(used, ends, exact)
        fits[habit] = fit_records(read_in[habit])
    judged = _judged(used, written, step_l, exact, fits) if enough and written["is_portion"].any() else None
    crews = _crews(written, judged, rounded)
    known = written["group"].map(crews["habit"]).ne("")
    kept = known if known.sum() >= FEWEST_RECORDS else pd.Series(data=True, index=used.index)
    crews["is_used"] = kept.groupby(written["group"]).any()
    ways = written["group"].map(crews["read_as"]).where(written["is_portion"], _ON_A_SCALE)
    ends = interval_l(used.loc[kept, "grout_used_l"], step_l[kept], ways[kept])
    records = _records(used.loc[kept], ends, exact)
    fit = _fit(records, read_in, fits) if enough else _no_fit(len(used))
    if judged is not None and not known[kept].all():
        fit = _either_way(fit, judged.fit)
    return Read(crews, fits, kept, records, fit)


def _fit(records: Records, read_in: dict[Rounding, Records], fits: dict[Rounding, Fit]) -> Fit:
    """Return the fit of the records; that of all records read in one way, where they are these."""
    for habit, other in read_in.items():
        if np.array_equal(records.from_l, other.from_l) and np.array_equal(records.to_l, other.to_l):
            return fits[habit]
    return fit_records(records)


def _either_way(fit: Fit, every: Fit) -> Fit:
    """Return a fit with the intervals and the covariance of each way of rounding."""

    def wide(one: tuple[float, float, float], other: tuple[float, float, float]) -> tuple[float, float, float]:
        return one[0], min(one[1], other[1]), max(one[2], other[2])

    return replace(
        fit,
        kerf_mm=wide(fit.kerf_mm, every.kerf_mm),
        bed_mm=wide(fit.bed_mm, every.bed_mm),
        covariance=every.covariance,
    )


def _records(used: pd.DataFrame, ends: tuple[pd.Series, pd.Series], exact: Exact) -> Records:
    numbers = (used["hole_mm"], used["depth_mm"], *ends)
    hole, depth, low, high = (column.to_numpy(float) for column in numbers)
    return Records(hole, depth, low, high, np.ones(len(used)), *exact)


def _judged(
    used: pd.DataFrame, written: pd.DataFrame, step_l: pd.Series, exact: Exact, fits: dict[Rounding, Fit]
) -> Judged:
    ends = interval_l(used["grout_used_l"], step_l, pd.Series("nearest", used.index))
    return judge_habits(
        _records(used, ends, exact),
        step_l.to_numpy(float),
        written["group"],
        written["is_portion"].to_numpy(bool),
        [fits[habit] for habit in HABITS],
        max(min(fit.mistakes for fit in fits.values()), 0.01),
    )


def _crews(written: pd.DataFrame, judged: Judged | None, rounded: Rounded | None) -> pd.DataFrame:
    """Return how each crew rounds."""
    crews = written.groupby("group", sort=True).agg(
        records=("step", "size"), step_bags=("crew_step", "first"), has_portions=("is_portion", "any")
    )
    crews = crews.assign(habit=_ON_A_SCALE, known_from="scale", read_as=_ON_A_SCALE, lead=np.nan, against=False)
    crews[["habit", "known_from", "read_as"]] = crews[["habit", "known_from", "read_as"]].astype("object")
    if judged is not None:
        odds = judged.log_odds.loc[crews.index]
        # of habits that are equally likely, to the nearest lies between the other two
        best = odds.assign(nearest=odds["nearest"] + _MIDDLE).idxmax(axis="columns")
        second = pd.Series(np.sort(odds.to_numpy(), axis=1)[:, -2], odds.index)
        is_judged = crews["has_portions"]
        crews["lead"] = (-second).where(is_judged)
        told = crews["lead"].ge(LEAD)
        crews["habit"] = crews["habit"].where(~is_judged, best.where(told, ""))
        crews["known_from"] = crews["known_from"].where(~is_judged, np.where(told, "found", ""))
        crews["read_as"] = crews["read_as"].where(~is_judged, best)
    if rounded is not None:
        way = _stated(crews.index, written["crew"], rounded)
        is_stated = crews["has_portions"] & way.ne("")
        for habit in HABITS:
            these = is_stated & way.eq(habit)
            if judged is not None:
                crews["against"] |= these & judged.log_odds.loc[crews.index, habit].le(-LEAD)
            crews.loc[these, ["habit", "known_from", "read_as"]] = [habit, "stated", habit]
    return crews.drop(columns="has_portions")


def _stated(crews: pd.Index, every: pd.Series, rounded: Rounded) -> pd.Series:
    """Return how each crew was stated to round, empty where nothing was stated; ``every``: that of each record."""
    by_crew = {"": rounded} if isinstance(rounded, str) else rounded
    named = {" ".join(name.split()).casefold(): (name, habit) for name, habit in by_crew.items()}
    keys = pd.Series(crews.astype("str").str.casefold(), crews)
    for key, (name, _) in named.items():
        if key and key not in set(keys):
            known = "; ".join(map(str, crews[:_MOST_NAMED]))
            is_small = every.str.casefold().eq(key).any()
            why = f'which is among the "{SMALL_CREWS}"' if is_small else "of which there are no records"
            cure = "State how these round together, or leave it out." if is_small else "Correct the name."
            raise SettingsError(f'--rounded: found the crew "{name}", {why}; expected one of: {known}. {cure}')
    return keys.map({key: habit for key, (_, habit) in named.items()}).fillna(named.get("", ("", ""))[1])


def with_waste(
    fit: Fit, hole_mm: pd.Series, most_waste: float, exact: Exact
) -> tuple[tuple[float, float, float], tuple[float, float, float]]:
    """Return the kerf and the bed fitted, with intervals whose lower ends allow for the most waste."""
    (kerf, kerf_low, kerf_high), (bed, bed_low, bed_high) = fit.kerf_mm, fit.bed_mm
    if np.isnan(kerf):
        return fit.kerf_mm, fit.bed_mm
    usual = float(hole_mm.median())
    how = (most_waste, usual, exact.pilot_mm, exact.kerf_mm, exact.widens)
    low = with_waste_mm(kerf_low, bed, *how)[0], with_waste_mm(kerf, bed_low, *how)[1]
    return (kerf, low[0], kerf_high), (bed, low[1], bed_high)


def _no_fit(count: int) -> Fit:
    none = (np.nan, np.nan, np.nan)
    return Fit(none, none, np.full((2, 2), np.nan), np.nan, np.zeros(count), np.nan)
