"""Stops that were promised in an earlier plan: which of them still hold, and what they leave of each crew's day."""

from typing import Final, NamedTuple

import numpy as np
import numpy.typing as npt
import pandas as pd

from pipeline.plan.crews import Bools, Days, Team
from pipeline.plan.schedule import CrewDay, Visits, whole_day
from pipeline.plan.travel import Floats, Ints, Travel
from pipeline.programme.names import folded
from pipeline.wording import counted

__all__ = ["Promises", "crew_days_of", "dropped_notices", "no_promises", "promises_of"]

Numbers = npt.NDArray[np.integer]
# names in a notice; the others are counted
_NAMED: Final = 10


class Promises(NamedTuple):
    """What was promised, for each of N jobs: ``team`` (-1: nothing), ``day``, ``stop`` and ``mix`` (0: none).

    ``dropped``: promises that no longer hold, with ``core_id`` and ``why``.
    """

    team: Ints
    day: Ints
    stop: Ints
    mix: Ints
    dropped: pd.DataFrame

    def among(self, jobs: Ints, teams: list[int]) -> "Promises":
        """Return what was promised of some jobs to some crews, in ascending order: both numbered by their position."""
        team = self.team[jobs]
        own = np.where(team < 0, -1, np.searchsorted(teams, team))
        return Promises(own, self.day[jobs], self.stop[jobs], self.mix[jobs], self.dropped.iloc[:0])

    def sets(self) -> list[list[int]]:
        """Return the promised visits, as numbers of their jobs, in their order, one for each mix."""
        mine = pd.DataFrame({"team": self.team, "day": self.day, "stop": self.stop, "mix": self.mix})
        mine = mine[mine["team"].ge(0)].sort_values(["team", "day", "stop"], kind="stable")
        # stops of a mix follow each other; what breaks the sequence is another visit
        same = mine[["team", "day", "mix"]].eq(mine[["team", "day", "mix"]].shift()).all(axis="columns")
        number = (~(same & mine["mix"].gt(0))).cumsum()
        return [at.tolist() for at in mine.groupby(number, sort=True).groups.values()]


def no_promises(count: int) -> Promises:
    """Return the promises of a plan in which nothing is promised."""
    none = np.zeros(count, dtype=np.int64)
    return Promises(
        none - 1, none.copy(), none.copy(), none.copy(), pd.DataFrame({"core_id": [], "why": []}, dtype="str")
    )


def promises_of(
    kept: pd.DataFrame,
    cores: pd.DataFrame,
    jobs: pd.DataFrame,
    allowed: Bools,
    teams: list[Team],
    works: Bools,
    days: Days,
) -> Promises:
    """Return what was promised and can still hold.

    Parameters
    ----------
    kept
        Stops of the earlier plan, on the index of the cores: ``crew``, ``day``, ``stop`` and ``mix`` (missing without).
    cores
        The cores of the run, with ``core_id``.
    jobs, allowed
        The N jobs: ``district``, ``surface``, ``shade``, ``net_bags``; N by D, on which days each may be done.
    teams, works
        The crews in force, and K by D, on which days each works.
    days
        The D days of the horizon.
    """
    names = {folded(team.crew.name): at for at, team in enumerate(teams)}
    kept = kept.assign(core_id=cores["core_id"].reindex(kept.index).fillna(""))
    job = pd.Series(np.arange(len(jobs)), jobs.index).reindex(kept.index)
    team = kept["crew"].map(folded, na_action="ignore").map(names)
    day = pd.Series((kept["day"].to_numpy().astype("datetime64[D]") - days[0]).astype(float), kept.index)
    why = pd.Series("", kept.index, dtype="str")
    why = why.mask(job.isna(), "no longer open, or no work left at the core")
    why = why.mask(why.eq("") & team.isna(), "the crew is no longer in the programme")
    why = why.mask(why.eq("") & ~day.between(0, len(days) - 1), "the day is not in the plan's horizon")
    held = why.index[why.eq("")]
    at, who, when = (values[held].to_numpy(np.int64) for values in (job, team, day))
    why = why.mask(why.eq("") & ~_on(works[who, when], held, why), "the crew does not work on that day")
    why = why.mask(why.eq("") & ~_on(allowed[at, when], held, why), "no work may be done at the core on that day")
    able = _able(jobs, teams, at, who)
    why = why.mask(why.eq("") & ~_on(able, held, why), "the crew does not work in that district or surface")
    good = why.index[why.eq("")]
    result = no_promises(len(jobs))
    where = job[good].to_numpy(np.int64)
    result.team[where], result.day[where] = team[good].to_numpy(np.int64), day[good].to_numpy(np.int64)
    result.stop[where] = kept.loc[good, "stop"].to_numpy(np.int64)
    mixed = jobs["net_bags"].gt(0).to_numpy()
    result.mix[where] = np.where(mixed[where], kept.loc[good, "mix"].fillna(0).to_numpy(np.int64), 0)
    dropped = kept[["core_id"]].assign(why=why)[why.ne("")]
    return result._replace(mix=_one_shade(result.mix, jobs["shade"]), dropped=dropped)


def _on(values: Bools, held: pd.Index, whole: pd.Series) -> pd.Series:
    """Return values of some rows on all; True for the others."""
    return pd.Series(values, held).reindex(whole.index, fill_value=True)


def _able(jobs: pd.DataFrame, teams: list[Team], at: Numbers, who: Numbers) -> Bools:
    district, surface = jobs["district"].to_numpy()[at], jobs["surface"].to_numpy()[at]
    able = np.zeros(len(at), dtype=bool)
    for number, team in enumerate(teams):
        fits = np.isin(district, list(team.districts))
        if team.crew.surfaces:
            fits &= np.isin(surface, list(team.crew.surfaces))
        able |= fits & (who == number)
    return able


def _one_shade(mix: Ints, shade: pd.Series) -> Ints:
    """Return the mixes without those whose cores no longer have one shade."""
    shades = shade.groupby(mix).nunique()
    several = shades.index[shades.gt(1)]
    return np.where(np.isin(mix, several), 0, mix)


def crew_days_of(
    visits: Visits,
    promised: list[tuple[int, int]],
    teams: list[Team],
    cure_min: Floats,
    travel: Travel,
    metres_per_min: float,
) -> tuple[dict[tuple[int, int], CrewDay], list[int]]:
    """Return what promised visits leave of crews' days, and the visits at the end of a day that no longer fit into it.

    ``promised``: the crew and day of each of the last visits in ``visits``, in their order.
    """
    rooms: dict[tuple[int, int], CrewDay] = {}
    over: list[int] = []
    first = len(visits.cores) - len(promised)
    worked, pressed, load = visits.worked_min, visits.pressed_min, visits.load_kg
    full: set[tuple[int, int]] = set()
    there_min, home_min = _legs_min(visits.entry[first:], visits.exit[first:], promised, teams, travel, metres_per_min)
    for number, key, there, home in zip(range(first, len(visits.cores)), promised, there_min, home_min, strict=True):
        room = rooms.get(key, whole_day(teams[key[0]], key[1]))
        minutes = room.minutes - there - float(np.fmax(worked[number], pressed[number] + cure_min[key[1]]))
        carries = room.carries_kg - load[number]
        if key in full or minutes < home or carries < 0:
            full.add(key)
            over.append(number)
            continue
        rooms[key] = CrewDay([*room.promised, number], int(visits.exit[number]), minutes, carries)
    return rooms, over


def _legs_min(
    entry: Ints, leave: Ints, promised: list[tuple[int, int]], teams: list[Team], travel: Travel, metres_per_min: float
) -> tuple[list[float], list[float]]:
    """Return the minutes to each promised visit, from the one before it on that day or the yard, and back to the yard.

    ``entry``, ``leave``: the places of the first and of the last core of each.
    """
    yards = np.array([teams[team].place for team, _ in promised], dtype=np.int64)
    before, last = yards.copy(), dict[tuple[int, int], int]()
    for number, key in enumerate(promised):
        before[number] = last.get(key, yards[number])
        last[key] = leave[number]
    metres = travel.between(np.concatenate([before, leave]), np.concatenate([entry, yards]))
    there, home = np.split(metres / metres_per_min, 2)
    return there.tolist(), home.tolist()


def dropped_notices(dropped: pd.DataFrame) -> list[str]:
    """Return a sentence for each reason for which promised stops were dropped."""
    notices = []
    for why, mine in dropped.groupby("why", sort=True):
        named = ", ".join(f'"{name}"' for name in sorted(mine["core_id"])[:_NAMED])
        more = f" and {len(mine) - _NAMED} more" if len(mine) > _NAMED else ""
        notices.append(
            f"{counted(len(mine), 'promised stop')} could not be kept and, where the core is still open, "
            f"planned again ({why}): {named}{more}."
        )
    return notices
