"""Each rule's outcome: the limit in force for this core, what was compared, what is missing, what does not apply."""

import pandas as pd

from pipeline.audit.outcomes import AT_LIMIT, FOUND, NOT_APPLICABLE, NOT_ASSESSED, PASSED
from pipeline.publish.explain.judged import limits_in_force, rules_sections
from tests.publish.explain.rows import SHOW, basis, core, row, table, texts

_LIMIT = {
    "rule": "open-too-long", "threshold": "max_open", "value": "30 days", "where": "everywhere", "origin": "shipped",
    "source": "our default",
}  # fmt: skip
_COUNTY = _LIMIT | {
    "value": "20 days", "where": "road authority Vale County", "road_authority": "VALE  county", "origin": "code england",
    "source": "a code, clause 3",
}  # fmt: skip
_BOOK = [
    {
        "rule": "open-too-long",
        "severity": "fail",
        "urgency": "overdue",
        "title": "Open too long.",
        "applies_to": "open",
    },
    {"rule": "flush-out-of-tolerance", "severity": "fail", "title": "Not flush.", "applies_to": "reinstated"},
    {"rule": "grout-short", "severity": "fail", "title": "Too little grout.", "applies_to": "all"},
]
_READS = [
    {"rule": "open-too-long", "needs": "opened_on", "needs_any": "", "at_least": 1, "shows": "crew;same_core"},
    {"rule": "grout-short", "needs": "grout_used_l;grout_least_l", "needs_any": "", "at_least": 1, "shows": ""},
]
_NOTHING = pd.DataFrame({"rule": [], "message": [], "evidence": []})


def _judged(outcomes, findings=_NOTHING, limits=(_LIMIT,), reads=_READS, **changes):
    one = row(outcomes=outcomes, opened_on=pd.Timestamp("2026-06-03", tz="UTC"), **changes)
    sections = rules_sections(one, basis(limits, reads), _BOOK, findings, SHOW)
    return {section.title.partition(":")[0]: texts(section) for section in sections}


def test_the_limit_in_force_is_the_last_that_is_for_the_cores_own_road():
    limits = table("limits", _LIMIT, _COUNTY)
    assert limits_in_force(limits, core(road_authority="Vale County"))["value"].tolist() == ["20 days"]
    assert limits_in_force(limits, core(road_authority="Other County"))["value"].tolist() == ["30 days"]
    assert limits_in_force(limits, core(road_authority=None))["value"].tolist() == ["30 days"]
    # an order in which a later one overrides: a programme's own limit for all roads comes after the code's
    own = table("limits", _COUNTY, _LIMIT | {"origin": "programme"})
    assert limits_in_force(own, core(road_authority="Vale County"))["value"].tolist() == ["30 days"]


def test_a_finding_shows_its_sentence_its_limit_and_what_was_compared():
    found = pd.DataFrame(
        {"rule": ["open-too-long"], "message": ["Open for 119 days."], "evidence": ["days=119; max_open_days=20"]}
    )
    said = _judged({"open-too-long": FOUND}, found, (_LIMIT, _COUNTY), road_authority="Vale County", crew="Crew A",
                   same_core=3)  # fmt: skip
    assert said == {
        "Finding": [
            "Open too long (fail, overdue): Open too long. Open for 119 days.",
            "max open 20 days (road authority Vale County). Source: a code, clause 3. Set by: code of practice england.",
            "Opened: 3 Jun 2026; Crew: “Crew A”; figures of the finding: days=119; max_open_days=20",
        ]
    }


def test_passed_and_at_the_limit_are_told_apart():
    assert [*_judged({"open-too-long": PASSED})] == ["Passed"]
    said = _judged({"open-too-long": AT_LIMIT})["At the limit"]
    assert said[1:] == ["max open 30 days. Source: tool default. Set by: tool default.", "Opened: 3 Jun 2026"]


def test_what_is_missing_is_named_by_the_cells_that_would_give_it():
    said = _judged({"grout-short": NOT_ASSESSED}, grout_least_l=4.0)["Not assessed"]
    assert said == [
        "Grout short (fail): Too little grout.",
        "The rule has no limit.",
        "Grout used (worked out from: Bags used)",
    ]
    said = _judged(
        {"grout-short": NOT_ASSESSED}, grout_used_l=5.0, surface="unknown", diameter_mm=450.0, depth_mm=200.0
    )
    assert said["Not assessed"][-1] == "Least void (worked out from: Surface)"


def test_what_the_position_would_give_is_missing_with_it():
    reads = [{"rule": "grout-short", "needs": "segment_confidence;segment_cores", "at_least": 1}]
    assert _judged({"grout-short": NOT_ASSESSED}, reads=reads, x_m=None)["Not assessed"][-1] == "Position"


def test_a_cell_that_cannot_be_read_is_told_from_an_empty_one():
    reads = [{"rule": "grout-short", "needs": "bags_used;depth_mm", "at_least": 1}]
    said = _judged({"grout-short": NOT_ASSESSED}, reads=reads, bags_used_problem="no number", depth_mm=None)
    assert said["Not assessed"][-1] == "Bags used: its cell cannot be read and Depth"


def test_of_several_columns_it_is_said_how_many_are_needed():
    reads = [{"rule": "grout-short", "needs_any": "plated_on;opened_on;interim_on", "at_least": 2}]
    said = _judged({"grout-short": NOT_ASSESSED}, reads=reads)
    assert said["Not assessed"][-1] == "at least 2 of Plated, Opened and Interim reinstatement"


def test_a_core_of_unknown_state_lacks_a_date_that_can_be_read():
    said = _judged({"open-too-long": NOT_ASSESSED}, is_open=False, reinstated_at_problem="no date")
    assert said["Not assessed"][-1] == "Reinstated: its cell cannot be read"


def test_rules_for_other_cores_are_named_with_the_cores_they_are_for():
    said = _judged({"open-too-long": NOT_APPLICABLE, "flush-out-of-tolerance": NOT_APPLICABLE})
    assert said == {
        "Not applicable": [
            "For open cores only: Open too long.",
            "For reinstated cores only: Flush out of tolerance.",
        ]
    }


def test_a_row_whose_core_is_judged_on_another_row_says_which():
    said = _judged({"grout-short": NOT_APPLICABLE, "open-too-long": NOT_APPLICABLE}, copy_of=12)
    assert said["Not applicable"][0].startswith("Row 12 holds a later state of this core.")
    assert len(said["Not applicable"]) == 1
