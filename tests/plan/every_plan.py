"""Every plan of a few jobs, tried one after the other by a model of its own: the least of each measure."""

import math
from functools import cache
from itertools import pairwise, permutations, product

import numpy as np

BAG_MIN, DAY_MIN, LEFT_OUT_MIN = 30.0, 60.0, 300.0
_CLOSE = 1e-9


class Town:
    """Jobs along a street and crews that start on it, with what the tests of small plans vary."""

    def __init__(self, net, x, late, allowed, starts, works, shift_min=510.0, cure_min=30.0, working_min=10.0):
        self.net, self.x, self.late, self.allowed = net, x, np.array(late, float), np.array(allowed, bool)
        self.starts, self.works, self.shift_min = starts, np.array(works, bool), shift_min
        self.cure_min, self.working_min = cure_min, working_min
        self.walking, self.driving = 100.0, 400.0

    def walk(self, order):
        return [abs(self.x[a] - self.x[b]) / self.walking for a, b in pairwise(order)]

    def visit_min(self, order):
        """Return the minutes of a mix poured in this order, and its bags; None if its grout gets too old."""
        if not self.net[order[0]] > 0:
            return (15.0, 0.0) if len(order) == 1 else None
        walks, clock, left, born = [0.0, *self.walk(order)], 0.0, 0.0, 0.0
        mixing = bags = 0.0
        for job, way in zip(order, walks, strict=True):
            opened = max(math.ceil(round(self.net[job] - left, 9)), 0)
            clock += way + 3.0 * opened * (job != order[0])
            oldest = born if left > _CLOSE else clock
            born = clock if opened else born
            clock += 3.0
            if len(order) > 1 and clock - oldest > self.working_min + _CLOSE:
                return None
            left += opened - self.net[job]
            mixing, bags = mixing + 3.0 * opened, bags + opened
        if len(order) > 1 and sum(walks) + 3.0 * len(order) > self.working_min + _CLOSE:
            return None
        back = abs(self.x[order[-1]] - self.x[order[0]]) / self.walking if len(order) > 1 else 0.0
        pressed = 20.0 * len(order) + 2 * sum(walks) + back + mixing + 3.0 * len(order)
        return max(pressed + 6.0 * len(order), pressed + self.cure_min), bags

    def orders(self, members):
        """Return the orders in which these jobs can share a mix, each with its minutes and bags."""
        needing = [job for job in members if self.net[job] > 0]
        if len(members) > 1 and (len(needing) < len(members) or not self.each_saves(members)):
            return []
        tried = [(order, self.visit_min(order)) for order in permutations(members)]
        return [(order, *found) for order, found in tried if found is not None]

    def each_saves(self, members):
        def saved(some):
            return sum(math.ceil(round(self.net[job], 9)) for job in some) - math.ceil(
                round(sum(self.net[job] for job in some), 9)
            )

        return all(saved(members) > saved([job for job in members if job != one]) for one in members)


def _partitions(jobs):
    if not jobs:
        yield []
        return
    first, rest = jobs[0], jobs[1:]
    for smaller in _partitions(rest):
        yield [[first], *smaller]
        for at in range(len(smaller)):
            yield [*smaller[:at], [first, *smaller[at]], *smaller[at + 1 :]]


def _least_travel(town):
    """Return a function of a crew and its visits on a day: the least travel of all orders within the shift, or None."""

    @cache
    def least(crew, visits):
        ways = []
        for order in permutations(visits):
            at, travel = town.starts[crew], 0.0
            for jobs, *_ in order:
                travel += abs(at - town.x[jobs[0]]) / town.driving
                at = town.x[jobs[-1]]
            ways.append(travel + abs(at - town.starts[crew]) / town.driving)
        work = sum(minutes for _, minutes, _ in visits)
        return min((way for way in ways if way + work <= town.shift_min + _CLOSE), default=None)

    return least


def _plans(town):
    """Yield all plans: the visits of each crew's day, and under None those that are left out."""
    vehicles = [(crew, day) for crew, day in np.argwhere(town.works).tolist()]
    for parts in _partitions(list(range(len(town.net)))):
        for chosen in product(*(town.orders(members) for members in parts)):
            for where in product([None, *vehicles], repeat=len(chosen)):
                plan = {None: []}
                for visit, vehicle in zip(chosen, where, strict=True):
                    plan.setdefault(vehicle, []).append(visit)
                yield plan


def least_of_all_plans(town):
    """Return the least objective and lateness of all plans; the least bags and crew days of those that do every job."""
    last, least_travel = town.late.shape[1] - 1, _least_travel(town)
    best = dict.fromkeys(("objective", "weighted lateness", "bags to mix", "crew days"), math.inf)
    for plan in _plans(town):
        out = [job for jobs, *_ in plan.pop(None) for job in jobs]
        done = [(job, day) for (_, day), visits in plan.items() for jobs, *_ in visits for job in jobs]
        travel = [least_travel(crew, tuple(visits)) for (crew, _), visits in plan.items()]
        if None in travel or not all(town.allowed[job, day] for job, day in done):
            continue
        late = sum(town.late[job, day] for job, day in done) + sum(town.late[job, last] for job in out)
        bags = sum(opened for visits in plan.values() for *_, opened in visits)
        objective = late + sum(travel) + DAY_MIN * len(plan) + BAG_MIN * bags + LEFT_OUT_MIN * len(out)
        found = {"objective": objective, "weighted lateness": late}
        if not out:
            found |= {"bags to mix": bags, "crew days": float(len(plan))}
        best = {name: min(value, found.get(name, math.inf)) for name, value in best.items()}
    return best
