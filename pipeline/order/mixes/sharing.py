"""Sharing: which cores take their grout from the same mixes, so that the fewest bags are opened.

A bag is mixed whole and cannot be kept: about 20 minutes after mixing it is firm (common practice at 70 F, no source).
So a mix may serve several cores only if they take the same shade, at the same crew visit, and lie within reach of each
other in the working time. What is looked for:

- Cores of one shade and one visit are parted into clusters. Any two cores of a cluster lie no further apart than the
  reach, so that from wherever a mix is made in it every other of its cores can be got to within the working time.
- A cluster mixes the whole number of bags that holds the sum of its needs. It mixes them one after the other, each
  when the one before it is poured, so that none waits; a core may be topped up from the next mix.
- A core that needs more than a bag has its full bags to itself and shares its last one; for the rounded sum that comes
  to the same, so only the parts beyond full bags matter.
- Of all ways to part them, one that takes the fewest bags; cores that would save nothing together stay by themselves.

Up to 10 cores that hang together are parted in every way there is, some up to 40 by an integer programme. Beyond, the
answer is the best that merging, moving and trying neighbourhoods anew has found, and ``bound`` says what no way can
undercut. Needs are counted in billionths of a bag, rounded down: 20 micrograms of a 20 kg bag.

The reach is between two cores. A mix that serves three or more is carried round all of them, which may be further;
needs of a third of a bag and more make that rare, and a reach well inside the working time covers it.
"""

from dataclasses import dataclass
from math import isfinite
from typing import Final

import numpy as np
import pandas as pd

from pipeline.errors import SettingsError
from pipeline.order.mixes.bound import price_bound
from pipeline.order.mixes.fewest import MOST_ENUMERATED, part_by_milp
from pipeline.order.mixes.merging import bags_by, merge_and_improve, part_anew
from pipeline.order.mixes.reach import WHOLE, Floats, Ints, bags_of, hang_together, pairs_within, thin_out

__all__ = ["SHARING_COLUMNS", "Sharing", "share_mixes"]

SHARING_COLUMNS: Final = (
    "visit", "district", "shade", "cores", "stops", "needed", "alone", "shared", "bound", "is_fewest",
)  # fmt: skip
# a connected part of so many cores is worth an integer programme, and so many parts of a run are
_MOST_CORES: Final = 40
_MOST_PROGRAMMES: Final = 30


@dataclass(frozen=True)
class Sharing:
    """Who shares mixes with whom.

    ``mix``: on the cores' index, the number of the stop whose mixes serve the core, from 1, by group and place; missing
    for a core without a need. ``bags_mixed_share``: on the cores' index, the bags mixed at its stop, shared out by
    need; adds up to the bags mixed. ``groups``: one row for each visit (or, without one, district) and shade,
    SHARING_COLUMNS: ``needed`` is the sum of needs; ``alone`` the bags if every core had mixes of its own, ``shared``
    those with sharing, ``bound`` a number proven not to be undercut; ``is_fewest``: whether that proves ``shared`` the
    fewest; all in bags.
    """

    mix: pd.Series
    bags_mixed_share: pd.Series
    groups: pd.DataFrame


def share_mixes(cores: pd.DataFrame, reach_m: float, smallest_part: float = 1.0) -> Sharing:
    """Find the fewest bags when mixes are shared.

    Parameters
    ----------
    cores
        N open cores with a unique index, ``bags`` (needs in bags, not rounded; rows with none are left out),
        ``shade``, ``visit`` (text, such as crew and day; missing: all such cores of a district are one group),
        ``district``, and ``x_m``, ``y_m`` in metres of a projected CRS (missing: the core is served alone).
    reach_m
        The furthest that two cores served by one mix may lie apart, in metres, in a straight line: working time by
        speed, over the detour factor of the streets.
    smallest_part
        The smallest part of a bag that is mixed: 1.0 for whole bags, 0.5 where half bags are weighed.

    Returns
    -------
    Sharing
        The same whatever the order of the rows; no limit in it is one of time.

    Raises
    ------
    SettingsError
        A reach that is no distance, or a part that a bag does not divide into.
    """
    _check(reach_m, smallest_part)
    served = cores[cores["bags"].gt(0)]
    place = served.assign(visit=served["visit"].astype("str"), district=served["district"].astype("str"))
    place["district"] = place["district"].where(place["visit"].isna())
    keys = place.groupby(["visit", "district", "shade"], dropna=False, sort=True)
    place["group"] = keys.ngroup()
    order = place.assign(index=place.index).sort_values(["group", "x_m", "y_m", "bags", "index"]).index
    place = place.loc[order]
    x, y = (place[name].to_numpy(float) for name in ("x_m", "y_m"))
    group = place["group"].to_numpy().astype(np.int64)
    need = np.floor(place["bags"].to_numpy(float) / smallest_part * WHOLE).astype(np.int64)
    cluster, bound = _cluster(x, y, group, need, reach_m)
    mixed = bags_by(cluster, need)
    total = np.zeros(len(mixed))
    np.add.at(total, cluster, place["bags"].to_numpy(float))
    share = mixed[cluster] * smallest_part * place["bags"].to_numpy(float) / total[cluster]
    shared, stops = (
        np.bincount(group[np.unique(cluster, return_index=True)[1]], weight).astype(np.int64)
        for weight in (mixed, None)
    )
    groups = place.groupby("group").agg(
        visit=("visit", "first"), district=("district", "first"), shade=("shade", "first"), cores=("shade", "size")
    )
    return Sharing(
        mix=pd.Series(cluster + 1, order).reindex(cores.index).astype("Int64").rename("mix"),
        bags_mixed_share=pd.Series(share, order).reindex(cores.index).astype(float).rename("bags_mixed_share"),
        groups=groups.assign(
            stops=stops,
            needed=place.groupby("group")["bags"].sum(),
            alone=np.bincount(group, bags_of(need)) * smallest_part,
            shared=shared * smallest_part,
            bound=bound * smallest_part,
            is_fewest=shared == bound,
        ).reset_index(drop=True)[list(SHARING_COLUMNS)],
    )


def _check(reach_m: float, smallest_part: float) -> None:
    if not (isfinite(reach_m) and reach_m >= 0):
        raise SettingsError(
            f"sharing: found a reach of {reach_m} m, expected a distance of nought or more. Correct it."
        )
    if not (0 < smallest_part <= 1 and (1 / smallest_part).is_integer()):
        raise SettingsError(
            f"sharing: found {smallest_part} as the smallest part of a bag, expected 1, 0.5 or another part that a bag "
            "divides into. Correct it."
        )


def _cluster(x: Floats, y: Floats, group: Ints, need: Ints, reach_m: float) -> tuple[Ints, Ints]:
    """Cluster all cores; returns the number of each core's cluster, and a proven bound for each group, in mixes."""
    count = len(need)
    cluster = np.arange(count)
    last = need % WHOLE
    # whole needs, and places not known, leave nothing to share
    able = np.flatnonzero((last > 0) & np.isfinite(x) & np.isfinite(y))
    alone = bags_of(need)
    alone[able] -= 1
    bound = np.bincount(group, alone).astype(np.int64)
    if len(able):
        cluster[able], part_bound, part_group = _cluster_able(x[able], y[able], last[able], group[able], reach_m)
        cluster[able] += count
        bound += np.bincount(part_group, part_bound, minlength=len(bound)).astype(np.int64)
    cluster = np.unique(cluster, return_inverse=True)[1]
    saves_nothing = bags_by(cluster, need) == np.bincount(cluster, bags_of(need))
    cluster = np.where(saves_nothing[cluster], len(need) + np.arange(count), cluster)
    _, first, inverse = np.unique(cluster, return_index=True, return_inverse=True)
    return np.argsort(np.argsort(first))[inverse], bound


def _cluster_able(x: Floats, y: Floats, need: Ints, group: Ints, reach_m: float) -> tuple[Ints, Ints, Ints]:
    thinned = thin_out(x, y, need, group, reach_m)
    left = np.flatnonzero(~thinned.is_packed)
    pairs = pairs_within(x[left], y[left], group[left], reach_m)
    part = hang_together(len(left), pairs)
    cluster = len(need) + thinned.square
    cluster[left], least = _solve(x[left], y[left], need[left], part, pairs)
    cluster = _join_packed(cluster, thinned.square, len(need))
    # what was packed beforehand belongs to the part that it may have held together; a part's own bound still holds
    whole = hang_together(len(need), np.concatenate([left[pairs], thinned.links]))
    total = np.zeros(int(whole.max()) + 1, dtype=np.int64)
    np.add.at(total, whole, need)
    first_of_part = np.unique(part, return_index=True)[1]
    of_parts = np.bincount(whole[left[first_of_part]], least, minlength=len(total)).astype(np.int64)
    first = np.unique(whole, return_index=True)[1]
    return cluster, np.maximum(bags_of(total), of_parts), group[first]


def _join_packed(cluster: Ints, square: Ints, first_packed: int) -> Ints:
    """Let the clusters that lie wholly in a dense square join what was packed there."""
    lies = pd.Series(square).groupby(cluster).agg(["min", "max"])
    wholly = lies["min"][lies["min"].eq(lies["max"]) & lies["min"].ge(0)]
    into = pd.Series(cluster).map(wholly + first_packed)
    return into.fillna(pd.Series(cluster)).to_numpy().astype(np.int64)


def _solve(x: Floats, y: Floats, need: Ints, part: Ints, pairs: Ints) -> tuple[Ints, Ints]:
    """Cluster connected parts; returns the number of each core's cluster, and a proven bound for each part."""
    size, links = np.bincount(part), np.bincount(part[pairs[:, 0]], minlength=int(part.max(initial=-1)) + 1)
    # where all are within reach of each other one cluster is best: the rounded sum is at most the sum of the rounded
    first = np.unique(part, return_index=True)[1]
    cluster = first[part]
    done = links == size * (size - 1) // 2
    few = ~done & (size <= MOST_ENUMERATED)
    core = np.flatnonzero(few[part])
    core = core[np.argsort(part[core], kind="stable")]
    part_anew(cluster, core, part[core], need, pairs)
    bound = _bags_of_parts(cluster, need, part)
    many = np.flatnonzero(~done & ~few)
    if len(many):
        core = np.flatnonzero(np.isin(part, many))
        place = np.full(len(part), -1)
        place[core] = np.arange(len(core))
        inner = place[pairs[np.isin(part[pairs[:, 0]], many)]]
        number = np.searchsorted(many, part[core])
        own, bound[many] = _solve_many(x[core], y[core], need[core], number, inner)
        cluster[core] = core[own]
    return cluster, bound


def _solve_many(x: Floats, y: Floats, need: Ints, part: Ints, pairs: Ints) -> tuple[Ints, Ints]:
    own = merge_and_improve(x, y, need, part, pairs)
    cluster = np.unique(own, return_index=True)[1][own]
    bound = price_bound(need, part, pairs)
    bags = _bags_of_parts(cluster, need, part)
    size = np.bincount(part)
    open_parts = np.flatnonzero((bags > bound) & (size <= _MOST_CORES))
    for number in open_parts[np.argsort(size[open_parts], kind="stable")][:_MOST_PROGRAMMES]:
        core = np.flatnonzero(part == number)
        place = np.full(len(part), -1)
        place[core] = np.arange(len(core))
        inner = place[pairs[part[pairs[:, 0]] == number]]
        # more cores than a machine word has bits: whole numbers of Python
        near = [0] * len(core)
        for one, other in inner.tolist():
            near[one] |= 1 << other
            near[other] |= 1 << one
        found, least = part_by_milp(need[core], near)
        bound[number] = max(bound[number], least)
        if found is not None and bags_by(found, need[core]).sum() < bags[number]:
            cluster[core] = core[np.unique(found, return_index=True)[1][np.unique(found, return_inverse=True)[1]]]
    return cluster, bound


def _bags_of_parts(cluster: Ints, need: Ints, part: Ints) -> Ints:
    """Bags of each part, of clusters numbered by one of their cores."""
    core, inverse = np.unique(cluster, return_inverse=True)
    return np.bincount(part[core], bags_by(inverse, need)).astype(np.int64)
