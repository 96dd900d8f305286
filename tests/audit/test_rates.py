"""Rates of findings, their intervals, and which differences are called."""

import numpy as np
import pandas as pd
import pytest

from pipeline.audit.rates import corrected, exact_interval, rates_of_findings
from tests.audit.frames import BACK, SOUND, frame


def _rates(crews, hit):
    """One core for each crew named, reinstated, with a finding on workmanship where ``hit``."""
    few = frame({**SOUND, **BACK})
    cores = few.iloc[np.zeros(len(crews), dtype=int)].reset_index(drop=True).assign(crew=crews)
    places = np.flatnonzero(hit)
    findings = pd.DataFrame({"place": places, "rule": "bedding-off", "severity": "check"})
    return rates_of_findings(cores, findings, {"bedding-off": "placement"}, np.asarray(hit))


def test_a_share_of_nothing_and_of_all_have_intervals_that_end_there():
    assert exact_interval(0, 10)[0] == 0
    assert exact_interval(10, 10)[1] == 1


def test_groups_are_compared_with_all_others_and_names_in_another_case_are_one():
    rates = _rates(["Crew A"] * 40 + ["crew a "] * 10 + ["Crew B"] * 50, [True] * 30 + [False] * 70)
    one = rates[rates["by"].eq("crew") & rates["measure"].eq("workmanship")].set_index("group")
    assert one["cores"].to_dict() == {"Crew A": 50, "Crew B": 50}
    assert one.loc["Crew A", "rate"] == 0.6
    assert one.loc["Crew A", "others_rate"] == 0
    assert one["differs"].to_dict() == {"Crew A": "more", "Crew B": "less"}


def test_chance_alone_is_not_called_a_difference():
    """Ten crews of thirty cores, all the same: in forty draws a difference is called in about one in twenty."""
    rng = np.random.default_rng(5)
    crews = [f"Crew {place % 10}" for place in range(300)]
    called = [_rates(crews, rng.random(300) < 0.1)["differs"].isin(["more", "less"]).any() for _ in range(40)]
    # two are expected; three more would be two standard deviations
    assert sum(called) <= 5


def test_a_handful_of_cores_is_too_few_to_compare():
    rates = _rates(["Crew A"] * 4 + ["Crew B"] * 60, [True] * 4 + [False] * 60)
    one = rates[rates["by"].eq("crew") & rates["measure"].eq("workmanship")].set_index("group")
    assert one["differs"].to_dict() == {"Crew A": "too few", "Crew B": "less"}
    assert np.isnan(one.loc["Crew A", "p"])


def test_one_group_alone_is_compared_with_nobody():
    assert "crew" not in set(_rates(["Crew A"] * 20, [False] * 20)["by"])


def test_a_core_that_is_not_back_is_no_witness_of_workmanship():
    cores = frame(*({**SOUND, "crew": f"Crew {place % 2}"} for place in range(20)))
    rates = rates_of_findings(
        cores, pd.DataFrame({"place": [], "rule": [], "severity": []}), {}, np.zeros(20, dtype=bool)
    )
    assert set(rates["measure"]) == {"flagged"}


def test_holm_corrects_each_by_its_rank():
    # 4 x 0.005, 3 x 0.01, 2 x 0.03, and 0.04 may not come out below the one before it
    p = pd.Series([0.01, 0.04, 0.03, 0.005, np.nan])
    assert corrected(p).tolist()[:4] == pytest.approx([0.03, 0.06, 0.06, 0.02])
    assert np.isnan(corrected(p).iloc[4])
