"""Fair comparison against published examples, other methods and simulation.

Sources: the table of smoking and lung cancer in eight cities that statsmodels ships (Liu, "Smoking and lung cancer in
China", Int. J. Epidemiology 21, 1992; Agresti, "An introduction to categorical data analysis", table 3.3), with the
results that statsmodels' documentation of ``StratifiedTable`` prints, from memory: pooled odds ratio 2.174, statistic of
one odds ratio of 1 280.1, of equal odds 5.20. Second methods: scipy's exact test of Fisher and hypergeometric counts,
statsmodels' cluster-robust variance, and the variance of a beta-binomial count, m p (1 - p) (1 + (m - 1) r).

Simulations: worlds in which no crew is better than another. Of n of them, those in which any difference is reported may
be as many as a binomial of n and 5 % has in 99 of 100 cases. ``tests/bench/bench_comparison.py`` has long ones.
"""

import numpy as np
import pandas as pd
import pytest
from scipy import stats
from statsmodels.datasets import china_smoking
from statsmodels.regression.linear_model import OLS
from statsmodels.stats.contingency_tables import StratifiedTable

from pipeline.audit.comparison import compare_groups
from pipeline.audit.comparison.diagnostics import odds_and_homogeneity
from pipeline.audit.comparison.tails import upper_tail
from pipeline.audit.comparison.tallies import cells_of, clusters_by_group, counted, expected, pieces
from pipeline.audit.outcomes import FOUND, PASSED
from tests.audit.comparison.trials import false_calls
from tests.audit.comparison.worlds import AS_OF, WORK_RULES, World, cores_of, make, rule_book

_HELD = ("more", "less")


def _china():
    """The eight cities: of each a table of smokers and others by cancer and none, and its people one by one."""
    table = china_smoking.load_pandas().data
    tables = table.astype(float).to_numpy().reshape(-1, 2, 2)
    cells = [
        (city, smokes == 0, cancer == 0, int(tables[city, smokes, cancer]))
        for city in range(len(tables))
        for smokes in (0, 1)
        for cancer in (0, 1)
    ]
    rows = pd.DataFrame(cells, columns=["stratum", "in_group", "is_found", "count"])
    return tables, rows.loc[rows.index.repeat(rows["count"])].assign(rule=0)


def test_the_eight_cities_have_the_published_odds_ratio():
    _, people = _china()
    ratio, equal = odds_and_homogeneity(people, 1.0)
    assert ratio == pytest.approx(2.174, abs=0.001)
    assert equal == pytest.approx(stats.chi2.sf(5.20, 7), abs=0.002)


def test_observed_less_expected_is_the_statistic_of_mantel_and_haenszel():
    tables, people = _china()
    group = np.where(people["in_group"], 0, 1)
    cells = cells_of(group, people["stratum"].to_numpy(), 2)
    codes = np.where(people["is_found"], FOUND, PASSED).astype("int8")
    tally = expected(cells, counted(cells.of_core, codes, len(cells.group)))
    statistic = (tally.found[0] - tally.more[0]) ** 2 / tally.more_variance[0]
    assert statistic == pytest.approx(280.1, abs=0.1)
    theirs = StratifiedTable(np.moveaxis(tables, 0, 2)).test_null_odds(correction=False)
    assert statistic == pytest.approx(theirs.statistic)


@pytest.mark.parametrize("sizes", [[(50, 5, 20)] * 3, [(200, 4, 30), (40, 10, 20), (12, 3, 1), (90, 1, 45)]])
def test_tails_over_strata_are_those_of_the_exact_sum_of_hypergeometric_counts(sizes):
    """Strata of so many cores, findings and cores of the group: the exact sum, by convolution.

    Down to 1 in 10,000 ours is 0.85 to 1.35 times as likely.
    """
    exact = np.ones(1)
    for lot, marked, drawn in sizes:
        exact = np.convolve(exact, stats.hypergeom(lot, marked, drawn).pmf(np.arange(marked + 1)))
    mean, variance = (
        np.full(len(exact), sum(stats.hypergeom(*size).stats(moments=moment) for size in sizes)) for moment in "mv"
    )
    most = np.full(len(exact), float(sum(marked for _, marked, _ in sizes)))
    beyond = exact[::-1].cumsum()[::-1]
    ours = upper_tail(np.arange(len(exact), dtype=float), mean, variance, most, np.ones(len(exact)))
    seen = beyond > 1e-4
    assert ours[seen] / beyond[seen] == pytest.approx(1.1, abs=0.25)


def test_a_design_effect_is_the_ratio_of_the_cluster_robust_variance():
    """40 days of 5 cores: the variance of their mean by statsmodels, over that of 200 independent cores."""
    rng = np.random.default_rng(11)
    day = np.repeat(np.arange(40), 5)
    hit = rng.random(200) < rng.beta(1, 4, 40)[day]
    of_core, of_piece = pieces(day, np.zeros(200, dtype=int), 1)
    counts = counted(of_core, np.where(hit, FOUND, PASSED).astype("int8"), len(of_piece))
    effects, _ = clusters_by_group(of_piece, 1, counts).effects()
    robust = OLS(hit.astype(float), np.ones(200)).fit(cov_type="cluster", cov_kwds={"groups": day})
    variance = float(robust.cov_params()[0, 0])
    assert effects[0] == pytest.approx(variance / (hit.mean() * (1 - hit.mean()) / 200), rel=0.01)


@pytest.mark.parametrize(("correlation", "plain"), [(0.05, 0.16), (0.1, 0.29), (0.2, 0.59)])
def test_twenty_equal_crews_are_told_apart_without_design_effects_and_not_with_them(correlation, plain):
    """20 crews of 200 cores, 8 a day, 10 % found: a trial had 16, 29, 59 % false calls without design effects.

    With them, 5 % at most, and intervals that cover the true share in 95 of 100 cases or more.
    """
    trial = false_calls(correlation, worlds=200, seed=7)
    assert trial.plain == pytest.approx(plain, abs=0.1)
    assert trial.called * 200 <= stats.binom.ppf(0.99, 200, 0.05)
    assert 0.95 <= trial.covered <= 0.985
    assert trial.effect == pytest.approx(1 + 7 * correlation, rel=0.06)


@pytest.mark.parametrize(("crews", "days", "per_day"), [(2, 5, 40), (2, 8, 20)])
def test_intervals_and_tests_allow_for_few_crew_days(crews, days, per_day):
    """The fewest days that are compared: with the normal distribution's tails 92 to 94 of 100 intervals covered."""
    trial = false_calls(0.1, worlds=300, seed=9, crews=crews, per_crew=days * per_day, per_day=per_day)
    assert trial.covered >= 0.95
    assert trial.called * 300 <= stats.binom.ppf(0.99, 300, 0.05)


def _calls(world, worlds, seed, by):
    """Return in how many worlds any of these groupings differs."""
    rng = np.random.default_rng(seed)
    calls = 0
    for _ in range(worlds):
        rates = compare_groups(*make(world, rng), rule_book(), AS_OF)
        calls += bool((rates["differs"].isin(_HELD) & rates["by"].isin(by)).any())
    return calls


@pytest.mark.parametrize(
    ("world", "seed"),
    [
        (World(crews=9, days=10, gaps=True, correlation=0.1), 21),
        (World(crews=9, days=10, mixed=True, harder=3.0, gaps=True, coarse=True, correlation=0.2), 22),
    ],
    ids=["missing records", "missing records, precision and mix of surfaces"],
)
def test_equal_crews_and_contractors_are_not_told_apart(world, seed):
    """In the second, concrete is three times as hard, so surfaces do differ; crews work on it more or less often."""
    worlds = 12
    calls = _calls(world, worlds, seed, ("contractor", "crew", "month", "district"))
    assert calls <= stats.binom.ppf(0.99, worlds, 0.05)


def test_months_are_not_told_apart_by_days_that_are_bad_for_every_crew():
    """Rain: 12 crews, on 20 days of two months; with crew days as the only clusters a trial had 12 % false calls."""
    rng = np.random.default_rng(31)
    calls = 0
    for _ in range(20):
        day = np.tile(np.repeat(np.arange(20), 4), 12)
        cores = cores_of(
            crew=[f"Crew {one:02}" for one in np.repeat(np.arange(12), 80)],
            reinstated_at=[f"2026-0{7 + one // 10}-{one % 10 + 1:02}" for one in day],
        )
        found = [rng.random(len(day)) < rng.beta(0.45, 4.05, 20)[day] for _ in WORK_RULES]
        codes = {rule: np.where(hit, FOUND, PASSED).astype("int8") for rule, hit in zip(WORK_RULES, found, strict=True)}
        rates = compare_groups(cores, pd.DataFrame(codes), rule_book(), AS_OF)
        calls += bool(rates["differs"].isin(_HELD).any())
    assert calls <= stats.binom.ppf(0.99, 20, 0.05)


def test_a_crew_with_three_times_the_odds_is_found():
    """The power: in nine of ten such worlds or more the crew is found on workmanship, and no other crew is."""
    rng = np.random.default_rng(23)
    hits = others = 0
    for _ in range(10):
        rates = compare_groups(*make(World(worse=3.0), rng), rule_book(), AS_OF)
        held = rates[rates["by"].eq("crew") & rates["differs"].isin(_HELD)]
        hits += bool(
            (held["group"].eq("Crew 00") & held["measure"].eq("workmanship") & held["differs"].eq("more")).any()
        )
        others += bool(held["group"].ne("Crew 00").any())
    assert hits >= 9
    assert others <= stats.binom.ppf(0.99, 10, 0.05)
