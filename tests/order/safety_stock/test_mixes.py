"""The bags to mix of every mix, drawn and rounded up: against hand-worked cases and an enumeration of all shades."""

from itertools import product
from math import ceil

import numpy as np
import pytest

from pipeline.order.safety_stock.mixes import Mixes, mixed_bags
from pipeline.order.safety_stock.volume_model import TERMS

# a model in which a core needs one bag for each metre of depth
_PER_DEPTH = np.eye(1, TERMS)[0] / 1000
_SURE = {"dark": (1.0, 0.0), "pale": (0.0, 1.0)}


def _mixes(*mixes):
    """Each mix: its planned shade, and its cores as (depth in mm, chance of dark and pale)."""
    cores = [core for _, members in mixes for core in members]
    terms = np.zeros((len(cores), TERMS))
    terms[:, 0] = [depth for depth, _ in cores]
    sizes = [len(members) for _, members in mixes]
    shade = np.array([["dark", "pale"].index(name) for name, _ in mixes])
    return Mixes(terms, np.array([chance for _, chance in cores], dtype=float), np.cumsum(sizes) - sizes, shade)


def _simulate(mixes, factors=(1.0,) * 2000, smallest=1.0, seed=1):
    drawn = np.array(factors)[:, None] * _PER_DEPTH
    return mixed_bags(mixes, drawn, _PER_DEPTH, smallest, np.random.default_rng(seed))


def test_the_leftover_of_a_mix_takes_up_a_larger_need_before_another_bag_is_opened():
    # 0.3 + 0.5 = 0.8 bags are one bag up to a factor of 1.25; 0.9 bags are two from 1.12 on
    mixes = _mixes(("dark", [(300, _SURE["dark"]), (500, _SURE["dark"])]), ("pale", [(900, _SURE["pale"])]))
    bags = _simulate(mixes, [0.5, 1.0, 1.1, 1.12, 1.25, 1.26])
    assert bags["model"].tolist() == [[1, 1], [1, 1], [1, 1], [1, 2], [1, 2], [2, 2]]
    assert bags["all"].tolist() == bags["model"].tolist()
    assert np.unique(bags["shade"], axis=0).tolist() == [[1, 1]]


def test_half_bags_are_rounded_up_to_halves():
    mixes = _mixes(("dark", [(300, _SURE["dark"]), (500, _SURE["dark"])]))
    assert _simulate(mixes, [0.6, 1.0, 1.3], smallest=0.5)["model"][:, 0].tolist() == [0.5, 1.0, 1.5]


def test_a_core_of_another_shade_leaves_its_mix_and_gets_a_mix_of_its_own():
    # 0.6 + 0.6 = 1.2: two bags dark; with the second core pale, one dark and one pale
    mixes = _mixes(("dark", [(600, _SURE["dark"]), (600, (0.7, 0.3))]))
    bags = _simulate(mixes)["all"]
    assert set(map(tuple, bags.tolist())) == {(2.0, 0.0), (1.0, 1.0)}
    # three standard errors of 2,000 draws
    assert (bags[:, 1] == 1).mean() == pytest.approx(0.3, abs=3 * 0.0103)


def test_a_core_that_cannot_be_reinstated_after_all_needs_nothing():
    bags = _simulate(_mixes(("dark", [(600, _SURE["dark"]), (600, (0.7, 0.0))])))["all"]
    assert set(map(tuple, bags.tolist())) == {(2.0, 0.0), (1.0, 0.0)}


def test_all_shades_of_some_mixes_come_as_often_as_an_enumeration_says():
    cores = [[(400, (0.9, 0.1)), (500, (0.6, 0.4)), (300, (0.5, 0.5))], [(800, (0.2, 0.8)), (700, (0.3, 0.7))]]
    mixes = _mixes(("dark", cores[0]), ("pale", cores[1]))
    exact = {}
    for shades in product((0, 1), repeat=5):
        every = [*cores[0], *cores[1]]
        chance = np.prod([core[1][shade] for core, shade in zip(every, shades)])
        bags = [0, 0]
        for members, drawn, planned in ((cores[0], shades[:3], 0), (cores[1], shades[3:], 1)):
            bags[planned] += ceil(sum(core[0] for core, shade in zip(members, drawn) if shade == planned) / 1000)
            for core, shade in zip(members, drawn):
                bags[shade] += ceil(core[0] / 1000) * (shade != planned)
        exact[tuple(bags)] = exact.get(tuple(bags), 0) + chance
    found = _simulate(mixes, (1.0,) * 20_000)["all"]
    for bags, chance in exact.items():
        share = (found == bags).all(axis=1).mean()
        assert share == pytest.approx(chance, abs=4 * np.sqrt(chance / 20_000))


def test_shade_alone_uses_the_likeliest_model_and_model_alone_the_planned_shades():
    mixes = _mixes(("dark", [(900, (0.5, 0.5))]))
    bags = _simulate(mixes, [2.0] * 500)
    assert set(map(tuple, bags["shade"].tolist())) == {(1.0, 0.0), (0.0, 1.0)}
    assert np.unique(bags["model"], axis=0).tolist() == [[2, 0]]
    assert set(map(tuple, bags["all"].tolist())) == {(2.0, 0.0), (0.0, 2.0)}


def test_mixes_alike_are_counted_as_often_as_they_occur():
    mixes = _mixes(*[("dark", [(300, _SURE["dark"])])] * 7, ("pale", [(300, _SURE["pale"])]))
    assert _simulate(mixes, [1.0, 4.0])["model"].tolist() == [[7, 1], [14, 2]]


def test_many_mixes_in_pieces_add_up_to_what_each_needs():
    # more mixes than a piece has room for with 20,000 simulations
    mixes = _mixes(*[("dark", [(100 + 10 * step, (0.5, 0.5))]) for step in range(40)])
    bags = _simulate(mixes, (1.0,) * 20_000)["all"]
    assert (bags.sum(axis=1) == 40).all()


def test_a_district_without_mixes_needs_nothing():
    empty = Mixes(np.empty((0, TERMS)), np.empty((0, 2)), np.empty(0, dtype=np.int64), np.empty(0, dtype=np.int64))
    assert all((table == 0).all() for table in _simulate(empty, [1.0] * 10).values())


def test_only_some_of_the_mixes_keep_their_cores():
    mixes = _mixes(("dark", [(1, (1, 0)), (2, (1, 0))]), ("pale", [(3, (0, 1))]), ("dark", [(4, (1, 0)), (5, (1, 0))]))
    some = mixes.only(np.array([0, 2]))
    assert some.terms[:, 0].tolist() == [1, 2, 4, 5]
    assert (some.starts.tolist(), some.shade.tolist(), some.of_core.tolist()) == ([0, 2], [0, 0], [0, 0, 1, 1])
