"""What an audit prints when it is done."""

import re
from dataclasses import replace
from pathlib import Path

import pandas as pd
import pytest

from pipeline.cli.summary import summary
from pipeline.cli.terminal import line_width

_PLANTED = Path(__file__).parents[2] / "sample_data" / "planted.csv"


@pytest.fixture
def printed(capsys):
    """What a call prints, its white space collapsed."""

    def call(function, argument):
        function(argument)
        return " ".join(capsys.readouterr().out.split())

    return call


def test_it_has_the_account_and_where_the_outputs_are(demo, printed):
    text = printed(summary, demo)
    account = demo.account
    names = ("cores", "flagged", "pending", "reinstated", "unplaced")
    assert "│ " + " │ ".join(f"{account[name]:,}" for name in names) + " │" in text
    assert "not on the map" in text
    assert "Outputs:" in text
    assert "harbour-vale-2026/2026-09-30" in text


def test_rows_that_a_filter_excludes_have_a_column_where_there_are_any(demo, printed):
    assert "excluded by filter" not in printed(summary, demo)
    register = replace(demo.inputs.register, rows_in_file=403)
    text = printed(summary, replace(demo, inputs=replace(demo.inputs, register=register)))
    assert "excluded by filter" in text
    assert re.search(r"│ 12 +│ 2 +│ 3 +│", text)


def test_the_most_urgent_rules_come_first_then_failures_then_those_on_the_most_cores(demo, printed):
    """Of five rules, one with no findings is left out; a hazard on two cores comes before a failure on three."""
    found = {"flush-out-of-tolerance": 2, "shade-differs": 3, "grout-short": 4, "street-differs": 9, "depth-missing": 0}
    rules = demo.audit.rules[demo.audit.rules["rule"].isin(found)]
    rules = rules.assign(found=rules["rule"].map(found))
    text = printed(summary, replace(demo, audit=replace(demo.audit, rules=rules)))
    assert re.findall(r"│ ([a-z]+-[a-z-]+) +│ (\w+) +│ (\w+) +│ (\d+) ", text) == [
        ("flush-out-of-tolerance", "hazard", "fail", "2"), ("grout-short", "quality", "fail", "4"),
        ("shade-differs", "quality", "fail", "3"), ("street-differs", "record", "check", "9"),
    ]  # fmt: skip


def test_states_are_counted_apart_from_statuses(demo, printed):
    cores = demo.cores.assign(is_copy=False, state="back")
    cores.loc[cores.index[:6], "state"] = ["open", "open", "plated", "interim", "unknown", "unknown"]
    text = printed(summary, replace(demo, cores=cores))
    assert (
        "State: 2 open with no cover recorded, 1 plated, 1 with an interim reinstatement, 394 reinstated, 2 not known."
        in text
    )


def test_positions_are_counted_by_what_their_accuracy_rests_on(demo, printed):
    cores = demo.cores.iloc[:6].assign(is_copy=[False] * 5 + [True], x_m=[1.0] * 4 + [float("nan"), 1.0])
    sources = pd.Series(["core", "method", "learnt", "default", "core", "core"], cores.index, dtype="str")
    errors = demo.reasons.errors.loc[cores.index].assign(accuracy_from=sources)
    few = replace(demo, cores=cores, table=demo.table.iloc[:6], reasons=demo.reasons._replace(errors=errors))
    assert (
        "Position errors: stated for 2 cores, learnt from the register for 1 core, by default for 1 core."
        in printed(summary, few)
    )
    matching = demo.settings.matching.model_copy(update={"choose": "nearest"})
    nearest = replace(few, settings=demo.settings.model_copy(update={"matching": matching}))
    assert "Position errors:" not in printed(summary, nearest)


def test_flagged_cores_are_those_to_repair_and_those_to_correct_in_the_register(demo, printed):
    """A second count: from the list of what was planted, by the severity and urgency of each rule."""
    planted = pd.read_csv(_PLANTED).join(demo.audit.rules.set_index("rule")[["severity", "urgency"]], on="rule")
    grave = planted[planted["severity"].ne("note")]
    flagged = set(grave.loc[grave["severity"].eq("fail"), "row"])
    repair = flagged & set(grave.loc[grave["urgency"].ne("record"), "row"])
    text = printed(summary, demo)
    assert (
        f"Of {len(flagged)} flagged cores: {len(repair)} to put right on site or with the road authority, "
        f"{len(flagged) - len(repair)} to correct in the register." in text
    )
    # the demo's file of decisions accepts one finding that is a failure or a check, and its decision holds
    assert "Failures and checks accepted: 1." in text
    everything = demo.audit.findings.assign(decision="accept", decision_standing="holds")
    text = printed(summary, replace(demo, audit=replace(demo.audit, findings=everything)))
    assert f"0 to correct in the register, {len(flagged)} with accepted findings only." in text


def test_only_a_rule_that_applies_to_some_core_can_lack_data(demo, printed):
    """Three rules: one was run, one lacked its data for every core, one applies to no core."""
    rules = demo.audit.rules.head(3).assign(found=0, assessed=[9, 0, 0], not_assessed=[1, 4, 0])
    text = printed(summary, replace(demo, audit=replace(demo.audit, rules=rules)))
    assert f"Rules not run, no data supplied: {rules['rule'].iloc[1]}. " in text
    complete = replace(demo, audit=replace(demo.audit, rules=rules.assign(not_assessed=0)))
    assert "no data supplied" not in printed(summary, complete)


def test_materials_are_in_whole_bags_beside_what_is_needed(demo, printed):
    """Two lines of one item add up: 30 and 5 kg needed, 2 and 1 bags."""
    lines = demo.orders.lines[demo.orders.lines["item"].eq("grout pale")].iloc[:2]
    lines = lines.assign(needed=[30.0, 5.0], packs=[2, 1], order=[40.0, 20.0])
    bought = demo.orders.purchases[demo.orders.purchases["item"].eq("grout pale")].iloc[:2]
    bought = bought.assign(packs_safety_stock=[1.0, 1.0], packs_ordered=[10, 0])
    left_out = pd.DataFrame({"reason": "surface unknown", "core_id": ["A; 1", None, "C", "D", "E", "F", "G"]})
    orders = demo.orders._replace(lines=lines, purchases=bought, cores_left_out=left_out, cores=1)
    text = printed(summary, replace(demo, orders=orders))
    assert (
        "Materials to reinstate 1 open core: grout pale 3 bags to mix (net grout 35 kg, safety stock 2, to buy 10). "
        "7 open cores not ordered: 7 surface unknown (A; 1, (no id), C, D, E and 2 more)."
    ) in text


def test_what_is_not_grout_is_not_mixed_and_has_no_safety_stock_to_print(demo, printed):
    lines = demo.orders.lines[demo.orders.lines["item"].eq("pea gravel")].iloc[:1]
    lines = lines.assign(needed=30.0, packs=2)
    bought = demo.orders.purchases[demo.orders.purchases["item"].eq("pea gravel")].iloc[:1].assign(packs_ordered=4)
    text = printed(summary, replace(demo, orders=demo.orders._replace(lines=lines, purchases=bought)))
    assert "pea gravel 2 bags (exactly 30 kg, to buy 4)." in text


def test_with_nothing_to_order_that_is_printed(demo, printed):
    nothing = demo.orders.cores_left_out.iloc[:0]
    orders = demo.orders._replace(lines=demo.orders.lines.iloc[:0], cores_left_out=nothing, cores=0)
    text = printed(summary, replace(demo, orders=orders))
    assert "Materials to reinstate 0 open cores: none." in text
    assert "not ordered" not in text


def test_ten_notices_are_printed_and_the_rest_counted(demo, printed):
    inputs = replace(demo.inputs, notices=[f"notice [{number}]" for number in range(11)])
    text = printed(summary, replace(demo, inputs=inputs))
    assert "Note: notice [9]" in text
    assert "notice [10]" not in text
    assert "1 more note in run.json." in text


def test_markup_in_a_programmes_name_is_printed_as_it_is(demo, printed):
    programme = demo.settings.programme.model_copy(update={"name": "[bold]Town[/bold]"})
    settings = demo.settings.model_copy(update={"programme": programme})
    assert "[bold]Town[/bold], as of 2026-09-30" in printed(summary, replace(demo, settings=settings))


@pytest.mark.parametrize(("columns", "width"), [("60", 60), ("300", 100)])
def test_a_line_is_as_wide_as_the_terminal_but_no_wider_than_100(monkeypatch, columns, width):
    monkeypatch.setenv("COLUMNS", columns)
    assert line_width() == width


def test_a_plan_with_faults_is_not_to_be_handed_out_and_the_first_fault_is_named(demo, printed):
    assert "Do not hand it out" not in printed(summary, demo)
    faults = pd.DataFrame(
        {
            "check": ["each core once", "working days"],
            "crew": ["[b]North", "East"],
            "day": pd.to_datetime(["2026-11-02", "2026-11-03"]),
            "core_id": ["HV-1", None],
            "fault": ["The core is planned more than once.", "The crew does not work on that day."],
        }
    )
    text = printed(summary, replace(demo, plan=demo.plan._replace(faults=faults)))
    assert (
        "Do not hand it out: its check found 2 faults, the first for [b]North on 2026-11-02, core HV-1: The core is "
        "planned more than once."
    ) in text
    text = printed(summary, replace(demo, plan=demo.plan._replace(faults=faults[1:])))
    assert "its check found 1 fault, the first for East on 2026-11-03: The crew does not work on that day." in text


def test_outputs_that_are_not_asked_for_are_named(demo, printed):
    assert "Not asked for" not in printed(summary, demo)
    few = demo.settings.publish.model_copy(update={"outputs": ["map.html", "report.html", "orders.xlsx", "cores.gpkg"]})
    text = printed(summary, replace(demo, settings=demo.settings.model_copy(update={"publish": few})))
    assert "Not asked for in [publish], and not in the folder: crew-sheets.html, days, handover, basis." in text


def test_a_name_with_an_end_of_a_line_begins_no_line_of_ours(demo, capsys):
    notice = "roads.gpkg: 2 classes of `class` are not known:\nOutputs: /elsewhere."
    summary(replace(demo, inputs=replace(demo.inputs, notices=[notice])))
    lines = capsys.readouterr().out.splitlines()
    assert [line for line in lines if line.startswith("Outputs:")] == [f"Outputs: {demo.folder}"]
