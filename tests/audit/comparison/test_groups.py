"""Groups, what decides them, and what they are adjusted for."""

import pandas as pd
import pytest

from pipeline.audit.comparison.groups import (
    age_names,
    covariates,
    groupings,
    is_asked,
    others_groupings,
    taken_into_account,
    work_day,
)
from pipeline.audit.registry import RULES
from tests.audit.comparison.worlds import AS_OF, cores_of


def test_unknown_groups_are_left_out():
    """Without a position there is no surface, and that is no property of one."""
    groups = groupings(cores_of(surface=["asphalt", "unknown"], crew=["A", None], district=[None, "Mill Bank"]), "all")
    assert groups["surface"].isna().tolist() == [False, True]
    assert groups["crew"].isna().tolist() == [False, True]
    assert groups["district"].isna().tolist() == [True, False]


def test_the_register_is_the_contractor():
    assert groupings(cores_of(register=["north", "south"]), "all")["contractor"].tolist() == ["north", "south"]


def test_names_in_another_case_are_one_crew_in_its_commonest_spelling():
    crews = groupings(cores_of(crew=["Crew A", "crew  a ", "Crew A", "Crew B"]), "all")["crew"]
    assert crews.tolist() == ["Crew A", "Crew A", "Crew A", "Crew B"]


def test_months_are_those_of_the_reinstatement_for_rules_about_it():
    cores = cores_of(opened_on=["2026-07-30"], reinstated_at=["2026-08-02"])
    assert groupings(cores, "reinstated")["month"].tolist() == ["2026-08"]
    assert groupings(cores, "all")["month"].tolist() == ["2026-07"]


@pytest.mark.parametrize(
    ("rule", "by", "asked"),
    [
        ("surface-not-allowed", "surface", False),
        ("surface-not-allowed", "crew", True),
        ("district-overlap", "district", False),
        ("open-too-long", "month", False),
        ("open-too-long", "crew", True),
        ("core-in-two-registers", "contractor", False),
    ],
)
def test_a_grouping_that_decides_the_answer_is_not_compared_by_it(rule, by, asked):
    assert is_asked(rule, "check", by) == asked


def test_notes_are_no_faults_to_compare():
    assert not is_asked("grout-short", "note", "crew")


def test_every_rule_that_is_treated_apart_exists():
    named = [
        slug
        for slug in RULES
        if not all(is_asked(slug, "check", by) for by in ("crew", "surface", "district", "month"))
    ]
    assert {"joint-near", "district-gap", "permit-expired", "id-in-two-registers"} <= set(named)


def test_what_a_crew_did_not_choose_is_taken_into_account():
    assert taken_into_account("grout-short", "placement", "crew") == (
        "surface", "road class", "size", "depth", "season", "age",
    )  # fmt: skip
    assert "surface" not in taken_into_account("grout-short", "placement", "surface")
    assert {"season", "age"}.isdisjoint(taken_into_account("grout-short", "placement", "month"))


def test_what_the_rule_itself_is_about_is_not_adjusted_away():
    assert "age" not in taken_into_account("open-too-long", "dates", "crew")
    assert "depth" not in taken_into_account("depth-implausible", "sizes", "crew")
    assert "surface" not in taken_into_account("surface-unknown", "surface", "crew")
    assert "surface" in taken_into_account("surface-not-allowed", "surface", "crew")


def test_the_day_of_the_work_is_that_of_the_reinstatement_or_else_of_the_opening():
    cores = cores_of(opened_on=["2026-07-30", "2026-07-31", None], reinstated_at=["2026-08-02 23:30", None, None])
    days = work_day(cores)
    assert days.dt.strftime("%Y-%m-%d").tolist()[:2] == ["2026-08-02", "2026-07-31"]
    assert pd.isna(days[2])


def test_bands_hold_alike_cores_and_unknown_is_a_band_of_its_own():
    """December and February are one winter; 200 mm is the end of a band; ages of 30 and 100 days are two bands."""
    cores = cores_of(
        reinstated_at=["2025-12-05", "2026-02-05", "2026-06-05", None],
        depth_believed_mm=[200.0, 199.0, 201.0, float("nan")],
    )
    bands = covariates(cores, AS_OF)
    assert bands["season"].tolist() == [0, 0, 2, 4]
    assert bands["depth"].tolist() == [1, 1, 2, 4]
    assert set(bands["surface"]) == {0}
    ages = covariates(cores_of(reinstated_at=["2026-08-31", "2026-06-22"]), AS_OF)["age"]
    assert ages.tolist() == [0, 1]


def test_ages_are_those_of_open_and_of_reinstated_cores():
    """As of 30 September: cut that day, 7 and 8 days before; one in the future counts as today; one done 31 days ago."""
    opened = ["2026-09-30", "2026-09-23", "2026-09-22", "2026-10-04", "2026-08-01"]
    cores = cores_of(opened_on=opened, reinstated_at=[None] * 4 + ["2026-08-30"], is_open=[True] * 4 + [False])
    groups = others_groupings(cores, AS_OF)
    assert groups["days open"].value_counts().to_dict() == {"0 to 7": 3, "8 to 14": 1}
    assert groups["days since reinstatement"].value_counts().to_dict() == {"31 to 90": 1}
    assert age_names((7, 14)) == ["0 to 7", "8 to 14", "over 14"]
