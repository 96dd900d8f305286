"""The plan in the report: weeks, lateness, what is not planned with its ids, the survey round."""

from types import SimpleNamespace

import pandas as pd
import pytest

from pipeline.contracts import PLAN_TABLES, names_of
from pipeline.publish.report import plan as section
from pipeline.publish.report.plan import plan_section
from pipeline.publish.words import words_of
from tests.publish.report.pages import text_of

_WORDS = words_of("en")
_DAYS = pd.to_datetime(["2026-10-01", "2026-10-02", "2026-10-05", "2026-10-05"])


def _stops(**changes):
    """Return four stops of two crews, Thursday to Monday."""
    return pd.DataFrame(
        {
            "crew": ["East", "East", "East", "West"], "day": _DAYS, "row": [1, 2, 3, 4],
            "core_id": ["HV-1", "HV-2", "HV-3", None], "task": ["reinstate", "reinstate", "survey", "make safe"],
            "urgency": ["hazard", "overdue", None, "hazard"], "due_on": [*_DAYS[:3], pd.NaT],
            "late_days": pd.array([9, 0, 0, 4], dtype="Int64"), "is_kept": [True, False, False, False],
        }
        | changes
    )  # fmt: skip


def _left(*rows):
    names = ("row", "core_id", "district", "reason", "remedy")
    return pd.DataFrame([dict(zip(names, row, strict=True)) for row in rows], columns=list(names))


@pytest.fixture(autouse=True)
def _without_method(monkeypatch):
    monkeypatch.setattr(section, "plan_method", lambda _result, _words: {})


def _shown(stops, left=None):
    left = _left() if left is None else left
    return plan_section(SimpleNamespace(plan=SimpleNamespace(stops=stops, not_planned=left)), _WORDS)


def test_the_columns_of_these_tests_are_those_of_the_plan():
    assert set(_stops()) <= set(names_of(PLAN_TABLES["stops"]))
    assert set(_left()) <= set(names_of(PLAN_TABLES["not_planned"]))


def test_a_sentence_counts_what_is_planned_late_and_not_planned():
    shown = _shown(_stops(), _left((9, "HV-9", "East", "no position", "a position")))
    assert text_of(shown["plan_line"]) == (
        "4 cores are planned, from 1 Oct 2026 to 5 Oct 2026 : 2 after their due day; 1 not planned."
    )


def test_a_week_begins_on_monday_and_counts_the_days_on_which_a_crew_works():
    shown = _shown(_stops())
    assert [text_of(name) for name in shown["plan_crews"]] == ["East", "West"]
    # 1 and 2 October 2026 are a Thursday and a Friday, 5 October is a Monday
    assert [(week["stops"], week["total"], week["days"]) for week in shown["plan_weeks"]] == [
        (["2", ""], "2", "2"), (["1", "1"], "2", "2"),
    ]  # fmt: skip


def test_more_crews_than_fit_have_their_total_only():
    stops = pd.concat([_stops(crew=f"Crew {number}") for number in range(13)], ignore_index=True)
    shown = _shown(stops)
    assert shown["plan_crews"] == []
    assert [week["total"] for week in shown["plan_weeks"]] == ["26", "26"]


def test_lateness_is_by_urgency_with_stops_that_are_not_late():
    rows = _shown(_stops())["plan_late"]
    assert [(text_of(row["urgency"]), row["stops"], row["due"], row["late"], row["median"], row["most"]) for row in rows
            ] == [
        ("Hazard", "2", "1", "2", "6", "9"), ("Overdue", "1", "1", "0", "", ""), ("No finding", "1", "1", "0", "", ""),
    ]  # fmt: skip


def test_what_is_not_planned_has_its_reason_its_remedy_and_its_ids():
    left = _left(
        (5, "HV-5", "East", "no room within the horizon", "one more crew for 2 weeks"),
        (8, None, "(no district)", "no position", "a position"),
        (7, "HV-7", "West", "no room within the horizon", "one more crew for 2 weeks"),
    )
    first, second = _shown(_stops(), left)["plan_left"]
    assert (text_of(first["reason"]), first["n"], text_of(first["remedy"])) == (
        "no room within the horizon", 2, "one more crew for 2 weeks",
    )  # fmt: skip
    assert [text_of(one) for one in first["ids"]] == ["HV-5", "HV-7"]
    assert text_of(first["districts"]) == "East and West"
    assert [text_of(one) for one in second["ids"]] == ["row 8"]


def test_only_the_first_forty_ids_are_shown_and_the_rest_is_counted():
    left = _left(*((number, f"HV-{number}", "East", "no position", "a position") for number in range(43)))
    (row,) = _shown(_stops(), left)["plan_left"]
    assert (len(row["ids"]), row["ids_left"]) == (40, 3)


def test_the_survey_round_has_its_days_and_ids():
    survey = _shown(_stops())["plan_survey"]
    assert (survey["n"], [text_of(one) for one in survey["ids"]]) == (1, ["HV-3"])
    assert _shown(_stops(task="reinstate"))["plan_survey"] is None


def test_promised_stops_are_counted():
    assert _shown(_stops())["plan_kept"] == 1


def test_a_plan_without_a_stop_has_a_sentence():
    shown = _shown(_stops().iloc[:0], _left((9, "HV-9", "East", "no position", "a position")))
    assert text_of(shown["plan_line"]) == "Nothing is planned; 1 core cannot be planned."
    assert (shown["plan_weeks"], shown["plan_late"]) == ([], [])
