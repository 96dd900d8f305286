"""Bags that suffice for one line, and for all lines at once."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays

from pipeline.order.safety_stock.bags import Bags
from pipeline.order.safety_stock.levels import joint_columns, line_of, quantile


def _line(simulated, planned=0.0, **others):
    table = np.array(simulated, dtype=float)
    sources = {name: np.array(others.get(name, simulated), dtype=float) for name in ("shade", "waste", "model")}
    known = np.array(others.get("known", simulated), dtype=float)
    return Bags(np.array(1.0), np.array(planned), sources | {"all": table, "known model": known})


@pytest.mark.parametrize(("share", "least"), [(0.9, 9), (0.95, 10), (0.5, 5), (0.01, 1), (0.7, 7)])
def test_enough_is_the_least_number_that_the_stated_share_does_not_exceed(share, least):
    assert quantile(np.arange(1.0, 11.0), share) == least


def test_the_safety_stock_is_what_suffices_less_the_bags_to_mix_and_never_below_zero():
    line = line_of(_line(range(1, 11), planned=6.0, shade=[2] * 10, known=[7] * 10), 0.9)
    assert (line["expected"], line["enough"], line["safety_stock"], line["mean"]) == (6, 9, 3, 5.5)
    # shade alone needs fewer bags than planned; with a known model 7 - 6 = 1 bag is left to hold
    assert (line["from_shade"], line["from_model"], line["without_model"]) == (0, 3, 1)
    # 1 to 6 of the ten numbers are covered by the bags to mix
    assert line["planned_suffices"] == 0.6
    assert line_of(_line(range(1, 11), planned=20.0), 0.9)["safety_stock"] == 0


def test_two_lines_that_run_out_in_different_simulations_suffice_together_less_often():
    # each holds 9 and lacks the simulation with its 10, which are two different ones: together 8 in 10
    up, down = _line(range(1, 11)), _line(range(10, 0, -1))
    suffices, jointly = joint_columns([up, down], 0.9)
    assert suffices == 0.8
    # nine in ten together take all ten simulations of one of them
    assert jointly == [10, 10]
    # at 80 % the 9 of each is what is needed
    assert joint_columns([up, down], 0.8)[1] == [9, 9]


def test_lines_that_run_out_together_suffice_as_often_as_one():
    suffices, jointly = joint_columns([_line(range(1, 11)), _line(range(11, 21))], 0.9)
    assert (suffices, jointly) == (0.9, [9, 19])


def test_bags_of_the_plan_count_as_held():
    suffices, jointly = joint_columns([_line(range(1, 11), planned=10.0), _line(range(10, 0, -1))], 0.9)
    assert (suffices, jointly) == (0.9, [10, 10])


def test_no_lines_never_run_out():
    assert joint_columns([], 0.95) == (1.0, [])


@settings(max_examples=50, deadline=None)
@given(arrays(int, (3, 40), elements=st.integers(0, 6)), st.sampled_from([0.5, 0.8, 0.9, 0.975]))
def test_what_is_held_jointly_suffices_jointly_and_is_no_less_than_each_alone(table, level):
    lines = [_line(row) for row in table]
    suffices, jointly = joint_columns(lines, level)
    alone = np.array([line_of(line, level)["enough"] for line in lines])
    assert (np.array(jointly) >= alone).all()
    assert (table <= np.array(jointly)[:, None]).all(axis=0).mean() >= level
    assert suffices == pytest.approx((table <= alone[:, None]).all(axis=0).mean())
