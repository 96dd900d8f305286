"""Rates of findings, their intervals, and which differences are reported."""

import numpy as np
import pandas as pd
import pytest
from pipeline.audit.rates import age_names, corrected, rates_of_findings

from tests.audit.frames import AS_OF, REINSTATED, SOUND, frame


def _rates(crews, hit):
    """One core for each crew named, reinstated, with a finding on workmanship where ``hit``."""
    few = frame({**SOUND, **REINSTATED})
    cores = few.iloc[np.zeros(len(crews), dtype=int)].reset_index(drop=True).assign(crew=crews)
    places = np.flatnonzero(hit)
    findings = pd.DataFrame({"core": places, "rule": "bedding-off", "severity": "check"})
    return rates_of_findings(cores, findings, {"bedding-off": "placement"}, np.asarray(hit), AS_OF)


def _one_by(cores, by, flagged):
    none = pd.DataFrame({"core": [], "rule": [], "severity": []})
    rates = rates_of_findings(cores, none, {}, np.asarray(flagged), AS_OF)
    return rates[rates["by"].eq(by) & rates["measure"].eq("flagged")].set_index("group")


def test_streets_have_intervals_and_no_comparison_and_change_no_other():
    """Two crews that differ; with streets of six cores each, or one street, the crews' corrected odds are the same."""
    crews, flagged = ["Crew A"] * 30 + ["Crew B"] * 30, [True] * 20 + [False] * 40
    cores = frame(SOUND).iloc[np.zeros(60, dtype=int)].reset_index(drop=True).assign(crew=crews)
    many = cores.assign(street_matched=[f"Street {place // 6}" for place in range(60)])
    streets = _one_by(many, "street", flagged)
    assert len(streets) == 10
    assert set(streets["differs"]) == {"not compared"}
    assert streets["p"].isna().all()
    # all of six: the lower end is the sixth root of 0.025
    assert streets.loc["Street 0", "low"] == pytest.approx(0.025 ** (1 / 6))
    alone, beside = (_one_by(one, "crew", flagged)["p_corrected"] for one in (cores, many))
    assert alone.tolist() == beside.tolist()
    assert _one_by(many.iloc[:8], "street", flagged[:8])["differs"].to_dict() == {
        "Street 0": "not compared", "Street 1": "too few",
    }  # fmt: skip


def test_ages_are_those_of_open_and_of_reinstated_cores():
    """As of 30 September: cut that day, 7 and 8 days before; one in the future counts as today; one reinstated 31 days ago."""
    days = ["2026-09-30", "2026-09-23", "2026-09-22", "2026-10-04"]
    done = {**SOUND, **REINSTATED, "opened_on": "2026-08-01", "reinstated_at": "2026-08-30"}
    cores = frame(*({**SOUND, "opened_on": day} for day in days), done)
    assert _one_by(cores, "days open", [False] * 5)["cores"].to_dict() == {"0 to 7": 3, "8 to 14": 1}
    assert _one_by(cores, "days since reinstatement", [False] * 5)["cores"].to_dict() == {"31 to 90": 1}
    assert age_names((7, 14)) == ["0 to 7", "8 to 14", "over 14"]


def test_groups_are_compared_with_all_others_and_names_in_another_case_are_one():
    rates = _rates(["Crew A"] * 40 + ["crew a "] * 10 + ["Crew B"] * 50, [True] * 30 + [False] * 70)
    one = rates[rates["by"].eq("crew") & rates["measure"].eq("workmanship")].set_index("group")
    assert one["cores"].to_dict() == {"Crew A": 50, "Crew B": 50}
    assert one.loc["Crew A", "rate"] == 0.6
    assert one.loc["Crew A", "others_rate"] == 0
    assert one["differs"].to_dict() == {"Crew A": "more", "Crew B": "less"}


def test_chance_alone_is_not_reported_as_a_difference():
    """Ten crews of thirty cores, all the same: in forty draws about one in twenty reports a difference."""
    rng = np.random.default_rng(5)
    crews = [f"Crew {place % 10}" for place in range(300)]
    reports = [_rates(crews, rng.random(300) < 0.1)["differs"].isin(["more", "less"]).any() for _ in range(40)]
    # two are expected; three more would be two standard deviations
    assert sum(reports) <= 5


def test_a_handful_of_cores_is_too_few_to_compare():
    rates = _rates(["Crew A"] * 4 + ["Crew B"] * 60, [True] * 4 + [False] * 60)
    one = rates[rates["by"].eq("crew") & rates["measure"].eq("workmanship")].set_index("group")
    assert one["differs"].to_dict() == {"Crew A": "too few", "Crew B": "less"}
    assert np.isnan(one.loc["Crew A", "p"])


def test_one_group_alone_is_compared_with_nobody():
    assert "crew" not in set(_rates(["Crew A"] * 20, [False] * 20)["by"])


def test_an_open_core_does_not_count_for_workmanship():
    cores = frame(*({**SOUND, "crew": f"Crew {place % 2}"} for place in range(20)))
    rates = rates_of_findings(
        cores, pd.DataFrame({"core": [], "rule": [], "severity": []}), {}, np.zeros(20, dtype=bool), AS_OF
    )
    assert set(rates["measure"]) == {"flagged"}


def test_holm_corrects_each_by_its_rank():
    # 4 x 0.005, 3 x 0.01, 2 x 0.03, and 0.04 may not come out below the one before it
    p = pd.Series([0.01, 0.04, 0.03, 0.005, np.nan])
    assert corrected(p).tolist()[:4] == pytest.approx([0.03, 0.06, 0.06, 0.02])
    assert np.isnan(corrected(p).iloc[4])


def test_a_core_in_two_rows_is_counted_once():
    """Six cores of a crew, three of them flagged, and a copy of each flagged one; five cores of another."""
    cores = frame(*[SOUND] * 14).assign(
        crew=["Crew A"] * 9 + ["Crew B"] * 5, is_copy=[False] * 6 + [True] * 3 + [False] * 5
    )
    flagged = [True] * 3 + [False] * 3 + [True] * 3 + [False] * 5
    crews = _one_by(cores, "crew", flagged)
    assert crews[["cores", "with_findings"]].values.tolist() == [[6, 3], [5, 0]]
