"""What no plan can do better: proven bounds on bags, crew days, lateness and the objective, and the plan's gap to them.

Bags and minutes of work get prices per core that no mix exceeds, see ``prices``. A day has as many minutes as its crews
have in their shifts, and each minute a price: a core then costs at least what its cheapest day does, or what leaving it
out does. These sums hold for any prices of the days; a linear programme on some of the cores only looks for good ones.
"""

from collections.abc import Callable
from typing import Final, NamedTuple

import numpy as np
import pandas as pd

from pipeline.clock import Told, silent
from pipeline.engines import HERE, Count, Engine
from pipeline.plan.crews import Bools
from pipeline.plan.day_prices import Offer, day_prices, least_cost
from pipeline.plan.mix_sets import MixSets, mix_sets
from pipeline.plan.prices import proven_prices
from pipeline.plan.schedule import shared_jobs
from pipeline.plan.shares import Planned, each_share
from pipeline.plan.slots import able_crews, slots_of
from pipeline.plan.streets.paths import BeyondPartError
from pipeline.plan.travel import Floats

__all__ = ["Planned", "Weights", "bounds_of"]

_DIGITS: Final = 9
_CLOSE: Final = 1e-6
# prices are the best for the cores that are planned; those of the others follow
_OTHERS: Final = 1e-3
_ALL: Final = "; not all sets of cores that could share a mix were examined: the others count with their net grout"


class Weights(NamedTuple):
    """Of the objective, in minutes of a crew's work: a bag, a crew day, and a core that is left out."""

    bag_min: float
    day_min: float
    left_out_min: float


class _Prices(NamedTuple):
    """Prices of some jobs: bags and minutes; and whether all sets were looked at."""

    bags: Floats
    minutes: Floats
    is_whole: bool


class _Least(NamedTuple):
    """The least that can be reached, and the prices of the days that prove it."""

    cost: float
    price: Floats


def bounds_of(
    work: Planned,
    weights: Weights,
    stops: pd.DataFrame,
    crew_days: pd.DataFrame,
    sets: list[MixSets | None],
    told: Told = silent,
    engine: Engine = HERE,
) -> pd.DataFrame:
    """Return the bounds of a plan, as PLAN_TABLES' ``bounds``.

    Parameters
    ----------
    work
        What was to be planned.
    weights
        Of the objective.
    stops, crew_days
        The tables of the plan.
    sets
        For each group of crews that share districts, the sets of its jobs that can share a mix, if they are known.
    told, engine
        Receives progress updates; does the work on each group.
    """
    day = stops["day"].reindex(work.jobs.index).to_numpy().astype("datetime64[D]")
    is_planned = ~np.isnat(day)
    on = np.where(is_planned, (day - work.days[0]).astype("timedelta64[D]").astype(int), len(work.days) - 1)
    lateness = float(work.late[np.arange(len(on)), on].sum())
    left_out = float((~is_planned).sum())
    every = list(shared_jobs(work.teams, work.jobs["district"]))
    covered = np.zeros(len(on), dtype=bool)
    for _, here in every:
        covered[here] = True
    # distances are only asked for where sets are not known
    straight = work._replace(travel=work.travel._replace(roads=None))
    found = each_share(
        engine, bounds_of_share, every, lambda at: work if sets[at] is None else straight,
        lambda at, mine: Share(mine, weights, is_planned[every[at][1]], sets[at]),
        Count(told, "bounds of the plan", len(covered), "cores").told,
    )  # fmt: skip
    bags, days, late, objective = (float(sum(one[at] for one in found)) for at in range(4))
    is_whole = all(one.is_whole for one in found)
    never = work.late[~covered, -1]
    rows = [
        ("weighted lateness", lateness, late + float(never.sum()),
         "travel, and which crew does what: the minutes of all crews of a district are pooled, and cores may be split"),
        ("crew days", float(len(crew_days)), days, "travel, and when the work is due, for the same cores"),
        ("bags to mix", float(crew_days["bags"].sum()), bags,
         "crews and days, for the same cores" + ("" if is_whole else _ALL)),
        ("objective",
         lateness + float(crew_days["travel_min"].sum()) + weights.day_min * len(crew_days)
         + weights.bag_min * float(crew_days["bags"].sum()) + weights.left_out_min * left_out,
         objective + float(never.sum()) + weights.left_out_min * len(never),
         "travel, and which crew does what: the minutes of all crews of a district are pooled, and cores may be split"),
    ]  # fmt: skip
    table = pd.DataFrame(rows, columns=["measure", "planned", "bound", "relaxed"])
    gap = (table["planned"] - table["bound"]) / table["bound"].where(table["bound"].gt(0))
    return table.assign(gap=gap)[["measure", "planned", "bound", "gap", "relaxed"]]


class _Bounds(NamedTuple):
    """What crews that share districts need at least, and whether all sets of their cores were looked at."""

    bags: float
    crew_days: float
    late: float
    objective: float
    is_whole: bool


def bounds_of_share(share: "Share", told: Callable[[int], None]) -> _Bounds | None:
    """Return what crews that share districts need at least; None where a path may lead out of the roads of the share.

    ``told``: is told how many of the jobs are done.
    """
    told(0)
    try:
        found = share.bounds()
    except BeyondPartError:
        return None
    told(len(share.is_planned))
    return found


class Share(NamedTuple):
    """Crews that share districts, and their jobs: which of them are planned, and the sets that can share a mix.

    ``sets``: None where they are not known.
    """

    work: Planned
    weights: Weights
    is_planned: Bools
    sets: MixSets | None

    @property
    def shift_min(self) -> Floats:
        """Minutes of work in each crew's shift."""
        shifts = [team.crew.shift[1] - team.crew.shift[0] - (team.crew.break_min or 0.0) for team in self.work.teams]
        return np.array(shifts, dtype=float)

    def bounds(self) -> _Bounds:
        """Return what these crews need at least."""
        found = self.prices()
        late = self.lateness(found)
        least = self.objective(found, late.price).cost
        return _Bounds(self.bags(found), self.crew_days(found), late.cost, least, found.is_whole)

    def prices(self) -> _Prices:
        """Return the prices of the jobs, in bags and in minutes."""
        work, jobs, sets = self.work, self.work.jobs, self.sets
        if sets is None:
            slots = slots_of(able_crews(jobs, work.teams), work.allowed, work.works)
            sets = mix_sets(jobs, slots, work.travel, work.rules)
        xy, weight = jobs[["x_m", "y_m"]].to_numpy(float), np.where(self.is_planned, 1.0, _OTHERS)
        net, smallest = jobs["net_bags"].fillna(0.0).to_numpy(float), work.rules.smallest
        alone = np.ceil(np.round(net / smallest, _DIGITS)) * smallest
        bags = proven_prices(sets.members, sets.bags, np.where(sets.hidden, net, alone), weight, xy)
        wait = 0.0 if np.isnan(work.wait_min).all() else float(np.nanmin(work.wait_min))
        of_sets, single, least = _minutes(jobs, sets, alone, net, wait)
        minutes = proven_prices(sets.members, of_sets, np.where(sets.hidden, least, single), weight, xy)
        return _Prices(bags, minutes, not sets.hidden.any())

    def bags(self, prices: _Prices) -> float:
        """Return the least bags for the planned cores: of each shade, a whole number of the smallest shares."""
        smallest, shade = self.work.rules.smallest, self.work.jobs["shade"].to_numpy()
        by_shade = pd.Series(prices.bags[self.is_planned]).groupby(shade[self.is_planned]).sum()
        return float((np.ceil(by_shade / smallest - _CLOSE) * smallest).sum())

    def crew_days(self, prices: _Prices) -> float:
        """Return the least crew days for the planned cores, if each had the longest shift."""
        longest = self.shift_min.max(initial=0.0)
        return float(np.ceil(prices.minutes[self.is_planned].sum() / longest - _CLOSE)) if longest else 0.0

    def lateness(self, prices: _Prices) -> _Least:
        """Return the least weighted lateness of all cores; one that is left out is late on the last day."""
        late = self.work.late[:]
        return _least(self._offer(prices, np.zeros(len(late)), late[:, -1]), None)

    def objective(self, prices: _Prices, near: Floats) -> _Least:
        """Return the least objective; ``near``: the prices of the days for lateness alone."""
        longest, weights = self.shift_min.max(initial=1.0), self.weights
        done = weights.bag_min * prices.bags + weights.day_min * prices.minutes / longest
        out = self.work.late[:, -1] + weights.left_out_min
        return _least(self._offer(prices, done, out), near)

    def _offer(self, prices: _Prices, done: Floats, out: Floats) -> Offer:
        room = (self.work.works * self.shift_min[:, None]).sum(axis=0)
        may = self.work.allowed & (room > 0)
        return Offer(self.work.late[:], may, prices.minutes, room, done, out)


def _least(offer: Offer, near: Floats | None) -> _Least:
    price = day_prices(offer, near)
    return _Least(least_cost(offer, price), price)


def _minutes(
    jobs: pd.DataFrame, sets: MixSets, alone: Floats, net: Floats, wait: float
) -> tuple[Floats, Floats, Floats]:
    """Return the least minutes of a visit to each set, to each job alone, and the least share of a job in any set.

    The way back to the first core of a mix is left out.
    """
    before = (jobs["set_up_min"] + jobs["dry_fit_min"] + jobs["pour_min"] + jobs["press_min"]).to_numpy(float)
    clean, mix = jobs["clean_min"].to_numpy(float), jobs["mix_min"].to_numpy(float)
    inside = sets.members >= 0
    mixing = sets.bags * np.where(inside, mix[sets.members], np.inf).min(axis=1, initial=np.inf)
    pressed = np.where(inside, before[sets.members], 0.0).sum(axis=1) + 2 * sets.walk_min + mixing
    of_sets = pressed + np.maximum(np.where(inside, clean[sets.members], 0.0).sum(axis=1), wait)
    needs = net > 0
    other = np.where(jobs["task"].eq("survey"), jobs["survey_min"], jobs["make_safe_min"]).astype(float)
    single = np.where(needs, before + alone * mix + np.maximum(clean, wait), other)
    least = np.where(needs, before + net * mix.min(initial=np.inf) + clean, other)
    return of_sets, single, least
