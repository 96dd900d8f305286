"""The simulated bags of one district: what is certain stays, what is drawn varies, and waste comes on top."""

import numpy as np
import pytest
from scipy.stats import binom

from pipeline.order.safety_stock.bags import SOURCES, Bags, add_waste, no_bags, simulate_district
from pipeline.order.safety_stock.volume_model import TERMS

# a model in which a core needs one bag for each metre of depth, whatever its diameter
_PER_DEPTH = np.eye(1, TERMS) / 1000
_NO_POOL = (np.array([]), np.array([]))


def _simulate(chance, depth_mm, pool=_NO_POOL, drawn=None, simulations=2000, seed=1):
    depth = np.array(depth_mm, dtype=float)
    size = (np.full(len(depth), 450.0), depth, np.full(len(depth), 10.0))
    drawn = np.tile(_PER_DEPTH, (simulations, 1)) if drawn is None else drawn
    return simulate_district(
        np.array(chance, dtype=float), size, pool, drawn, _PER_DEPTH[0], np.random.default_rng(seed)
    )


def test_cores_of_known_size_and_shade_need_the_same_in_every_simulation():
    bags = _simulate([[1, 0], [0, 1], [1, 0]], [200, 300, 400])
    assert bags.cores.tolist() == [2, 1]
    assert bags.expected == pytest.approx([0.6, 0.3])
    for source in ("shade", "size", "model", "all"):
        assert bags.simulated[source] == pytest.approx(np.tile([0.6, 0.3], (2000, 1)))


def test_an_uncertain_shade_varies_by_the_binomial_distribution():
    # twenty cores of 0.5 bags, dark or pale by the toss of a coin
    bags = _simulate([[0.5, 0.5]] * 20, [500] * 20, simulations=4000)
    dark = np.round(bags.simulated["shade"][:, 0] / 0.5).astype(int)
    for count in (7, 10, 13):
        assert (dark <= count).mean() == pytest.approx(binom(20, 0.5).cdf(count), abs=0.025)
    assert bags.expected == pytest.approx([5, 5])
    # one shade more is the other less
    assert bags.simulated["all"].sum(axis=1) == pytest.approx(np.full(4000, 10.0))
    assert np.ptp(bags.simulated["size"]) == pytest.approx(0)


def test_an_unknown_depth_is_drawn_from_the_pool():
    pool = (np.array([450.0, 450.0]), np.array([100.0, 300.0]))
    bags = _simulate([[1.0]], [np.nan], pool)
    assert set(np.round(bags.simulated["size"].ravel(), 9).tolist()) == {0.1, 0.3}
    assert bags.expected == pytest.approx([0.2])
    # the shade is certain, so that source alone sees the mean
    assert bags.simulated["shade"] == pytest.approx(np.full((2000, 1), 0.2))


def test_the_model_is_the_same_at_all_cores_of_a_simulation():
    factor = np.linspace(0.5, 1.5, 100)[:, None]
    bags = _simulate([[1.0]] * 3, [200, 300, 500], drawn=factor * _PER_DEPTH, simulations=100)
    assert bags.simulated["model"] == pytest.approx(factor)
    assert bags.simulated["all"] == pytest.approx(factor)
    assert bags.simulated["shade"] == pytest.approx(np.ones((100, 1)))


def test_a_chance_next_to_certain_is_not_drawn():
    bags = _simulate([[1 - 1e-9, 1e-9]], [500])
    assert np.ptp(bags.simulated["shade"], axis=0) == pytest.approx([0, 0])


def test_a_district_without_cores_needs_nothing():
    bags = simulate_district(np.empty((0, 2)), (np.empty(0),) * 3, _NO_POOL, np.tile(_PER_DEPTH, (10, 1)), _PER_DEPTH[0], np.random.default_rng(1))  # fmt: skip
    assert (bags.cores.tolist(), bags.expected.tolist()) == ([0, 0], [0, 0])
    assert all((table == 0).all() for table in bags.simulated.values())


def _bags(expected, simulations=5000):
    table = np.full((simulations, 1), float(expected))
    return Bags(np.ones(1), np.full(1, float(expected)), dict.fromkeys(("shade", "size", "model", "all"), table))


def test_without_waste_only_the_factor_for_mixing_is_applied():
    bags = add_waste(_bags(4), np.array([1.25]), 0.0, np.random.default_rng(1))
    assert bags.expected.tolist() == [5]
    assert all(np.unique(table).tolist() == [5] for table in bags.simulated.values())


@pytest.mark.parametrize("waste", [0.02, 0.2])
def test_lost_bags_are_replaced_until_enough_are_left(waste):
    bags = add_waste(_bags(50), np.ones(1), waste, np.random.default_rng(1))
    # mean and variance of a negative binomial: 50 w / (1 - w), and that over (1 - w)
    lost = bags.simulated["waste"] - 50
    assert lost.mean() == pytest.approx(50 * waste / (1 - waste), rel=0.1)
    assert lost.var() == pytest.approx(50 * waste / (1 - waste) ** 2, rel=0.15)
    assert (lost >= 0).all()
    # what is expected holds no waste
    assert bags.expected.tolist() == [50]


def test_no_bags_lose_none():
    bags = add_waste(_bags(0), np.ones(1), 0.5, np.random.default_rng(1))
    assert (bags.simulated["all"] == 0).all()


def test_districts_add_up_simulation_by_simulation():
    one, two = _simulate([[0.5, 0.5]] * 4, [300] * 4), _simulate([[0.5, 0.5]] * 3, [300] * 3, seed=2)
    both = one + two
    assert both.cores.tolist() == [3.5, 3.5]
    assert both.simulated["all"] == pytest.approx(one.simulated["all"] + two.simulated["all"])


def test_a_shade_and_all_shades_can_be_taken_out():
    bags = _simulate([[1, 0], [0, 1]], [200, 300], simulations=5)
    assert bags.of(1).expected == pytest.approx(0.3)
    assert bags.of(1).simulated["all"] == pytest.approx(np.full(5, 0.3))
    assert bags.of(slice(None)).simulated["all"] == pytest.approx(np.full(5, 0.5))


def test_no_bags_have_every_source():
    none = no_bags(3, 2)
    assert set(none.simulated) == {*SOURCES, "all"}
    assert none.simulated["all"].shape == (3, 2)
