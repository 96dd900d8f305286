"""Sharing: which cores take their grout from the same mixes, so that the fewest bags are opened.

A bag is mixed whole and cannot be stored: about 20 minutes after mixing it is firm (common practice at 70 °F, no
source). So cores share a mix only if they take the same shade on the same crew visit and are within reach of each
other in the working time. The rules:

- Cores of one shade and one visit are split into clusters. Any two cores of a cluster are no further apart than the
  reach, so that the crew can get from wherever it mixes to every other core of the cluster within the working time.
- A cluster mixes the whole number of bags that holds the sum of its needs, one bag after the other, each when the one
  before is poured, so that none waits. A core may be topped up from the next mix.
- A core that needs more than a bag uses its full bags alone and shares its last one. The rounded sum comes to the same,
  so only the needs beyond full bags are considered.
- Of all ways to split them, one that takes the fewest bags is chosen. Cores that save nothing together stay alone.

Connected components of up to 10 cores are solved by enumeration, some of up to 40 by an integer programme. For larger
ones the answer is the best found by merging, moving and solving neighbourhoods again, and ``bound`` is a proven lower
bound. Needs are counted in billionths of a bag, rounded down: 20 micrograms of a 20 kg bag.

The reach is between two cores. A mix for three or more cores is carried past all of them, which may be further; needs
of a third of a bag and more make that rare, and a reach well within the working time covers it.
"""

from dataclasses import dataclass
from math import isfinite
from typing import Final

import numpy as np
import pandas as pd

from pipeline.errors import SettingsError
from pipeline.order.mixes.bound import price_bound
from pipeline.order.mixes.clusters import ONE_BAG, Floats, Ints, bags_by, bags_of, cluster_names, name_clusters
from pipeline.order.mixes.fewest import MOST_ENUMERATED, split_by_programme
from pipeline.order.mixes.merging import merge_and_improve, split_again
from pipeline.order.mixes.reach import connected, pairs_within, thin_out

__all__ = ["SHARING_COLUMNS", "Sharing", "share_mixes"]

SHARING_COLUMNS: Final = (
    "visit", "district", "shade", "cores", "stops", "needed", "alone", "shared", "bound", "is_fewest",
)  # fmt: skip
# the largest component for an integer programme, and the most programmes per run
_MOST_CORES: Final = 40
_MOST_PROGRAMMES: Final = 30


@dataclass(frozen=True)
class Sharing:
    """Which cores share mixes.

    ``mix``: on the cores' index, the number of the stop whose mixes the core uses, from 1, ordered by group and
    position; missing for a core without a need. ``bags_mixed_share``: on the cores' index, the core's share, by need,
    of the bags mixed at its stop; these add up to the bags mixed. ``groups``: one row per visit (or, without one, per
    district) and shade, SHARING_COLUMNS, all in bags: ``needed`` is the sum of the needs, ``alone`` the bags if every
    core had mixes of its own, ``shared`` the bags with sharing, ``bound`` a proven lower bound, and ``is_fewest``
    whether that proves ``shared`` the fewest.
    """

    mix: pd.Series
    bags_mixed_share: pd.Series
    groups: pd.DataFrame


def share_mixes(cores: pd.DataFrame, reach_m: float, smallest_mix: float = 1.0) -> Sharing:
    """Find the fewest bags when mixes are shared.

    Parameters
    ----------
    cores
        N open cores with a unique index, ``bags`` (needs in bags, not rounded; rows without a need are ignored),
        ``shade``, ``visit`` (text, such as crew and day; the cores of a district without one form one group),
        ``district``, and ``x_m``, ``y_m`` in metres of a projected CRS (missing: the core has mixes of its own).
    reach_m
        The furthest that two cores sharing a mix may be apart, in metres, in a straight line: working time times speed,
        divided by the detour factor of the streets.
    smallest_mix
        The smallest share of a bag that is mixed: 1.0 for whole bags, 0.5 where half bags are weighed.

    Returns
    -------
    Sharing
        The same in any order of the rows; no limit in it is a time limit.

    Raises
    ------
    SettingsError
        The reach is not a distance, or a bag cannot be divided into mixes of that size.
    """
    _check(reach_m, smallest_mix)
    needing = _in_order(cores[cores["bags"].gt(0)])
    x, y, bags = (needing[name].to_numpy(float) for name in ("x_m", "y_m", "bags"))
    group = needing["group"].to_numpy().astype(np.int64)
    need = np.floor(bags / smallest_mix * ONE_BAG).astype(np.int64)
    cluster, bound = _cluster(x, y, group, need, reach_m)
    mixed, names = bags_by(cluster, need), cluster_names(cluster)
    total = np.zeros(len(mixed))
    np.add.at(total, cluster, bags)
    share = mixed[cluster] * smallest_mix * bags / total[cluster]
    shared, stops = (np.bincount(group[names], weight).astype(np.int64) for weight in (mixed[names], None))
    groups = needing.groupby("group").agg(
        visit=("visit", "first"), district=("district", "first"), shade=("shade", "first"), cores=("shade", "size")
    )
    return Sharing(
        mix=_spread(np.searchsorted(names, cluster) + 1, needing, cores).astype("Int64").rename("mix"),
        bags_mixed_share=_spread(share, needing, cores).astype(float).rename("bags_mixed_share"),
        groups=groups.assign(
            stops=stops,
            needed=needing.groupby("group")["bags"].sum(),
            alone=np.bincount(group, bags_of(need)) * smallest_mix,
            shared=shared * smallest_mix,
            bound=bound * smallest_mix,
            is_fewest=shared == bound,
        ).reset_index(drop=True)[list(SHARING_COLUMNS)],
    )


def _check(reach_m: float, smallest_mix: float) -> None:
    if not (isfinite(reach_m) and reach_m >= 0):
        raise SettingsError(f"sharing: the reach is {reach_m} m; expected zero or more metres. Correct it.")
    if not (0 < smallest_mix <= 1 and (1 / smallest_mix).is_integer()):
        raise SettingsError(
            f"sharing: the smallest mix is {smallest_mix} of a bag; expected 1, 0.5 or another fraction that divides a "
            "bag evenly. Correct it."
        )


def _in_order(needing: pd.DataFrame) -> pd.DataFrame:
    """Return the cores with the number of their group, in an order that does not depend on that of the rows."""
    named = needing.assign(visit=needing["visit"].astype("str"), district=needing["district"].astype("str"))
    named["district"] = named["district"].where(named["visit"].isna())
    named["group"] = named.groupby(["visit", "district", "shade"], dropna=False, sort=True).ngroup()
    return named.loc[named.assign(index=named.index).sort_values(["group", "x_m", "y_m", "bags", "index"]).index]


def _spread(values: Ints | Floats, needing: pd.DataFrame, cores: pd.DataFrame) -> pd.Series:
    return pd.Series(values, needing.index).reindex(cores.index)


def _cluster(x: Floats, y: Floats, group: Ints, need: Ints, reach_m: float) -> tuple[Ints, Ints]:
    """Return the clustering of all cores, and a proven lower bound for each group, in mixes."""
    cluster = np.arange(len(need))
    last = need % ONE_BAG
    # a whole need, or an unknown position, leaves nothing to share
    able = np.flatnonzero((last > 0) & np.isfinite(x) & np.isfinite(y))
    alone = bags_of(need)
    alone[able] -= 1
    bound = np.bincount(group, alone).astype(np.int64)
    if len(able):
        found, component_bound, component_group = _cluster_able(x[able], y[able], last[able], group[able], reach_m)
        cluster[able] = able[found]
        bound += np.bincount(component_group, component_bound, minlength=len(bound)).astype(np.int64)
    saves_nothing = bags_by(cluster, need) == np.bincount(cluster, bags_of(need))
    return np.where(saves_nothing[cluster], np.arange(len(need)), cluster), bound


def _cluster_able(x: Floats, y: Floats, need: Ints, group: Ints, reach_m: float) -> tuple[Ints, Ints, Ints]:
    """Return the clustering of cores that can share, and the bound and the group of each connected component."""
    thinned = thin_out(x, y, need, group, reach_m)
    packed, left = np.flatnonzero(thinned.is_packed), np.flatnonzero(~thinned.is_packed)
    pairs = pairs_within(x[left], y[left], group[left], reach_m)
    component = connected(len(left), pairs)
    found, least = _solve(x[left], y[left], need[left], component, pairs)
    cluster = np.arange(len(need))
    cluster[packed] = packed[name_clusters(thinned.square[packed])]
    cluster[left] = left[found]
    cluster = _join_packed(cluster, thinned.square, packed)
    # packed cores belong to the component that they may have connected; a component's own bound still holds
    joined = connected(len(need), np.concatenate([left[pairs], thinned.links]))
    rounded_sum = bags_by(joined, need)
    first_left = left[np.unique(component, return_index=True)[1]]
    of_components = np.bincount(joined[first_left], least, minlength=len(rounded_sum)).astype(np.int64)
    first = np.unique(joined, return_index=True)[1]
    return cluster, np.maximum(rounded_sum, of_components), group[first]


def _join_packed(cluster: Ints, square: Ints, packed: Ints) -> Ints:
    """Let the clusters that lie entirely in a dense square join what was packed there."""
    squares = pd.Series(square).groupby(cluster).agg(["min", "max"])
    inside = squares["min"][squares["min"].eq(squares["max"]) & squares["min"].ge(0)]
    packed_there = inside.map(pd.Series(cluster[packed], square[packed]).groupby(level=0).first())
    # the packed cores of a square are its first, so the cluster they name keeps its name
    joined = pd.Series(cluster).map(packed_there).fillna(pd.Series(cluster))
    return joined.to_numpy().astype(np.int64)


def _solve(x: Floats, y: Floats, need: Ints, component: Ints, pairs: Ints) -> tuple[Ints, Ints]:
    """Return the clustering of connected components, and a proven lower bound for each component."""
    size = np.bincount(component)
    links = np.bincount(component[pairs[:, 0]], minlength=len(size))
    # where all are within reach of each other one cluster is best: the rounded sum is at most the sum of the rounded
    cluster = name_clusters(component)
    done = links == size * (size - 1) // 2
    few = ~done & (size <= MOST_ENUMERATED)
    core = np.flatnonzero(few[component])
    core = core[np.argsort(component[core], kind="stable")]
    cluster = split_again(cluster, core, component[core], need, pairs)
    bound = _bags_of_components(cluster, need, component)
    many = np.flatnonzero(~done & ~few)
    if len(many):
        core = np.flatnonzero(np.isin(component, many))
        inner = _positions(core, len(component))[pairs[np.isin(component[pairs[:, 0]], many)]]
        number = np.searchsorted(many, component[core])
        found, bound[many] = _solve_many(x[core], y[core], need[core], number, inner)
        cluster[core] = core[found]
    return cluster, bound


def _solve_many(x: Floats, y: Floats, need: Ints, component: Ints, pairs: Ints) -> tuple[Ints, Ints]:
    """Return the same for components too large to enumerate."""
    cluster = merge_and_improve(x, y, need, component, pairs)
    bound = price_bound(need, component, pairs)
    bags = _bags_of_components(cluster, need, component)
    size = np.bincount(component)
    unproven = np.flatnonzero((bags > bound) & (size <= _MOST_CORES))
    for number in unproven[np.argsort(size[unproven], kind="stable")][:_MOST_PROGRAMMES]:
        core = np.flatnonzero(component == number)
        inner = _positions(core, len(component))[pairs[component[pairs[:, 0]] == number]]
        # Python integers, since there are more cores than a machine word has bits
        near = [0] * len(core)
        for one, other in inner.tolist():
            near[one] |= 1 << other
            near[other] |= 1 << one
        found, least = split_by_programme(need[core], near)
        bound[number] = max(bound[number], least)
        if found is not None and bags_by(found, need[core]).sum() < bags[number]:
            cluster[core] = core[found]
    return cluster, bound


def _positions(core: Ints, count: int) -> Ints:
    """Return the position of each of ``count`` cores among those chosen, -1 for the others."""
    position = np.full(count, -1)
    position[core] = np.arange(len(core))
    return position


def _bags_of_components(cluster: Ints, need: Ints, component: Ints) -> Ints:
    """Return the bags that each component's clusters take."""
    names = cluster_names(cluster)
    return np.bincount(component[names], bags_by(cluster, need)[names]).astype(np.int64)
