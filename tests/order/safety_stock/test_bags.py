"""The simulated bags of a district: lost bags on top of those mixed, and sums of districts and shades."""

import numpy as np
import pytest

from pipeline.order.safety_stock.bags import SOURCES, Bags, add_waste, lost_bags, no_bags


def _mixed(*bags, simulations=5000):
    """Bags of K shades that are the same in every simulation."""
    table = np.tile(np.array(bags, dtype=float), (simulations, 1))
    return Bags(np.ones(len(bags)), table[0], dict.fromkeys(("shade", "model", "all"), table))


def test_without_waste_what_is_mixed_is_opened():
    bags = add_waste(_mixed(4, 2), 0.0, np.random.default_rng(1))
    assert set(bags.simulated) == {*SOURCES, "all", "known model"}
    assert all(np.unique(table, axis=0).tolist() == [[4, 2]] for table in bags.simulated.values())


@pytest.mark.parametrize("waste", [0.02, 0.2])
@pytest.mark.parametrize("source", ["waste", "all", "known model"])
def test_lost_bags_are_replaced_until_enough_are_left(waste, source):
    bags = add_waste(_mixed(50), waste, np.random.default_rng(1))
    # mean and variance of a negative binomial: 50 w / (1 - w), and that over (1 - w)
    lost = bags.simulated[source] - 50
    assert lost.mean() == pytest.approx(50 * waste / (1 - waste), rel=0.1)
    assert lost.var() == pytest.approx(50 * waste / (1 - waste) ** 2, rel=0.15)
    assert (lost >= 0).all()
    # shade and model alone lose none
    assert bags.simulated["shade"].max() == bags.simulated["model"].max() == 50


def test_waste_alone_is_lost_from_the_bags_of_the_plan():
    mixed = _mixed(3)
    mixed = Bags(mixed.cores, np.array([50.0]), mixed.simulated)
    assert add_waste(mixed, 0.1, np.random.default_rng(1)).simulated["waste"].min() >= 50


def test_no_bags_lose_none():
    assert (lost_bags(np.zeros((10, 2)), 0.5, np.random.default_rng(1)) == 0).all()


def test_districts_add_up_simulation_by_simulation():
    one, two = (add_waste(_mixed(bags, 1), 0.3, np.random.default_rng(bags)) for bags in (4, 9))
    both = one + two
    assert (both.cores.tolist(), both.planned.tolist()) == ([2, 2], [13, 2])
    assert (both.simulated["all"] == one.simulated["all"] + two.simulated["all"]).all()


def test_a_shade_and_all_shades_can_be_taken_out():
    bags = _mixed(4, 2, simulations=5)
    assert (bags.of(1).planned, bags.of(1).simulated["all"].tolist()) == (2, [2] * 5)
    assert (bags.of(slice(None)).planned, bags.of(slice(None)).simulated["all"].tolist()) == (6, [6] * 5)


def test_no_bags_have_every_source():
    none = no_bags(3, 2)
    assert set(none.simulated) == {*SOURCES, "all", "known model"}
    assert none.simulated["all"].shape == (3, 2)
