"""The groups of the first page: which cores, where, whose, by how long, and what could not be judged."""

from dataclasses import replace

import pandas as pd
import pytest

from pipeline.audit.outcomes import AT_LIMIT, NOT_ASSESSED, PASSED
from pipeline.publish.actions import actions_of
from pipeline.publish.report.groups import groups
from pipeline.publish.report.report import draw_report
from pipeline.publish.words import words_of
from tests.publish.report.pages import first_page_of, text_of

_WORDS = words_of("en")


def _groups(result):
    return {group["urgency"]: group for group in groups(result, actions_of(result), _WORDS)}


def _finding(row, rule, severity, urgency):
    return {
        "row": row,
        "core_id": f"C{row}",
        "rule": rule,
        "severity": severity,
        "urgency": urgency,
        "message": "Wrong. Act.",
    }


def _with(demo, findings, **parts):
    """The demo with these findings alone, and none of its templates."""
    table = pd.DataFrame(
        [_finding(*one) for one in findings], columns=["row", "core_id", "rule", "severity", "urgency", "message"]
    )
    return replace(demo, audit=replace(demo.audit, findings=table, wordings={}, **parts))


def _rows_of(demo, state, count):
    cores = demo.counted_cores
    return cores.loc[cores["state"].eq(state), "row"].tolist()[:count]


def test_uncovered_holes_come_first_the_longest_open_before_the_others(demo):
    shown = _groups(demo)["hazard"]
    texts = [text_of(row["fault"]) for row in shown["cores"]]
    # cut on 20 November, 3 June, 12 and 30 August, and 11 September
    assert [text.split("(")[1].split(" ")[0] for text in texts] == ["314", "119", "49", "31", "19"]
    assert shown["cores_left"] == shown["n"] - 5
    assert text_of(shown["kinds"][0]) == "Open uncovered 6"


def test_what_is_overdue_is_ordered_by_days_whatever_its_severity_with_cores_that_are_out_first(demo):
    """Out: an interim reinstatement 28 days over, a permit 15, a plate 3, a permit 1. Back: a notice 49 days late."""
    shown = _groups(demo)["overdue"]
    texts = [text_of(row["fault"]) for row in shown["cores"]]
    assert [next(days for days in (49, 28, 15, 3, 1) if f" {days} day" in text) for text in texts] == [28, 15, 3, 1, 49]
    assert [row["severity"] for row in shown["cores"]] == ["check", "fail", "check", "fail", "check"]
    # the four that are open too long are uncovered as well, and so hazards: 314 less 30 days
    assert text_of(shown["above"]) == "4 cores in list 1 are also overdue, the longest by 284 days."


def test_each_core_has_where_and_who(demo):
    for group in _groups(demo).values():
        for row in group["cores"]:
            core = demo.table.set_index("row").loc[row["row"]]
            assert text_of(row["core"]) == core["core_id"]
            assert text_of(row["street"]) == core["street"]
            assert text_of(row["district"]) == core["district"]
            assert text_of(row["who"][0]) == core["crew"]
            assert [text_of(name) for name in row["who"][1:]] == [core["permit"]] * pd.notna(core["permit"])


def test_a_core_without_a_street_has_its_position_so_that_it_can_be_found(demo):
    (row, *_) = _groups(demo)["hazard"]["cores"]
    place = demo.table.set_index("row").loc[row["row"]]
    (shown, *_) = _groups(replace(demo, table=demo.table.assign(street=None)))["hazard"]["cores"]
    assert text_of(shown["street"]) == f"(no street) at {place['lat']:.5f}°, {place['lon']:.5f}°"


def test_owner_comes_first_and_the_register_is_named_where_there_are_several(demo):
    (row,) = _rows_of(demo, "open", 1)
    one = _with(demo, [(row, "grout-long", "check", "hazard")])
    one = replace(one, audit=replace(one.audit, findings=one.audit.findings.assign(owner="North yard")))
    several = replace(one, cores=one.cores.assign(register=["north", "south"] * 200, crew="Crew 7", permit_no=None))
    (shown,) = _groups(several)["hazard"]["cores"]
    assert [text_of(name) for name in shown["who"]] == ["North yard", "Crew 7", "north" if row % 2 else "south"]
    page = first_page_of(draw_report(several))
    assert "Where; owner, crew, register, permit" in page
    unknown = replace(
        one, cores=one.cores.assign(crew=None, permit_no=None), audit=_with(demo, [(row, "x", "check", "hazard")]).audit
    )
    assert _groups(unknown)["hazard"]["cores"][0]["who"] == []


def test_only_reinstated_cores_with_failures_are_lifted_and_the_others_are_counted_by_what_to_do(demo):
    """Two reinstated with a failure, one with a check, one open with a failure, two open with checks: six cores."""
    back, still_open = _rows_of(demo, "back", 3), _rows_of(demo, "plated", 3)
    severities = ["fail", "fail", "check"]
    findings = [
        *((row, "grout-short", severity, "quality") for row, severity in zip(back, severities, strict=True)),
        *(
            (row, "pavement-thin", severity, "quality")
            for row, severity in zip(still_open, ["fail", "check", "check"], strict=True)
        ),
    ]
    shown = _groups(_with(demo, findings))["quality"]
    assert shown["n"] == 6
    assert [row["row"] for row in shown["cores"]] == back[:2]
    assert [text_of(kind) for kind in shown["kinds"]] == [
        "1 open core cannot be reinstated as planned", "2 open cores to check before they are reinstated",
        "1 reinstated core to check on site",
    ]  # fmt: skip


def test_a_core_of_a_more_urgent_group_is_named_below_it_and_not_listed_again(demo):
    (row,) = _rows_of(demo, "back", 1)
    findings = [
        (row, "grout-long", "check", "hazard"),
        (row, "grout-short", "fail", "quality"),
        (row, "id-duplicated", "fail", "record"),
    ]
    shown = _groups(_with(demo, findings))
    assert [shown[name]["n"] for name in ("hazard", "overdue", "quality", "record")] == [1, 0, 0, 0]
    assert text_of(shown["quality"]["above"]) == "1 core in lists 1 and 2 must also be lifted."
    assert text_of(shown["record"]["above"]) == "1 core in lists 1 to 3 also needs its record corrected."
    assert shown["overdue"]["above"] is None


def test_slips_of_the_register_are_shown_by_rule_with_ids_where_and_whose(demo):
    rows = _rows_of(demo, "back", 4)
    cores = demo.cores.copy()
    mine = cores["row"].isin(rows)
    cores.loc[mine, "district"] = ["A", "A", "B", "A"]
    cores.loc[mine, "crew"] = ["Crew A", "crew b ", "Crew C", "Crew D"]
    result = replace(_with(demo, [(row, "id-duplicated", "fail", "record") for row in rows]), cores=cores)
    (shown,) = _groups(result)["record"]["rules"]
    assert (shown["n"], shown["ids_left"], len(shown["ids"])) == (4, 2, 2)
    assert text_of(shown["where"]) == "A (3 of 4)"
    assert [text_of(name) for name in shown["who"]] == ["4 crews"]


def test_nothing_found_and_not_judged_are_different_and_both_said(demo):
    """Of the hazards nothing is found: first three cores cannot be judged and two are at the limit, then all can."""
    outcomes = demo.audit.outcomes.mask(demo.audit.outcomes.notna(), PASSED)
    lacking = outcomes.copy()
    lacking.iloc[[0, 1, 2], lacking.columns.get_loc("surface-depression")] = NOT_ASSESSED
    lacking.iloc[[3, 4], lacking.columns.get_loc("flush-out-of-tolerance")] = AT_LIMIT
    # a note decides nothing
    lacking.iloc[9, lacking.columns.get_loc("inspection-missed")] = NOT_ASSESSED
    assert not demo.cores["is_copy"].head(10).any()
    result = _with(demo, [], outcomes=lacking)
    shown = _groups(result)
    assert (shown["hazard"]["unjudged"], shown["hazard"]["at_limit"]) == (3, 2)
    assert shown["overdue"]["unjudged"] == 0
    page = first_page_of(draw_report(result))
    assert page.count("<p>Nothing found.</p>") == 4
    assert "3 cores could not be assessed in full, most often for lack of: Depression" in text_of(page)
    assert "At the limit, cannot be told: 2 cores." in page
    assert page.count("All cores were assessed.") == 3


def test_new_findings_are_marked_and_counted_against_the_last_run(demo):
    (row,) = _rows_of(demo, "back", 1)
    result = _with(demo, [(row, "grout-long", "check", "hazard"), (row, "flush-out-of-tolerance", "fail", "hazard")])
    assert _groups(result)["hazard"]["new"] == 0
    findings = result.audit.findings.assign(baseline=["unchanged", "new"])
    shown = _groups(replace(result, audit=replace(result.audit, findings=findings)))["hazard"]
    assert (shown["new"], shown["cores"][0]["is_new"], shown["cores"][0]["more"]) == (1, True, 1)


@pytest.mark.parametrize(("count", "left"), [(5, 0), (9, 4)])
def test_no_more_than_five_cores_are_listed_and_the_rest_is_counted(demo, count, left):
    rows = _rows_of(demo, "back", count)
    shown = _groups(_with(demo, [(row, "grout-long", "check", "hazard") for row in rows]))["hazard"]
    assert [row["row"] for row in shown["cores"]] == rows[:5]
    assert shown["cores_left"] == left
