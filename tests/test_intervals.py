"""Exact intervals, against a second method and by the laws they keep."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.stats import binomtest, hypergeom

from pipeline.errors import SettingsError
from pipeline.intervals import bad_in_lot, first_count, true_rate, true_rates


@settings(max_examples=40, deadline=None)
@given(st.integers(1, 60).flatmap(lambda n: st.tuples(st.just(n), st.integers(0, n))), st.integers(0, 80))
def test_the_lot_itself_is_known_at_least_as_well_as_the_work_it_comes_from(counts, rest):
    inspected, failed = counts
    lot = inspected + rest
    least, most = bad_in_lot(failed, inspected, lot)
    low, high = true_rate(failed, inspected)
    assert failed <= least <= most <= lot - (inspected - failed)
    assert least / lot >= low - 1 / lot
    assert most / lot <= high + 1 / lot


def test_a_column_of_intervals_is_what_a_search_for_the_ends_finds_one_by_one():
    """The second method: scipy's exact binomial test, which looks for the rates at which the tails are 2.5 %."""
    pairs = [(failed, inspected) for inspected in (1, 2, 5, 20, 333) for failed in {0, 1, inspected // 2, inspected}]
    low, high = true_rates(*zip(*pairs, strict=True))
    for place, (failed, inspected) in enumerate(pairs):
        found = binomtest(failed, inspected).proportion_ci(0.95, method="exact")
        assert (low[place], high[place]) == pytest.approx((found.low, found.high), abs=1e-9)


@pytest.mark.parametrize(
    ("call", "words"),
    [
        (lambda: true_rate(4, 3), ["found 4 failures", "3 cores"]),
        (lambda: true_rate(-1, 3), ["found -1"]),
        (lambda: true_rate(0, 0), ["at least one core"]),
        (lambda: true_rate(1, 3, 1.0), ["confidence of 1"]),
        (lambda: bad_in_lot(1, 11, 10), ["11 cores inspected of 10"]),
    ],
)
def test_a_count_out_of_its_range_is_refused_in_words(call, words):
    with pytest.raises(SettingsError) as error:
        call()
    for word in words:
        assert word in str(error.value)


def test_of_all_or_none_an_end_is_exactly_one_or_zero():
    assert true_rate(0, 20)[0] == 0
    assert true_rate(20, 20)[1] == 1
    # (1 - p)^20 = 0.025
    assert true_rate(0, 20)[1] == pytest.approx(1 - 0.025 ** (1 / 20))
    assert true_rate(20, 20)[0] == pytest.approx(0.025 ** (1 / 20))


@settings(max_examples=40, deadline=None)
@given(st.integers(1, 200).flatmap(lambda n: st.tuples(st.integers(0, n), st.just(n))))
def test_an_interval_holds_the_rate_found_and_mirrors_its_opposite(counts):
    failed, inspected = counts
    low, high = true_rate(failed, inspected)
    assert 0 <= low <= failed / inspected <= high <= 1
    assert true_rate(inspected - failed, inspected) == pytest.approx((1 - high, 1 - low))


def test_more_confidence_is_a_wider_interval_and_more_cores_a_narrower_one():
    assert true_rate(3, 20, 0.9)[0] > true_rate(3, 20)[0] > true_rate(3, 20, 0.99)[0]
    wide, narrow = (np.diff(true_rate(failed, 10 * failed))[0] for failed in (2, 20))
    assert narrow < wide / 2


def test_the_bad_cores_of_a_lot_are_those_that_are_not_too_unlikely():
    """By counting: 2 of 10 failed, of a lot of 30; both tails of the hypergeometric distribution above 2.5 %."""
    possible = [
        bad for bad in range(2, 23)
        if hypergeom.sf(1, 30, bad, 10) > 0.025 and hypergeom.cdf(2, 30, bad, 10) > 0.025
    ]  # fmt: skip
    assert bad_in_lot(2, 10, 30) == (possible[0], possible[-1])


def test_a_lot_inspected_whole_is_known_exactly():
    assert bad_in_lot(3, 20, 20) == (3, 3)


@settings(max_examples=40, deadline=None)
@given(st.integers(0, 30), st.integers(0, 40))
def test_the_first_count_is_found_by_bisection(first, length):
    counts = range(length)
    assert first_count(counts, lambda count: count >= first) == min(first, length)


def test_whole_columns_are_worked_out_at_once():
    low, high = true_rates([0, 1, 2], [5, 5, 5])
    assert [(one, other) for one, other in zip(low, high)] == [
        pytest.approx(true_rate(failed, 5)) for failed in (0, 1, 2)
    ]
