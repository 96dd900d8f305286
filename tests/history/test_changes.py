"""What changed between two runs: every row has one outcome, and every kind of change is reported."""

import numpy as np
import pandas as pd
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from pipeline.history import KINDS, compare
from pipeline.history.changes import CHANGE_COLUMNS
from pipeline.history.matching import match_rows
from tests.history.sides import FLAG, run_of


def _changes(before, after):
    lines = compare(before, after).lines
    return [(one["change"], one["before"], one["after"]) for one in lines.to_dict("records")]


def test_a_copy_is_in_the_account_and_in_no_other_count():
    """A is written twice before and once after; B is written twice after, and opened since."""
    before = run_of({"core_id": "A"}, {"core_id": "A", "copy_of": 1, "bags": np.nan})
    after = run_of({"core_id": "A"}, {"core_id": "B", **FLAG}, {"core_id": "B", "copy_of": 2, **FLAG})
    changes = compare(before, after)
    account = changes.account
    assert (account["rows_before"], account["copies_before"], account["matched"]) == (2, 1, 1)
    assert (account["rows_after"], account["copies_after"], account["added"]) == (3, 1, 1)
    assert changes.lines[["row_after", "change"]].values.tolist() == [[2, "opened"]]
    assert changes.stock.set_index("cores")[["before", "added", "after"]].loc["all"].tolist() == [1, 1, 2]


def test_the_same_run_twice_has_no_change():
    run = run_of({"core_id": "A"}, {"core_id": "B", "lon": np.nan, "lat": np.nan, "depth_mm": np.nan, "street": None})
    changes = compare(run, run)
    assert changes.lines.empty
    assert changes.account == {
        "rows_before": 2, "rows_after": 2, "copies_before": 0, "copies_after": 0, "matched": 2, "added": 0, "removed": 0, "not_comparable_before": 0,
        "not_comparable_after": 0,
    }  # fmt: skip
    assert changes.kinds["change"].tolist() == list(KINDS)
    assert not changes.kinds["cores"].any()
    assert compare(run_of(), run_of()).lines.empty


@pytest.mark.parametrize(
    ("before", "after", "expected"),
    [
        ({}, {"status": "reinstated", "done": "2026-10-02"}, [("closed", "open", "reinstated")]),
        ({"status": "reinstated", "done": "2026-09-02"}, {}, [("reopened", "reinstated", "open")]),
        ({}, FLAG, [("newly flagged", "pending", "flagged: off-network"), ("new finding", "", "off-network")]),
        (FLAG, {}, [("cleared", "flagged: off-network", "pending"), ("cleared finding", "off-network", "")]),
        # listed with the rules that flag it, not with every rule
        (
            {"findings": "road-uncertain"},
            FLAG | {"findings": "off-network;road-uncertain"},
            [("newly flagged", "pending", "flagged: off-network"), ("new finding", "", "off-network")],
        ),
        ({"urgency": None}, {"urgency": "hazard"}, [("urgency changed", "none", "hazard")]),
        ({"urgency": "hazard"}, {"urgency": "record"}, [("urgency changed", "hazard", "record")]),
        ({"state": "plated"}, {"state": "interim"}, [("state changed", "plated", "interim")]),
        # a core that was closed is listed as that
        (
            {"state": "plated"},
            {"state": "back", "status": "reinstated", "done": "2026-10-02"},
            [("closed", "open", "reinstated")],
        ),
        # the date of a reinstated core can no longer be read
        (
            {"state": "back", "status": "reinstated", "done": "2026-10-02"},
            {"state": "unknown", "status": "reinstated", "done": "2.13."},
            [("state changed", "reinstated", "unknown")],
        ),
        ({}, {"permit": "P-1 to 2026-12-31"}, [("permit changed", "P-1 to 2026-11-30", "P-1 to 2026-12-31")]),
        # a rule that only says "check" flags nothing
        ({}, {"findings": "road-uncertain"}, [("new finding", "", "road-uncertain")]),
        (
            {"findings": "a-rule;b-rule"},
            {"findings": "b-rule;c-rule;d-rule"},
            [("new finding", "", "c-rule"), ("new finding", "", "d-rule"), ("cleared finding", "a-rule", "")],
        ),
        ({}, {"segment_id": "S2"}, [("segment changed", "S1", "S2")]),
        ({}, {"segment_id": None}, [("segment changed", "S1", "")]),
        ({}, {"street": "Oat Street"}, [("street changed", "Mill Street", "Oat Street")]),
        ({}, {"surface": "concrete"}, [("surface changed", "asphalt", "concrete")]),
        ({}, {"district": "Mill Bank"}, [("district changed", "Old Market", "Mill Bank")]),
        ({"shade": None}, {}, [("shade changed", "", "dark")]),
        ({}, {"diameter_mm": 600.0}, [("size changed", "450 mm by 200 mm", "600 mm by 200 mm")]),
        # 450 mm written as 17.72 in, and a difference of exactly 1 mm: the size was written again
        ({}, {"diameter_mm": 450.088}, []),
        ({"depth_mm": 200.3}, {"depth_mm": 201.3}, []),
        ({"depth_mm": 200.3}, {"depth_mm": 201.4}, [("size changed", "450 mm by 200.3 mm", "450 mm by 201.4 mm")]),
        ({"depth_mm": np.nan}, {}, [("size changed", "450 mm by unknown", "450 mm by 200 mm")]),
        ({"lon": np.nan, "lat": np.nan}, {}, [("position found", "", "-82.19, 44.8")]),
        ({}, {"lon": np.nan, "lat": np.nan}, [("position lost", "-82.19, 44.8", "")]),
    ],
)
def test_each_kind_of_change_is_listed(before, after, expected):
    assert _changes(run_of(before), run_of(after)) == expected


def test_a_new_id_has_opened_and_one_that_is_gone_is_removed():
    before = run_of({"core_id": "A"}, {"core_id": "B", "district": "Mill Bank", "street": None})
    after = run_of({"core_id": "A"}, {"core_id": "C"}, {"core_id": "D"} | FLAG)
    lines = compare(before, after).lines
    assert lines.astype(object).where(lines.notna(), None).to_numpy().tolist() == [
        [None, 2, "C", "opened", "", "pending", "Old Market", "Mill Street"],
        [None, 3, "D", "opened", "", "flagged: off-network", "Old Market", "Mill Street"],
        [2, None, "B", "removed", "pending", "", "Mill Bank", None],
    ]


def test_a_core_has_moved_if_it_is_more_than_a_metre_away():
    # a degree of latitude at 44.8 degrees north is 111,130 m long (111,132.95 - 559.85 cos 2p + 1.18 cos 4p)
    degree_m = 111_130
    before = run_of({"core_id": "A"}, {"core_id": "B"})
    after = run_of(
        {"core_id": "A", "lat": 44.80 + 0.98 / degree_m},
        {"core_id": "B", "lat": 44.80 + 25.04 / degree_m},
    )
    assert [(line[0], line[2][-14:]) for line in _changes(before, after)] == [("moved", " (25.0 m away)")]
    assert compare(before, after).lines["core_id"].tolist() == ["B"]


def test_a_flagged_core_closes_when_the_register_says_so():
    assert [line[0] for line in _changes(run_of(FLAG), run_of(FLAG | {"done": "2026-10-02"}))] == ["closed"]
    # a word that says nothing is no date
    assert _changes(run_of(FLAG), run_of(FLAG | {"done": "n/a"})) == []


_IDS = st.sampled_from(["A", "a ", "B", "C", "D", None, ""])

_CELLS = st.fixed_dictionaries(
    {
        "core_id": _IDS,
        "lat": st.sampled_from([44.1, 44.2, np.nan]),
        "state": st.sampled_from(["open", "back", "flagged", "flagged and back"]),
        "segment_id": st.sampled_from(["S1", "S2", None]),
        "depth_mm": st.sampled_from([200.0, 300.0, np.nan]),
        "findings": st.sampled_from(["", "a-rule", "a-rule;b-rule"]),
    }
)


def _drawn(cores):
    rows = []
    for core in cores:
        state = core["state"]
        row = {name: cell for name, cell in core.items() if name != "state"}
        row["done"] = "2026-10-01" if "back" in state else None
        row["status"] = "flagged" if "flagged" in state else "reinstated" if state == "back" else "pending"
        rows.append(row)
    return run_of(*rows)


_SIDES = st.lists(_CELLS, max_size=12).map(_drawn)


@settings(max_examples=15, deadline=None)
@given(_SIDES, _SIDES)
def test_every_row_has_exactly_one_outcome_and_the_stock_adds_up(before, after):
    matched = match_rows(before.cores, after.cores)
    for table, outcomes in (
        (before, (matched.before, matched.removed, matched.aside_before)),
        (after, (matched.after, matched.added, matched.aside_after)),
    ):
        assert sorted(np.concatenate(outcomes).tolist()) == list(range(len(table.cores)))
    changes = compare(before, after)
    account = changes.account
    assert account["matched"] + account["removed"] + account["not_comparable_before"] == account["rows_before"]
    assert account["matched"] + account["added"] + account["not_comparable_after"] == account["rows_after"]
    for one in changes.stock.to_dict("records"):
        flow = one["before"] + one["added"] + one["newly"] - one["no_longer"] - one["removed"] + one["not_comparable"]
        assert flow == one["after"], one
    counts = changes.kinds.set_index("change")["cores"]
    stock = changes.stock.set_index("cores")
    assert counts[["newly flagged", "cleared"]].tolist() == stock.loc["flagged", ["newly", "no_longer"]].tolist()
    assert counts[["reopened", "closed"]].tolist() == stock.loc["open", ["newly", "no_longer"]].tolist()
    kinds = [kind for kind in KINDS if kind in changes.districts]
    assert changes.districts[kinds].sum().tolist() == counts[kinds].tolist()


_MIRROR = {
    "opened": "removed", "closed": "reopened", "newly flagged": "cleared", "new finding": "cleared finding",
    "position found": "position lost",
}  # fmt: skip


@settings(max_examples=15, deadline=None)
@given(_SIDES, _SIDES)
def test_swapped_runs_give_the_mirror_image(before, after):
    mirror = _MIRROR | {theirs: ours for ours, theirs in _MIRROR.items()}
    there, back = (
        compare(*pair)
        .lines.astype({"row_before": "float64", "row_after": "float64"})
        .fillna({"row_before": 0, "row_after": 0})
        for pair in ((before, after), (after, before))
    )
    forward = {(one["row_before"], one["row_after"], one["change"]) for one in there.to_dict("records")}
    mirrored = {
        (one["row_after"], one["row_before"], mirror.get(one["change"], one["change"]))
        for one in back.to_dict("records")
    }
    assert forward == mirrored


def test_lines_are_ordered_by_kind_and_then_by_row():
    before = run_of({"core_id": "B", "segment_id": "S1"}, {"core_id": "A", "segment_id": "S1"}, {"core_id": "Z"})
    after = run_of({"core_id": "A", "segment_id": "S2"}, {"core_id": "B", "segment_id": "S2"}, {"core_id": "N"})
    lines = compare(before, after).lines
    assert lines["change"].tolist() == ["opened", "removed", "segment changed", "segment changed"]
    assert lines["core_id"].tolist() == ["N", "Z", "A", "B"]


def test_the_columns_and_kinds_of_the_lines_are_the_same_with_and_without_changes():
    none, some = compare(run_of(), run_of()).lines, compare(run_of(), run_of({"core_id": "A"})).lines
    assert none.columns.tolist() == some.columns.tolist() == list(CHANGE_COLUMNS)
    assert none.dtypes.to_dict() == some.dtypes.to_dict()


@pytest.mark.parametrize(("metres", "moved"), [(0.0, False), (0.99, False), (1.01, True), (400.0, True)])
def test_up_to_a_metre_is_a_new_measurement_and_beyond_it_a_move(metres, moved):
    # 111,130 m per degree of latitude at 44.8 degrees
    after = run_of({"lat": 44.80 + metres / 111_130})
    assert [change for change, _, _ in _changes(run_of({}), after)] == ["moved"] * moved


def test_a_core_may_have_several_changes_and_each_is_a_line():
    after = run_of({"segment_id": "S2", "street": "Oat Street", "district": "Mill Bank", "depth_mm": 210.0})
    kinds = [change for change, _, _ in _changes(run_of({}), after)]
    assert kinds == ["segment changed", "street changed", "district changed", "size changed"]


def test_sizes_that_stay_unknown_have_not_changed():
    unknown = {"depth_mm": np.nan, "diameter_mm": np.nan}
    assert _changes(run_of(unknown), run_of(unknown)) == []


def test_neither_run_is_changed_by_a_comparison():
    before, after = run_of({"core_id": "A"}), run_of({"core_id": "B"} | FLAG)
    copies = [(run.cores.copy(), run.findings.copy(), run.reinstatement.copy()) for run in (before, after)]
    compare(before, after)
    for run, (cores, findings, reinstatement) in zip((before, after), copies):
        pd.testing.assert_frame_equal(run.cores, cores)
        pd.testing.assert_frame_equal(run.findings, findings)
        pd.testing.assert_series_equal(run.reinstatement, reinstatement)


def test_the_reasons_of_a_flagged_core_are_its_failures_in_order():
    flagged = {"status": "flagged", "findings": "b-rule;a-rule;c-rule", "fails": "b-rule;a-rule"}
    assert _changes(run_of({}), run_of(flagged))[0] == ("newly flagged", "pending", "flagged: a-rule, b-rule")


@pytest.mark.parametrize(
    ("lacks", "kinds"),
    [
        (["permit"], ["permit changed"]),
        (["state"], ["state changed"]),
        (["urgency"], ["urgency changed"]),
        (["depth_mm"], ["size changed"]),
        (["surface", "shade"], ["surface changed", "shade changed"]),
        (["bags"], []),
    ],
)
@pytest.mark.parametrize("at", [0, 1])
def test_what_one_of_the_two_does_not_have_is_not_compared_and_named(lacks, kinds, at):
    other = dict.fromkeys(("permit", "urgency", "surface", "shade"), "other") | {"state": "plated", "depth_mm": 9.0}
    sides = [run_of({}), run_of(other)]
    every = {line[0] for line in _changes(*sides)}
    assert every == {
        "permit changed", "urgency changed", "surface changed", "shade changed", "state changed", "size changed",
    }  # fmt: skip
    sides[at] = sides[at]._replace(cores=sides[at].cores.drop(columns=lacks))
    changes = compare(*sides)
    assert {line[0] for line in _changes(*sides)} == every - set(kinds)
    assert sorted(changes.not_compared) == sorted(kinds)
    assert ("bags_before" in changes.districts) == (lacks != ["bags"])


def test_a_side_that_does_not_show_which_flagged_cores_are_reinstated_is_not_compared_for_closed_cores():
    sides = [run_of(FLAG), run_of(FLAG | {"done": "2026-10-02"})]
    assert [line[0] for line in _changes(*sides)] == ["closed"]
    changes = compare(sides[0]._replace(reinstatement=None), sides[1])
    assert changes.lines.empty
    assert changes.not_compared == ["closed", "reopened"]
