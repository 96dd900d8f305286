"""Bags of shared mixes, and the bound on them, by other routes.

Sources: where no bag holds more than two cores, the fewest bags are the cores less a greatest matching (J. Edmonds, Paths,
trees, and flowers, 1965; from memory), here by networkx. Bin packing instances made as in the collection of test problems
known as the OR-Library (J. E. Beasley, 1990; from memory): "triplets", three needs per full bag, so that the answer is
known.
"""

import numpy as np
import pytest

from pipeline.plan.mix_sets import mix_sets, whole_bags
from pipeline.plan.mixes import mix_groups
from pipeline.plan.prices import proven_prices
from tests.plan.few_jobs import RULES, any_day, few_jobs, travel_of

networkx = pytest.importorskip("networkx")


def _bags(jobs, rules=RULES):
    """Return the bags of the mixes, and the bound on them."""
    net = jobs["net_bags"].to_numpy(float)
    sets = mix_sets(jobs, any_day(len(jobs)), travel_of(jobs), rules)
    groups = mix_groups(jobs, sets, any_day(len(jobs)), np.zeros((len(jobs), 1)))
    alone = np.array([whole_bags(need, 1.0) for need in net])
    xy = jobs[["x_m", "y_m"]].to_numpy(float)
    price = proven_prices(sets.members, sets.bags, np.where(sets.hidden, net, alone), np.ones(len(net)), xy)
    return sum(whole_bags(net[group].sum(), 1.0) for group in groups), float(np.ceil(price.sum() - 1e-6))


@pytest.mark.parametrize("seed", range(5))
def test_pairs_share_as_many_bags_as_a_greatest_matching_has(seed):
    rng = np.random.default_rng(seed)
    # over a third of a bag each, and with two of them in it no bag has room for a third
    xy, net = rng.uniform(0, 1200, (100, 2)), rng.uniform(0.34, 0.75, 100)
    jobs = few_jobs(net, xy[:, 0], y_m=xy[:, 1], pour_min=3.0)
    graph = networkx.Graph()
    apart = np.hypot(*(xy[:, None] - xy[None, :]).T) / 100.0
    graph.add_edges_from(np.argwhere(np.triu((apart <= 2.0) & (net[:, None] + net[None, :] <= 1.0), 1)).tolist())
    fewest = 100 - len(networkx.max_weight_matching(graph, maxcardinality=True))
    bags, bound = _bags(jobs)
    assert bound <= fewest <= bags <= fewest + 1
    assert bound >= fewest - 2


@pytest.mark.parametrize("bags", [1, 2, 3, 5, 8])
def test_a_perfect_packing_of_three_cores_per_bag_is_found_and_proven(bags):
    rng = np.random.default_rng(bags)
    first = rng.integers(380, 491, bags)
    second = np.array([rng.integers(250, 750 - one + 1) for one in first])
    net = rng.permutation(np.concatenate([first, second, 1000 - first - second]) / 1000)
    assert _bags(few_jobs(net, [0] * len(net))) == (bags, bags)
