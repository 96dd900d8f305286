"""Minutes at a core, step by step, by size and surface: the programme's, else learnt from the register, else default.

The time from one core to the next of a crew's day, less the travel between them, is what the steps of the second one
took: set up, dry fit, mix its bags, pour, press and clean. The wait for traffic at the first is left out: the time
begins when that road was reopened, where the crew stayed until then.
"""

from typing import Final, NamedTuple

import numpy as np
import pandas as pd

from pipeline.plan.travel import Floats, Ints
from pipeline.programme.names import folded
from pipeline.programme.plan import StepMinutes
from pipeline.programme.plan_defaults import CORE_STEPS, SURFACE_KINDS, VISIT_STEPS, Learning, PlanDefaults

__all__ = ["MINUTE_COLUMNS", "MinutesInForce", "least_ready", "minutes_in_force", "minutes_of", "times_between"]

MINUTE_COLUMNS: Final = tuple(f"{step}_min" for step in (*CORE_STEPS, *VISIT_STEPS))
_SECONDS: Final = 60.0
# a hole of exactly the largest size of a class belongs to it, whatever a conversion leaves of its millimetres
_ROUNDING_MM: Final = 1e-6


class MinutesInForce(NamedTuple):
    """Minutes by step, kind of surface and class of size.

    ``by_step``: for each step of a reinstatement a row per kind and a column per class; ``mix`` is for one bag.
    ``per_visit``: minutes of the other tasks. ``ends_mm``: the largest size of each class but the last. ``table``: the
    same as the plan's table ``minutes``.
    """

    by_step: dict[str, Floats]
    per_visit: dict[str, float]
    ends_mm: Floats
    table: pd.DataFrame


def minutes_of(jobs: pd.DataFrame, force: MinutesInForce) -> pd.DataFrame:
    """Return the minutes of each step at each job, MINUTE_COLUMNS; those of ``mix`` are for one bag."""
    kind, size = _classes(jobs, force.ends_mm)
    columns = {f"{step}_min": values[kind, size] for step, values in force.by_step.items()}
    columns |= {f"{step}_min": np.full(len(jobs), value) for step, value in force.per_visit.items()}
    return pd.DataFrame(columns, index=jobs.index)


def least_ready(jobs: pd.DataFrame) -> float:
    """Return the fewest minutes from the arrival at a core to its pour, of all jobs with their minutes."""
    ready = jobs["set_up_min"] + jobs["dry_fit_min"] + jobs["mix_min"]
    return float(ready.min()) if len(ready) else 0.0


def minutes_in_force(times: pd.DataFrame, stated: StepMinutes, defaults: PlanDefaults) -> MinutesInForce:
    """Return the minutes in force.

    Parameters
    ----------
    times
        What :func:`times_between` returns: the times of N cores of the registers.
    stated
        The programme's minutes; they hold for every size and surface.
    defaults
        Our defaults. Steps that the programme does not state are stretched by the median of what cores took over what
        they would take by default, so that they add up to what was learnt.
    """
    ends = np.array(defaults.sizes.ends_mm)
    usual = {kind: defaults.core_minutes(kind) for kind in SURFACE_KINDS}
    own: dict[str, float | None] = {step: getattr(stated, step) for step in (*CORE_STEPS, *VISIT_STEPS)}
    by_step = {
        step: np.array([usual[kind][step] for kind in SURFACE_KINDS])
        if own[step] is None
        else np.full((len(SURFACE_KINDS), len(ends) + 1), own[step], dtype=float)
        for step in CORE_STEPS
    }
    factors, cores = _learnt(times, by_step, [step for step in CORE_STEPS if own[step] is None], ends, defaults)
    for step in CORE_STEPS:
        if own[step] is None:
            by_step[step] = by_step[step] * factors
    per_visit: dict[str, float] = {step: own[step] or getattr(defaults.minutes.visit, step) for step in VISIT_STEPS}
    rows = [
        (step, size, kind, by_step[step][row, column], cores[row, column])
        for step in CORE_STEPS
        for column, size in enumerate(defaults.sizes.names)
        for row, kind in enumerate(SURFACE_KINDS)
    ]
    rows += [(step, "all", "all", per_visit[step], 0) for step in VISIT_STEPS]
    table = pd.DataFrame(rows, columns=["step", "size", "surface", "minutes", "cores"])
    is_stated = table["step"].map(lambda step: own[step] is not None)
    table["cores"] = table["cores"].mask(is_stated, 0)
    origin = np.select([is_stated, table["cores"].gt(0)], ["programme", "learnt"], "our default")
    return MinutesInForce(
        by_step, per_visit, ends, table.assign(step=table["step"].str.replace("_", " "), origin=origin)
    )


def times_between(
    cores: pd.DataFrame, learning: Learning, metres_per_min: float, detour: float, *, waits: bool
) -> pd.DataFrame:
    """Return what cores of the registers took.

    Parameters
    ----------
    cores
        N rows: ``crew``, ``reinstated_at``, ``reopened_at``, ``x_m``, ``y_m``, ``hole_mm``, ``is_rigid`` and
        ``bags_used``.
    learning
        Times that may hold the break, or are too long for one core, are left out.
    metres_per_min, detour
        Travel between cores: speed, and length over the straight line.
    waits
        Whether crews wait until traffic is back; then a time is only known after a core of which that time is known.

    Returns
    -------
    pandas.DataFrame
        A row per core with a time of its own: ``minutes``, ``bags`` (whole, at least one), ``hole_mm``, ``is_rigid``.
    """
    at = cores["reinstated_at"].dt.tz_localize(None)
    crew = cores["crew"].str.strip()
    # midnight is how a day without a time is written
    timed = cores[at.ne(at.dt.normalize()) & at.notna() & crew.notna() & crew.ne("") & cores["x_m"].notna()]
    names = {name: folded(name) for name in timed["crew"].unique()}
    frame = timed.assign(
        at=at, reopened=cores["reopened_at"].dt.tz_localize(None), who=timed["crew"].map(names)
    ).sort_values(["who", "at"], kind="stable")
    before = frame.groupby(["who", frame["at"].dt.normalize()], sort=False)[["at", "reopened", "x_m", "y_m"]].shift()
    stayed = before["reopened"].le(frame["at"]) & before["reopened"].ge(before["at"])
    begin = before["at"].mask(stayed, before["reopened"])
    is_known = begin.notna() & (before["reopened"].notna() | (not waits))
    travelled = np.hypot(frame["x_m"] - before["x_m"], frame["y_m"] - before["y_m"]) * detour / metres_per_min
    passed = (frame["at"] - begin).dt.total_seconds() / _SECONDS
    rest = frame["at"].dt.normalize() + pd.Timedelta(hours=learning.break_at.hour, minutes=learning.break_at.minute)
    holds_break = begin.lt(rest) & frame["at"].gt(rest)
    minutes = passed - travelled
    kept = is_known & ~holds_break & minutes.gt(0) & passed.le(learning.longest_min) & frame["hole_mm"].notna()
    bags = np.ceil(frame["bags_used"].round(9)).clip(lower=1.0).fillna(1.0)
    table = frame[["hole_mm", "is_rigid"]].assign(minutes=minutes, bags=bags)
    result: pd.DataFrame = table.loc[kept, ["minutes", "bags", "hole_mm", "is_rigid"]].reset_index(drop=True)
    return result


def _learnt(
    times: pd.DataFrame, by_step: dict[str, Floats], free: list[str], ends: Floats, defaults: PlanDefaults
) -> tuple[Floats, Ints]:
    """Return how much longer the free steps take than by default, by kind and class, and from how many cores."""
    shape = (len(SURFACE_KINDS), len(ends) + 1)
    factors, cores = np.ones(shape), np.zeros(shape, dtype=np.int64)
    least = defaults.learning.least_cores
    if not free or len(times) < least:
        return factors, cores
    kind, size = _classes(times, ends)
    bags = times["bags"].to_numpy(float)
    taken = {step: values[kind, size] * (bags if step == "mix" else 1.0) for step, values in by_step.items()}
    by_default = np.sum([taken[step] for step in free], axis=0)
    fixed = np.sum([np.zeros(len(times)), *(taken[step] for step in by_step if step not in free)], axis=0)
    ratio = (times["minutes"].to_numpy(float) - fixed) / by_default
    factors[:], cores[:] = np.median(ratio), len(times)
    for row, column in np.ndindex(*shape):
        mine = ratio[(kind == row) & (size == column)]
        if len(mine) >= least:
            factors[row, column], cores[row, column] = np.median(mine), len(mine)
    # the programme's own steps leave no time for the others there
    lost = factors <= 0
    return np.where(lost, 1.0, factors), np.where(lost, 0, cores)


def _classes(frame: pd.DataFrame, ends: Floats) -> tuple[Ints, Ints]:
    """Return the kind of surface and the class of size of each row, as numbers; an unknown size is in the last."""
    size = np.searchsorted(ends + _ROUNDING_MM, frame["hole_mm"].to_numpy(float))
    rigid = frame["is_rigid"].fillna(value=False).to_numpy(dtype=bool)
    return rigid.astype(np.int64), size
