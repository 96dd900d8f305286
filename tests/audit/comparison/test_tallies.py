"""Counts by group, what they would come to among alike cores, and design effects."""

import numpy as np
import pytest

from pipeline.audit.comparison.tallies import by_group, cells_of, clusters_by_group, counted, expected, pieces, ranked
from pipeline.audit.outcomes import AT_LIMIT, FOUND, PASSED


def _codes(text):
    """Return outcomes: f for found, p for passed, l for at the limit."""
    return np.array([{"f": FOUND, "p": PASSED, "l": AT_LIMIT}[letter] for letter in text], dtype="int8")


def _tally(text, group, stratum=None):
    groups, outcomes = np.array(group), _codes(text)
    cells = cells_of(groups, np.zeros_like(groups) if stratum is None else np.array(stratum), max(group) + 1)
    return cells, counted(cells.of_core, outcomes, len(cells.group))


def test_a_group_is_expected_to_have_its_share_of_all_findings():
    """4 of 10 cores, and 5 findings: 2 expected; variance 2 x 6 x 5 / (10 x 9) = 0.667."""
    tally = expected(*_tally("ffffp" + "fpppp", [0] * 4 + [1] * 6))
    assert tally.checks.tolist() == [4, 6]
    assert tally.found.tolist() == [4, 1]
    assert tally.more.tolist() == [2, 3]
    assert tally.more_variance.tolist() == pytest.approx([2 / 3, 2 / 3])


def test_strata_compare_like_with_like():
    """On the hard surface all cores are found and on the easy one none: whoever works where expects just that."""
    cells, counts = _tally("ffffpp" + "ffpppp", [0] * 6 + [1] * 6, [0, 0, 0, 0, 1, 1, 0, 0, 1, 1, 1, 1])
    alike, raw = expected(cells, counts), expected(*by_group(cells, counts))
    # in neither stratum does chance have a say
    assert alike.more.tolist() == alike.more_most.tolist() == alike.more_found.tolist() == [0, 0]
    assert alike.more_variance.tolist() == [0, 0]
    assert raw.more.tolist() == [3, 3]
    # the others' shares on the group's mix: all of four, none of two
    assert (alike.alike_found / alike.alike_checks).tolist() == pytest.approx([4 / 6, 2 / 6])


def test_a_stratum_of_one_group_alone_compares_nothing():
    cells, counts = _tally("ffpp" + "fp", [0, 0, 0, 0, 1, 1], [0, 0, 1, 1, 1, 1])
    assert expected(cells, counts).alike_checks.tolist() == [2, 2]


def test_cores_at_the_limit_count_against_every_difference():
    """Group 0: 2 found, 1 at the limit, of 4. Group 1: 1 found, 2 at the limit, of 4.

    More: its 2 against 2 + 1 + 2 of 8, of which it expects half; less: its 3 against 3 + 1, of which it expects half.
    """
    tally = expected(*_tally("fflp" + "fllp", [0] * 4 + [1] * 4))
    assert (tally.more[0], tally.less[0]) == (2.5, 2.0)
    assert (tally.more_found[0], tally.less_found[0]) == (2, 3)
    assert (tally.more_most[0], tally.less_most[0]) == (5, 4)


def test_a_core_in_no_group_counts_nowhere():
    groups = np.array([0, -1, 1])
    cells = cells_of(groups, np.zeros_like(groups), 2)
    assert cells.of_core[1] == -1
    assert counted(cells.of_core, _codes("fff"), 2).sum() == 2


def _effects(text, group, cluster):
    groups = np.array(group)
    count = max(group) + 1
    of_core, of_piece = pieces(np.array(cluster), groups, count)
    return clusters_by_group(of_piece, count, counted(of_core, _codes(text), len(of_piece))).effects()


def test_days_that_are_all_bad_or_all_good_count_once():
    """Four days of five cores, two of them all found: 20 cores are worth 4, or 3 with the share fitted to them.

    Each day is off by 2.5, and 4 x 6.25 x 4 / 3 is 6.67 times the 5 of independent cores.
    """
    effects, overall = _effects("fffff" + "ppppp" + "fffff" + "ppppp", [0] * 20, np.repeat(range(4), 5))
    assert effects[0] == pytest.approx(20 / 3)
    assert overall == pytest.approx(20 / 3)


def test_cores_of_a_day_of_their_own_have_no_design_effect():
    effects, overall = _effects("fpfpfpfp", [0] * 8, range(8))
    assert effects[0] == pytest.approx(1, abs=0.2)
    assert overall == pytest.approx(1, abs=0.2)


def test_findings_that_spread_evenly_do_not_make_a_group_surer():
    """One finding on each day is less spread than chance has it: still no better than independent."""
    assert _effects("fpppp" * 4, [0] * 20, np.repeat(range(4), 5))[0].tolist() == [1.0]


def test_a_group_without_findings_has_the_design_effect_that_all_groups_make_likely():
    bad, good = "fffff" + "ppppp", "ppppp"
    effects, _ = _effects(bad * 4 + good * 8, [0] * 40 + [1] * 40, np.repeat(range(16), 5))
    assert effects[1] > 4


def test_a_group_that_clusters_beyond_chance_is_not_hidden_by_the_others():
    """Nine groups of single findings and one of bad days: its design effect is above that of all together."""
    bad, even = "fffff" + "ppppp" * 4, ("fpppp" + "pfppp" + "ppfpp" + "pppfp" + "ppppf")
    effects, overall = _effects(bad * 2 + even * 18, np.repeat(range(10), 50), np.repeat(range(100), 5))
    assert effects[0] > overall
    assert effects[0] > max(effects[1:])


@pytest.mark.parametrize(
    ("sizes", "degrees"),
    [([5, 5, 5, 5], 3), ([9, 1], 100 / 82 - 1)],
    ids=["four equal days", "a long day and a short one"],
)
def test_unequal_clusters_give_fewer_degrees_of_freedom(sizes, degrees):
    """100 / 82 is the square of 9 + 1, over 81 + 1; less than one degree counts as one."""
    count = sum(sizes)
    of_core, of_piece = pieces(np.repeat(range(len(sizes)), sizes), np.zeros(count, dtype=int), 1)
    clustering = clusters_by_group(of_piece, 1, counted(of_core, _codes("f" + "p" * (count - 1)), len(of_piece)))
    assert clustering.degrees() == pytest.approx(max(degrees, 1))


@pytest.mark.parametrize("most", [1, 5, 1000, 10**12])
@pytest.mark.parametrize("count", [0, 1, 300])
def test_numbers_are_ranked_as_by_sorting_them_whether_they_lie_close_or_far_apart(count, most):
    numbers = np.random.default_rng(count).integers(0, most, count)
    different, place = ranked(numbers)
    by_sorting = np.unique(numbers, return_inverse=True)
    assert different.tolist() == by_sorting[0].tolist()
    assert place.tolist() == by_sorting[1].tolist()
