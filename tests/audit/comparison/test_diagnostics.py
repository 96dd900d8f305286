"""Odds ratios among alike cores, and logistic models."""

import numpy as np
import pandas as pd
import pytest

from pipeline.audit.comparison.diagnostics import _equal_odds, _pooled_ratio, fit_model, odds_and_homogeneity, rows_of
from pipeline.audit.comparison.measures import WORKMANSHIP, grounds_of
from pipeline.audit.outcomes import FOUND, NOT_ASSESSED, PASSED
from tests.audit.comparison.worlds import AS_OF, cores_of, outcomes_of, rule_book


def _checks(*strata):
    """Return checks: of each stratum the found and passed of the group, then of the others."""
    rows = [
        {"rule": 0, "stratum": stratum, "in_group": in_group, "is_found": is_found}
        for stratum, counts in enumerate(strata)
        for (in_group, is_found), count in zip([(True, True), (True, False), (False, True), (False, False)], counts, strict=True)
        for _ in range(count)
    ]  # fmt: skip
    return pd.DataFrame(rows)


def test_the_odds_ratio_is_that_of_mantel_and_haenszel():
    """(10 x 15 / 40 + 4 x 18 / 30) / (10 x 5 / 40 + 2 x 6 / 30) = 6.15 / 1.65."""
    ratio, equal = odds_and_homogeneity(_checks((10, 10, 5, 15), (4, 2, 6, 18)), 1.0)
    assert ratio == pytest.approx(6.15 / 1.65)
    assert 0.3 < equal < 1


def test_strata_that_point_in_opposite_directions_are_not_homogeneous():
    _, equal = odds_and_homogeneity(_checks((30, 10, 10, 30), (10, 30, 28, 10)), 1.0)
    assert equal < 0.001
    # which clusters make less sure
    assert odds_and_homogeneity(_checks((30, 10, 10, 30), (10, 30, 28, 10)), 4.0)[1] > equal


def test_strata_that_say_nothing_have_no_odds_ratio():
    """A stratum of the group alone, and one where everything is found."""
    ratio, equal = odds_and_homogeneity(_checks((3, 3, 0, 0), (3, 0, 3, 0)), 1.0)
    assert np.isnan(ratio)
    assert np.isnan(equal)


def test_a_model_finds_the_odds_ratio_that_was_put_in_beside_a_covariate():
    """Odds of 1/4 on one surface and 1 on the other, four times as high in the group: 50 % for 20 %, and 80 % for 50 %."""
    counts = {(0, False): (20, 80), (0, True): (10, 10), (1, False): (10, 10), (1, True): (80, 20)}
    rows = [
        (band, group, hit)
        for (band, group), two in counts.items()
        for hit, n in zip((True, False), two, strict=True)
        for _ in range(n)
    ]
    band, group, hit = (np.array(column) for column in zip(*rows, strict=True))
    fit = fit_model(hit, group, pd.DataFrame({"surface": band}), np.arange(len(rows)))
    assert fit.problem == ""
    assert fit.odds_ratio == pytest.approx(4, rel=1e-6)
    assert fit.p < 0.001


def test_a_group_that_is_alone_on_its_surface_has_nothing_alike():
    group = np.array([True] * 20 + [False] * 20)
    hit = np.array([True, False] * 20)
    fit = fit_model(hit, group, pd.DataFrame({"surface": group.astype(int)}), np.arange(40))
    assert fit.problem == "nothing alike"


def test_bands_without_findings_say_nothing_and_are_left_out():
    """All findings are on surface 1: surface 0, where the group has none of 50, changes nothing."""
    group = np.array([True, False] * 30 + [True] * 50)
    hit = np.array([True, False, False, True, False, False] * 10 + [False] * 50)
    bands = pd.DataFrame({"surface": [1] * 60 + [0] * 50})
    alone = fit_model(hit[:60], group[:60], bands[:60], np.arange(60))
    assert fit_model(hit, group, bands, np.arange(110)) == alone


def test_findings_that_separate_the_groups_have_no_stable_fit():
    group = np.array([True] * 20 + [False] * 20)
    fit = fit_model(group, group, pd.DataFrame({"surface": [0, 1] * 20}), np.arange(40))
    assert fit.problem == "no stable fit"


def test_the_checks_of_workmanship_are_those_of_all_its_rules():
    cores = cores_of(crew=["A", "A", "B", "B"])
    outcomes = outcomes_of(
        grout_short=[FOUND, PASSED, NOT_ASSESSED, FOUND], bedding_off=[PASSED, FOUND, PASSED, NOT_ASSESSED]
    )
    rules = rule_book(list(outcomes))
    checks = rows_of(
        {"measure": WORKMANSHIP, "by": "crew", "group": "A"}, outcomes, rules, grounds_of(cores, outcomes, rules, AS_OF)
    )
    assert len(checks) == 6
    assert checks.loc[checks["in_group"], "core"].tolist() == [0, 1, 0, 1]
    assert checks["is_found"].sum() == 3


@pytest.mark.parametrize("seed", range(100))
def test_odds_and_their_homogeneity_are_those_of_statsmodels(seed):
    from statsmodels.stats.contingency_tables import StratifiedTable  # noqa: PLC0415 - a second to load

    random = np.random.default_rng(seed)
    table = random.integers(1, 40, (2, 2, random.integers(2, 9))) / random.choice([1.0, 1.7])
    peer = StratifiedTable(table)
    assert _pooled_ratio(table) == peer.oddsratio_pooled
    assert _equal_odds(table, float(peer.oddsratio_pooled)) == peer.test_equal_odds().pvalue
