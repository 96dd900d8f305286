import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.optimize import linprog

from pipeline.plan import day_prices as day_prices_module
from pipeline.plan.day_prices import Offer, day_prices


def least_cost(offer):
    return day_prices_module.least_cost(offer, day_prices(offer))


def _offer(late, minutes, room, may=None, out=1000.0):
    late = np.array(late, dtype=float)
    may = np.ones(late.shape, dtype=bool) if may is None else np.array(may, dtype=bool)
    none = np.zeros(len(late))
    return Offer(late, may, np.array(minutes, float), np.array(room, float), none, none + out)


def test_without_jobs_nothing_is_late():
    assert least_cost(_offer(np.zeros((0, 2)), [], [10, 10])) == 0.0


def test_jobs_that_all_fit_take_their_cheapest_days():
    assert least_cost(_offer([[3, 5], [7, 2]], [10, 10], [60, 60])) == pytest.approx(5.0)


def test_a_day_without_room_for_both_puts_off_the_cheaper():
    # one minute per minute: the second costs 8 more on the second day, the first 5 more
    assert least_cost(_offer([[0, 5], [0, 8]], [60, 60], [60, 60])) == pytest.approx(5.0)


def test_a_job_may_be_divided():
    # 90 minutes for 120: a quarter of the first job's 60 minutes and half of it are put off, at 5 each
    assert least_cost(_offer([[0, 5], [0, 8]], [60, 60], [90, 90])) == pytest.approx(2.5)


def test_a_job_that_may_never_be_done_is_left_out():
    assert least_cost(_offer([[0, 0]], [10], [60, 60], may=[[0, 0]], out=40.0)) == pytest.approx(40.0)


_JOBS = st.lists(
    st.tuples(st.lists(st.integers(0, 9), min_size=3, max_size=3), st.integers(1, 60), st.integers(0, 20)), min_size=1,
    max_size=8,
)  # fmt: skip


def _divided(late, minutes, out, room):
    """Return the cost of the fractional choice of days, by the primal."""
    count, days = late.shape
    cost = np.concatenate([late.ravel(), out])
    once = np.hstack([np.kron(np.eye(count), np.ones(days)), np.eye(count)])
    used = np.hstack([np.kron(minutes, np.eye(days)), np.zeros((days, count))])
    return linprog(cost, A_eq=once, b_eq=np.ones(count), A_ub=used, b_ub=room).fun


@settings(max_examples=60, deadline=None)
@given(_JOBS, st.lists(st.integers(0, 90), min_size=3, max_size=3), st.sampled_from([2, 250]))
def test_the_cost_is_at_most_that_of_jobs_divided_over_the_days(jobs, room, tried):
    late, minutes, out = (np.array(column, dtype=float) for column in zip(*jobs, strict=True))
    offer = Offer(late, np.ones(late.shape, bool), minutes, np.array(room, float), np.zeros(len(late)), out)
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(day_prices_module, "_TRIED", tried)
        found = least_cost(offer)
    assert found <= _divided(late, minutes, out, room) + 1e-6


@pytest.mark.parametrize("seed", range(12))
def test_prices_found_by_turns_are_those_of_all_choices_at_once(seed):
    """Thirty jobs and twelve days: a job is offered three days at first, then two more as often as one is cheaper."""
    random = np.random.default_rng(seed)
    due, weight = random.integers(-4, 6, 30), random.random(30) * 20
    late = np.maximum(np.arange(12) - due[:, None], 0) * weight[:, None]
    may = random.random((30, 12)) < 0.9
    minutes, done = random.random(30) * 60 + 20, random.random(30)
    offer = Offer(late, may, minutes, np.full(12, 120.0), done, np.full(30, 250.0) + late[:, -1])
    whole = day_prices(offer)
    with pytest.MonkeyPatch.context() as patch:
        for name, number in (("_CHOICES", 0), ("_FIRST_DAYS", 3), ("_MORE_DAYS", 2)):
            patch.setattr(day_prices_module, name, number)
        np.testing.assert_allclose(day_prices(offer), whole, rtol=0, atol=1e-9 * whole.max())
        np.testing.assert_allclose(day_prices(offer, whole / 2), whole, rtol=0, atol=1e-9 * whole.max())
