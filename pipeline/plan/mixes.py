"""Which cores share a mix: of all sets that one mix can serve in its working time, those that save most."""

from itertools import permutations
from typing import Final, NamedTuple

import numpy as np
import pandas as pd
from scipy.optimize import Bounds, LinearConstraint, milp
from scipy.sparse import coo_array, csr_array
from scipy.sparse.csgraph import connected_components
from scipy.spatial import cKDTree

from pipeline.plan.crews import Bools
from pipeline.plan.travel import Ints, Travel

__all__ = ["MixRules", "mix_groups", "whole_bags"]

# a sum that misses a whole bag by a rounding error is that whole bag
_DIGITS: Final = 9
# what a bag is worth, in minutes of a crew's work: our default
_BAG_MIN: Final = 30.0
# sets of more cores are not looked for
_MOST_CORES: Final = 3
_NODES: Final = 2000


class MixRules(NamedTuple):
    """The working time of a mix, the speed on foot in metres per minute, and the smallest share of a bag mixed."""

    working_min: float
    walking_m_min: float
    smallest: float


def whole_bags(net: float, smallest: float) -> float:
    """Return the bags to mix for a net need."""
    return float(np.ceil(round(net / smallest, _DIGITS)) * smallest)


def mix_groups(jobs: pd.DataFrame, allowed: Bools, travel: Travel, rules: MixRules) -> list[list[int]]:
    """Return sets of jobs that share a mix, as positions in ``jobs`` in the order of pouring; each job is in one set.

    Parameters
    ----------
    jobs
        N jobs that the same crews may do: ``shade``, ``net_bags``, ``pour_min``, ``press_min``, ``x_m``, ``y_m``,
        ``place``.
    allowed
        N by D: the days on which each may be done; a mix needs a day in common.
    travel
        Distances.
    rules
        What a mix allows.
    """
    needing = np.flatnonzero(jobs["net_bags"].gt(0))
    sets = [[int(at)] for at in range(len(jobs))]
    value = [0.0] * len(sets)
    for members, saved in _shared(jobs, needing, allowed, travel, rules):
        sets.append(members)
        value.append(saved)
    chosen = _best(sets, np.array(value), len(jobs))
    return sorted((sets[at] for at in chosen), key=min)


def _shared(
    jobs: pd.DataFrame, needing: Ints, allowed: Bools, travel: Travel, rules: MixRules
) -> list[tuple[list[int], float]]:
    """Return the sets of two and three jobs that one mix can serve, and what each saves, in minutes."""
    xy, place = jobs[["x_m", "y_m"]].to_numpy(float), jobs["place"].to_numpy()
    hands = (jobs["pour_min"] + jobs["press_min"]).to_numpy(float)
    net, shade = jobs["net_bags"].to_numpy(float), jobs["shade"].to_numpy()
    reach = rules.working_min * rules.walking_m_min
    tree = cKDTree(xy[needing])
    near: dict[int, set[int]] = {}
    for one, other in needing[tree.query_pairs(reach, output_type="ndarray")]:
        if shade[one] == shade[other] and (allowed[one] & allowed[other]).any():
            near.setdefault(int(min(one, other)), set()).add(int(max(one, other)))
    found = []
    pairs = [(one, other) for one, others in sorted(near.items()) for other in sorted(others)]
    triples = [(one, two, three) for one, two in pairs for three in sorted(near[one] & near.get(two, set()))]
    for members in [*pairs, *triples]:
        if hands[list(members)].sum() > rules.working_min or not allowed[list(members)].all(axis=0).any():
            continue
        apart = travel.metres(place[list(members)], place[list(members)]) / rules.walking_m_min
        order = min(
            permutations(range(len(members))), key=lambda way: (apart[list(way[:-1]), list(way[1:])].sum(), way)
        )
        walk = float(apart[list(order[:-1]), list(order[1:])].sum())
        if hands[list(members)].sum() + walk > rules.working_min + 1e-9:
            continue
        alone = sum(whole_bags(net[at], rules.smallest) for at in members)
        saved = alone - whole_bags(float(net[list(members)].sum()), rules.smallest)
        if saved > 0:
            found.append(([members[at] for at in order], saved * _BAG_MIN - 3 * walk))
    return found


def _best(sets: list[list[int]], value: np.ndarray, count: int) -> list[int]:
    """Return the numbers of the sets of a partition of ``count`` jobs with the highest value."""
    sizes = [len(one) for one in sets]
    job = np.concatenate([np.array(one, dtype=np.int64) for one in sets]) if sets else np.empty(0, dtype=np.int64)
    of_set = np.repeat(np.arange(len(sets)), sizes)
    shares = coo_array((np.ones(len(job)), (job, of_set)), shape=(count, len(sets))).tocsr()
    links = csr_array(shares @ shares.T)
    component = connected_components(links, directed=False)[1]
    of_component = component[[one[0] for one in sets]] if sets else np.empty(0, dtype=np.int64)
    chosen: list[int] = []
    for number in range(int(component.max(initial=-1)) + 1):
        mine, jobs_here = np.flatnonzero(of_component == number), np.flatnonzero(component == number)
        if len(jobs_here) == 1:
            chosen += mine.tolist()
            continue
        found = milp(
            -value[mine],
            integrality=np.ones(len(mine)),
            bounds=Bounds(0, 1),
            constraints=LinearConstraint(shares[jobs_here][:, mine], 1, 1),
            options={"node_limit": _NODES, "mip_rel_gap": 0},
        )
        alone = mine[[len(sets[at]) == 1 for at in mine]]
        chosen += mine[found.x > 0.5].tolist() if found.x is not None else alone.tolist()
    return chosen
