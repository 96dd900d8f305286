import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.optimize import linprog

from pipeline.plan import prices
from pipeline.plan.prices import proven_prices


def _padded(sets):
    return np.array([[*one, -1, -1, -1][:3] for one in sets], dtype=np.int64).reshape(-1, 3)


def _proven(sets, cost, most, x=None):
    xy = np.column_stack([np.arange(len(most)) if x is None else x, np.zeros(len(most))]).astype(float)
    return proven_prices(_padded(sets), np.array(cost, float), np.array(most, float), np.ones(len(most)), xy)


def test_a_job_in_no_set_has_the_price_of_itself():
    assert _proven([], [], [2.0, 1.0]).tolist() == [2.0, 1.0]


def test_three_jobs_any_two_of_which_share_cost_one_and_a_half():
    # each half in two of the three pairs: the fractional choice; whole sets cost 2
    assert _proven([(0, 1), (1, 2), (0, 2)], [1, 1, 1], [1, 1, 1]).sum() == pytest.approx(1.5)


def test_a_job_that_may_be_in_sets_not_listed_has_no_more_than_its_share():
    assert _proven([(0, 1)], [1], [0.3, 0.6]).sum() == pytest.approx(0.9)


_SETS = st.lists(
    st.tuples(st.sets(st.integers(0, 7), min_size=2, max_size=3), st.integers(1, 3)), min_size=1, max_size=12
)


@settings(max_examples=60, deadline=None)
@given(_SETS)
def test_the_prices_add_up_to_the_fractional_choice_of_sets(found):
    # the primal: shares of sets and single jobs that cover each job, at the least cost
    sets, cost = [sorted(one) for one, _ in found], [float(value) for _, value in found]
    columns = np.zeros((8, len(sets) + 8))
    for at, members in enumerate(sets):
        columns[members, at] = 1
    columns[:, len(sets) :] = np.eye(8)
    primal = linprog([*cost, *[2.0] * 8], A_ub=-columns, b_ub=-np.ones(8))
    assert _proven(sets, cost, [2.0] * 8).sum() == pytest.approx(primal.fun)


@settings(max_examples=60, deadline=None)
@given(_SETS, st.integers(2, 5))
def test_no_set_is_exceeded_even_where_the_jobs_are_taken_in_pieces(found, most):
    sets, cost = [sorted(one) for one, _ in found], [float(value) for _, value in found]
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(prices, "_PIECE", most)
        price = _proven(sets, cost, [2.0] * 8)
    assert all(price[members].sum() <= value + 1e-9 for members, value in zip(sets, cost, strict=True))
    assert ((price >= 0) & (price <= 2)).all()


@pytest.mark.parametrize("seed", range(20))
def test_two_jobs_in_one_set_have_the_prices_that_the_linear_programme_finds(seed):
    """Ten pairs, each by itself: their prices by one linear programme per pair."""
    random = np.random.default_rng(seed)
    most = random.choice([0.25, 0.5, 1.0, 2.0, *random.random(4) * 50], 20)
    weight = random.choice([1.0, 1e-3], 20)
    cost = most.reshape(10, 2).sum(axis=1) * random.choice([0.6, 0.8, 0.95, 1.0, 1.1], 10)
    order = random.permutation(20)
    members = np.column_stack([order.reshape(10, 2), np.full(10, -1)])
    price = proven_prices(members, cost, most, weight, np.zeros((20, 2)))
    for pair, value in zip(np.sort(members[:, :2], axis=1), cost, strict=True):
        limits = np.column_stack([np.zeros(2), most[pair]])
        found = linprog(-weight[pair], A_ub=[[1.0, 1.0]], b_ub=[value], bounds=limits, method="highs").x
        assert price[pair].tolist() == pytest.approx(found.tolist(), abs=1e-12)
