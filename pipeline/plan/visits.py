"""Visits: the cores that share a mix, or one core, as one piece of work with its minutes, load, lateness and days."""

from typing import NamedTuple

import numpy as np
import pandas as pd

from pipeline.plan.crews import Bools, Days
from pipeline.plan.minutes import MINUTE_COLUMNS
from pipeline.plan.mixes import MixRules, whole_bags
from pipeline.plan.schedule import Visits
from pipeline.plan.timing import GroupTimes, group_times, opened_bags
from pipeline.plan.travel import Floats, Travel

__all__ = ["Group", "groups_of", "late_minutes", "visits_of"]

_FAR_DUE = np.timedelta64(10_000, "D")


class Group(NamedTuple):
    """The cores of one visit: ``members`` (positions among the jobs, in order), bags ``opened`` at each, and times.

    ``walks_m``: metres on foot from each to the next.
    """

    members: list[int]
    opened: Floats
    times: GroupTimes
    walks_m: Floats


def late_minutes(jobs: pd.DataFrame, days: Days) -> Floats:
    """Return N by D: what each day costs in lateness, the weight of the job for each day after the one it is due on."""
    due = jobs["due_on"].to_numpy().astype("datetime64[D]")
    due = np.where(np.isnat(due), days[-1] + _FAR_DUE, due)
    late = (days[None, :] - due[:, None]).astype("timedelta64[D]").astype(float)
    result: Floats = np.maximum(late, 0.0) * jobs["weight"].to_numpy(float)[:, None]
    return result


def groups_of(jobs: pd.DataFrame, sets: list[list[int]], travel: Travel, rules: MixRules) -> list[Group]:
    """Return the visits: what is opened where, and when each core is poured after the arrival."""
    steps = {name: jobs[name].to_numpy(float) for name in MINUTE_COLUMNS}
    place, net = jobs["place"].to_numpy(), jobs["net_bags"].fillna(0.0).to_numpy(float)
    task = jobs["task"].to_numpy()
    groups = []
    for members in sets:
        if not net[members[0]] > 0:
            name = "survey_min" if task[members[0]] == "survey" else "make_safe_min"
            minutes = float(steps[name][members[0]])
            nothing = np.array([np.nan])
            times = GroupTimes(np.zeros(1), nothing, nothing, 0.0, minutes)
            groups.append(Group(members, np.zeros(1), times, np.empty(0)))
            continue
        apart = travel.metres(place[members], place[members])
        walks_m = np.diagonal(apart, 1)
        opened = opened_bags(net[members], whole_bags(float(net[members].sum()), rules.smallest), rules.smallest)
        mine = pd.DataFrame({key: value[members] for key, value in steps.items()})
        back_min = float(apart[-1, 0]) / rules.walking_m_min
        times = group_times(mine, opened, walks_m / rules.walking_m_min, back_min)
        groups.append(Group(members, opened, times, walks_m))
    return groups


def visits_of(
    jobs: pd.DataFrame, groups: list[Group], allowed: Bools, late: Floats, bag_kg: float, water_kg: float
) -> Visits:
    """Return the visits as the schedule takes them; a bag weighs ``bag_kg`` and takes ``water_kg`` of water."""
    place, gravel = jobs["place"].to_numpy(), jobs["gravel_kg"].fillna(0.0).to_numpy(float)
    surface, district = jobs["surface"].to_numpy(), jobs["district"].to_numpy()
    frame = pd.DataFrame(
        {
            "load_kg": [group.opened.sum() * (bag_kg + water_kg) + gravel[group.members].sum() for group in groups],
            "worked_min": [group.times.worked for group in groups],
            "pressed_min": [group.times.pressed[-1] for group in groups],
            "cores": [len(group.members) for group in groups],
        }
    )
    return Visits(
        frame,
        place[[group.members[0] for group in groups]],
        place[[group.members[-1] for group in groups]],
        np.array([late[group.members].sum(axis=0) for group in groups]),
        np.array([allowed[group.members].all(axis=0) for group in groups]),
        [frozenset(map(str, surface[group.members])) for group in groups],
        [frozenset(map(str, district[group.members])) for group in groups],
    )
