"""Chances of counts, intervals and the correction for many comparisons."""

import numpy as np
import pandas as pd
import pytest
from scipy import stats

from pipeline.audit.comparison.tails import corrected, lower_tail, rate_intervals, upper_tail, with_few_clusters


def _tails(observed, mean, variance, most, effect=1.0):
    arrays = [np.array([float(value)]) for value in (observed, mean, variance, most, effect)]
    return float(upper_tail(*arrays)[0]), float(lower_tail(*arrays)[0])


def _hypergeometric(lot, marked, drawn):
    mean = drawn * marked / lot
    return mean, mean * (lot - drawn) * (lot - marked) / (lot * (lot - 1)), marked


@pytest.mark.parametrize(
    ("observed", "lot", "marked", "drawn"), [(9, 400, 20, 100), (2, 400, 20, 100), (7, 60, 12, 30)]
)
def test_in_one_stratum_they_are_close_to_the_exact_ones_of_fisher(observed, lot, marked, drawn):
    upper, lower = _tails(observed, *_hypergeometric(lot, marked, drawn))
    exact = stats.hypergeom(lot, marked, drawn)
    assert upper == pytest.approx(exact.sf(observed - 1), rel=0.03)
    assert lower == pytest.approx(exact.cdf(observed), rel=0.03)


def test_rare_findings_far_out_are_not_made_too_unlikely():
    """All of four findings in a group of a twentieth: exactly 5 % to the fourth power; the normal tail is 5e-14."""
    upper, _ = _tails(4, *_hypergeometric(4000, 4, 200))
    assert upper == pytest.approx(stats.hypergeom(4000, 4, 200).sf(3), rel=0.05)


def test_a_count_that_cannot_be_otherwise_shows_nothing():
    """Every core of the stratum is found, or none is: the group has no choice, whatever its design effect."""
    for effect in (1.0, 1.7):
        assert _tails(20, 20, 0, 20, effect) == (1.0, 1.0)
        assert _tails(0, 0, 0, 0, effect) == (1.0, 1.0)


def test_a_design_effect_makes_every_difference_less_sure():
    mean, variance, most = _hypergeometric(1000, 100, 250)
    alone, clustered = _tails(33, mean, variance, most), _tails(33, mean, variance, most, 2.0)
    assert alone[0] < clustered[0] < 0.5
    # as the normal with half of the information has it, within the steps of whole counts
    z = (33 - mean - 0.5) / np.sqrt(2 * variance)
    assert clustered[0] == pytest.approx(stats.norm.sf(z), rel=0.15)


def test_intervals_without_clusters_are_exact():
    """10 in 40 are 12.7 to 41.2 % and 0 in 20 up to 16.8 % (Clopper and Pearson's table)."""
    low, high = rate_intervals(
        *(np.array(values, dtype=float) for values in ([10, 0], [0, 0], [40, 20], [1, 1])), np.inf
    )
    assert low.round(3).tolist() == [0.127, 0]
    assert high.round(3).tolist() == [0.412, 0.168]


def test_intervals_with_clusters_are_those_of_fewer_cores():
    """A design effect of 2: 20 in 80 have the interval of 10 in 40."""
    one = [np.array([value], dtype=float) for value in (20, 0, 80, 2)]
    assert [round(float(end[0]), 3) for end in rate_intervals(*one, np.inf)] == [0.127, 0.412]


def test_intervals_reach_from_none_to_all_at_the_limit_found():
    """5 found and 5 at the limit, of 40: from the lower end of 5 to the upper end of 10."""
    found, at_limit, checks, effect = (np.array([value], dtype=float) for value in (5, 5, 40, 1))
    low, high = rate_intervals(found, at_limit, checks, effect, np.inf)
    assert (round(float(low[0]), 3), round(float(high[0]), 3)) == (0.042, 0.412)


def test_few_clusters_widen_intervals_and_tails_as_students_t_does():
    """By tables of t with 8 degrees of freedom: 2.306 in place of 1.960, and 2.896 for a tail of 1 %.

    2.306 / 1.960 squared is 1.384: 55.4 checks count as 40, and the normal tail beyond 2.896 is 0.19 %.
    """
    one = [np.array([value]) for value in (13.84, 0.0, 55.36, 1.0)]
    assert [round(float(end[0]), 3) for end in rate_intervals(*one, 8.0)] == [0.127, 0.412]
    assert with_few_clusters(np.array([0.00189, 0.5, 1.0]), 8.0) == pytest.approx([0.01, 0.5, 1.0], rel=0.01)


def test_a_share_of_nothing_has_no_interval():
    nothing = np.zeros(1)
    assert np.isnan(rate_intervals(nothing, nothing, nothing, np.ones(1), np.inf)).all()


def test_holm_corrects_each_by_its_rank():
    # 4 x 0.005, 3 x 0.01, 2 x 0.03, and 0.04 may not come out below the one before it
    p = pd.Series([0.01, 0.04, 0.03, 0.005, np.nan])
    assert corrected(p).tolist()[:4] == pytest.approx([0.03, 0.06, 0.06, 0.02])
    assert np.isnan(corrected(p).iloc[4])
