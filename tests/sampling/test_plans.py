"""Plans and intervals: their limits, and the laws they keep."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from pipeline.errors import SettingsError
from pipeline.intervals import bad_in_lot
from pipeline.programme.sampling_schemes import Isolated, Series, load_sampling
from pipeline.sampling.plans import (
    chance_of_acceptance_of_lot,
    code_letter,
    curve,
    curve_of_lot,
    isolated_plan,
    plan_of,
    series_plan,
    smallest_sample,
)

TABLES = load_sampling().plans


def test_a_small_lot_is_inspected_whole_and_keeps_its_acceptance_number():
    # ten cores at level II are letter B; AQL 1.0 sends it to E, which wants 13
    assert series_plan(10, "II", "1.0", TABLES) == ("E", 10, 0)
    assert series_plan(13, "II", "1.0", TABLES) == ("E", 13, 0)
    assert series_plan(14, "II", "1.0", TABLES) == ("E", 13, 0)


def test_a_lot_of_one_core_is_inspected_whole():
    assert series_plan(1, "II", "2.5", TABLES) == ("C", 1, 0)
    assert isolated_plan(1, 0.05, 0.05) == ("", 1, 0)


def test_every_arrow_leads_to_a_plan():
    for aql, column in TABLES.accept.items():
        for letter, number in column.items():
            assert isinstance(number, int) or isinstance(column[number], int), (aql, letter)


def test_an_isolated_lot_too_small_for_the_accepted_failures_accepts_as_many_as_keep_the_limit():
    # one bad core of ten is 10 percent: beyond 5 percent, so that none may be accepted, and all are inspected
    assert isolated_plan(10, 0.05, 0.05, accept=2) == ("", 10, 0)
    # at 15 percent one bad core is within the limit, and two are beyond
    assert isolated_plan(10, 0.15, 0.05, accept=2) == ("", 10, 1)


def test_a_limit_that_is_a_whole_number_of_cores_is_not_lost_to_rounding():
    # 0.29 * 100 is 28.999999999999996 in binary: 29 bad cores are within the limit, and may all be accepted
    assert isolated_plan(100, 0.29, 0.05, accept=50) == ("", 100, 29)


def test_a_risk_met_exactly_is_met():
    # one bad core among 20: 19 inspected miss it with a chance of exactly 1 in 20
    assert smallest_sample(20, 1, 0, 0.05) == 19


@given(st.integers(1, 300), st.floats(0, 0.5), st.floats(0.01, 0.5), st.integers(0, 4))
def test_an_isolated_plan_keeps_its_risk_and_one_core_fewer_would_not(lot, limit, risk, accept):
    plan = isolated_plan(lot, limit, risk, accept)
    bad = next(bad for bad in range(lot + 2) if bad / lot > limit + 1e-9)
    assert plan.accept == min(accept, bad - 1)
    assert 1 <= plan.n <= lot
    assert chance_of_acceptance_of_lot(plan.n, plan.accept, lot, bad) <= risk + 1e-9
    assert chance_of_acceptance_of_lot(plan.n - 1, plan.accept, lot, bad) > risk - 1e-9


def test_a_lot_inspected_whole_is_known_exactly():
    assert bad_in_lot(3, 20, 20) == (3, 3)
    assert curve_of_lot(20, 0, 20) == (0.0, 1 / 20)


def test_a_plan_that_accepts_whatever_it_finds_is_never_seldom_accepted():
    assert curve(3, 3) == (1.0, None)
    assert curve_of_lot(3, 3, 3) == (1.0, None)


def test_a_scheme_gives_the_plan_and_the_curve_that_belong_to_it():
    assert plan_of(240, Series(), TABLES) == (("G", 32, 2), curve(32, 2))
    plan, shape = plan_of(200, Isolated(limit=0.049, risk=0.05, accept=0), TABLES)
    assert (plan, shape) == (("", 51, 0), curve_of_lot(51, 0, 200))


@pytest.mark.parametrize(
    ("call", "words"),
    [
        (lambda: code_letter(0, "II", TABLES), ["the lot", "found 0 cores", "expected 1 or more"]),
        (lambda: code_letter(10, "IV", TABLES), ["--level", "'IV'", "S-4"]),
        (lambda: series_plan(10, "II", "3.0", TABLES), ["--aql", "'3.0'", "1.0, 2.5, 4.0"]),
        (lambda: isolated_plan(0, 0.05, 0.05), ["found 0 cores"]),
        (lambda: isolated_plan(10, 1.0, 0.05), ["--limit"]),
        (lambda: isolated_plan(30, 0.999999999999, 0.05), ["--limit", "99.9999999999", "every core of a lot"]),
        (lambda: isolated_plan(10, -0.1, 0.05), ["--limit"]),
        (lambda: isolated_plan(10, float("nan"), 0.05), ["--limit"]),
        (lambda: isolated_plan(10, 0.05, 0.0), ["--risk"]),
        (lambda: isolated_plan(10, 0.05, 1.0), ["--risk"]),
        (lambda: isolated_plan(10, 0.05, 0.05, -1), ["--accept", "found -1 failures"]),
        (lambda: smallest_sample(10, 11, 0, 0.05), ["10 cores", "11 bad"]),
        (lambda: smallest_sample(10, 2, 2, 0.05), ["2 accepted"]),
    ],
)
def test_nonsense_is_refused_in_words(call, words):
    with pytest.raises(SettingsError) as error:
        call()
    for word in words:
        assert word in str(error.value)
