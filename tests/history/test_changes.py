"""Two runs compared: every row of each has one outcome, every kind of change is told, and what else may explain it."""

import copy

import numpy as np
import pandas as pd
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from pipeline.history import KINDS, Side, caveats, compare, trend
from pipeline.history.matching import match_rows, plain_ids

_CORE = {
    "core_id": "A", "diameter_mm": 450.0, "depth_mm": 200.0, "status": "pending", "findings": "", "segment_id": "S1",
    "street": "Mill Street", "surface": "asphalt", "district": "Old Market", "shade": "dark", "bags": 0.75,
    "lon": -82.19, "lat": 44.80, "done": None, "fails": "",
}  # fmt: skip
_TEXTS = ("core_id", "status", "findings", "segment_id", "street", "surface", "district", "shade", "done", "fails")


def _side(*cores):
    """A run of the cores given, each a core like _CORE but for what is said; ``fails`` are the slugs that flag it."""
    kinds = {name: "str" if name in _TEXTS else "float64" for name in _CORE}
    table = pd.DataFrame([_CORE | core for core in cores], columns=list(_CORE)).astype(kinds)
    table.insert(0, "row", np.arange(1, len(table) + 1))
    found = [
        {"row": str(row), "rule": slug, "severity": "fail" if slug in fails.split(";") else "check"}
        for row, slugs, fails in zip(table["row"], table["findings"], table["fails"])
        for slug in slugs.split(";")
        if slug
    ]
    findings = pd.DataFrame(found, columns=["row", "rule", "severity"], dtype="str")
    return Side(table.drop(columns=["done", "fails"]), findings, table["done"])


def _told(before, after):
    lines = compare(before, after).lines
    return [(one["change"], one["before"], one["after"]) for one in lines.to_dict("records")]


def test_the_same_run_twice_has_no_change():
    side = _side({"core_id": "A"}, {"core_id": "B", "lon": np.nan, "lat": np.nan, "depth_mm": np.nan, "street": None})
    changes = compare(side, side)
    assert changes.lines.empty
    assert changes.account == {
        "rows_before": 2, "rows_after": 2, "matched": 2, "new": 0, "vanished": 0, "not_comparable_before": 0,
        "not_comparable_after": 0,
    }  # fmt: skip
    assert changes.kinds["change"].tolist() == list(KINDS)
    assert not changes.kinds["cores"].any()
    assert compare(_side(), _side()).lines.empty


FLAG = {"status": "flagged", "findings": "off-network", "fails": "off-network"}


@pytest.mark.parametrize(
    ("before", "after", "told"),
    [
        ({}, {"status": "reinstated", "done": "2026-10-02"}, [("closed", "open", "reinstated")]),
        ({"status": "reinstated", "done": "2026-09-02"}, {}, [("reopened", "reinstated", "open")]),
        ({}, FLAG, [("newly flagged", "pending", "flagged: off-network"), ("rule found", "", "off-network")]),
        (FLAG, {}, [("cleared", "flagged: off-network", "pending"), ("rule gone", "off-network", "")]),
        # told with the rules that flag it, not with every rule
        (
            {"findings": "road-uncertain"},
            FLAG | {"findings": "off-network;road-uncertain"},
            [("newly flagged", "pending", "flagged: off-network"), ("rule found", "", "off-network")],
        ),
        # a rule that only says "check" flags nothing
        ({}, {"findings": "road-uncertain"}, [("rule found", "", "road-uncertain")]),
        (
            {"findings": "a-rule;b-rule"},
            {"findings": "b-rule;c-rule;d-rule"},
            [("rule found", "", "c-rule"), ("rule found", "", "d-rule"), ("rule gone", "a-rule", "")],
        ),
        ({}, {"segment_id": "S2"}, [("segment changed", "S1", "S2")]),
        ({}, {"segment_id": None}, [("segment changed", "S1", "")]),
        ({}, {"street": "Oat Street"}, [("street changed", "Mill Street", "Oat Street")]),
        ({}, {"surface": "concrete"}, [("surface changed", "asphalt", "concrete")]),
        ({}, {"district": "Mill Bank"}, [("district changed", "Old Market", "Mill Bank")]),
        ({"shade": None}, {}, [("shade changed", "", "dark")]),
        ({}, {"diameter_mm": 600.0}, [("size changed", "450 mm by 200 mm", "600 mm by 200 mm")]),
        ({"depth_mm": np.nan}, {}, [("size changed", "450 mm by not known", "450 mm by 200 mm")]),
        ({"lon": np.nan, "lat": np.nan}, {}, [("position found", "", "-82.19, 44.8")]),
        ({}, {"lon": np.nan, "lat": np.nan}, [("position lost", "-82.19, 44.8", "")]),
    ],
)
def test_each_kind_of_change_is_told(before, after, told):
    assert _told(_side(before), _side(after)) == told


def test_a_new_id_has_opened_and_one_that_is_gone_has_vanished():
    before = _side({"core_id": "A"}, {"core_id": "B", "district": "Mill Bank", "street": None})
    after = _side({"core_id": "A"}, {"core_id": "C"}, {"core_id": "D"} | FLAG)
    lines = compare(before, after).lines
    assert lines.astype(object).where(lines.notna(), None).to_numpy().tolist() == [
        [None, 2, "C", "opened", "", "pending", "Old Market", "Mill Street"],
        [None, 3, "D", "opened", "", "flagged: off-network", "Old Market", "Mill Street"],
        [2, None, "B", "vanished", "pending", "", "Mill Bank", None],
    ]


def test_a_core_has_moved_if_it_is_more_than_a_metre_away():
    # a degree of latitude at 44.8 degrees north is 111,130 m long (111,132.95 - 559.85 cos 2p + 1.18 cos 4p)
    degree_m = 111_130
    before = _side({"core_id": "A"}, {"core_id": "B"})
    after = _side(
        {"core_id": "A", "lat": 44.80 + 0.98 / degree_m},
        {"core_id": "B", "lat": 44.80 + 25.04 / degree_m},
    )
    assert [(line[0], line[2][-14:]) for line in _told(before, after)] == [("moved", " (25.0 m away)")]
    assert compare(before, after).lines["core_id"].tolist() == ["B"]


def test_a_flagged_core_closes_when_the_register_says_so():
    assert [line[0] for line in _told(_side(FLAG), _side(FLAG | {"done": "2026-10-02"}))] == ["closed"]
    # a word that says nothing is no date
    assert _told(_side(FLAG), _side(FLAG | {"done": "n/a"})) == []


def test_case_and_spaces_do_not_make_another_id():
    assert plain_ids(pd.Series([" hv 01", "HV01\t", "Straße", None, "  "], dtype="str")).tolist() == [
        "hv01", "hv01", "strasse", np.nan, np.nan,
    ]  # fmt: skip
    assert _told(_side({"core_id": "hv 01"}), _side({"core_id": "HV01"})) == []


def test_rows_with_one_id_are_told_apart_by_their_place():
    """Two cores numbered A at two places; their rows change order and one closes."""
    before = _side({"lat": 44.1}, {"lat": 44.2})
    after = _side({"lat": 44.2, "done": "2026-10-02", "status": "reinstated"}, {"lat": 44.1})
    lines = compare(before, after).lines
    assert lines[["row_before", "row_after", "change"]].to_numpy().tolist() == [[2, 1, "closed"]]


def test_of_rows_with_one_id_at_one_place_those_that_say_the_same_go_together():
    before = _side({"depth_mm": 200.0}, {"depth_mm": 300.0})
    after = _side({"depth_mm": 300.0}, {"depth_mm": 250.0})
    lines = compare(before, after).lines
    assert lines[["row_before", "row_after", "change"]].to_numpy().tolist() == [[1, 2, "size changed"]]


def test_what_cannot_be_told_is_set_aside_and_counted():
    """A stands twice after: one at its place, one elsewhere. Of the rows without id one has stayed at its place."""
    lost = {"lon": np.nan, "lat": np.nan}
    before = _side(
        {"core_id": "A"}, {"core_id": None, "lat": 44.1}, {"core_id": "  ", "lat": 44.2}, {"core_id": None} | lost
    )
    after = _side({"core_id": "A", "lat": 44.3}, {"core_id": "A"}, {"core_id": None, "lat": 44.1})
    changes = compare(before, after)
    assert set(changes.lines["change"]) == {"not comparable"}
    assert changes.lines["row_after"].dropna().tolist() == [1]
    assert changes.lines["row_before"].dropna().tolist() == [3, 4]
    account = changes.account
    assert (account["matched"], account["new"], account["vanished"]) == (2, 0, 0)
    assert (account["not_comparable_before"], account["not_comparable_after"]) == (2, 1)
    # four rows before, three after
    assert changes.stock.set_index("cores").loc["rows", "not_comparable"] == 1 - 2


def test_rows_without_id_are_matched_by_their_place_alone():
    lost = {"core_id": None, "lon": np.nan, "lat": np.nan}
    for before, after, matched in (
        ({"core_id": None, "lat": 44.1}, {"core_id": None, "lat": 44.1}, 1),
        ({"core_id": None, "lat": 44.1}, {"core_id": None, "lat": 44.2}, 0),
        # two that are nowhere do not stand at the same place
        (lost, lost, 0),
    ):
        assert compare(_side(before), _side(after)).account["matched"] == matched


def test_an_id_that_the_other_run_lacks_is_new_on_each_of_its_rows():
    changes = compare(_side({"core_id": "A"}), _side({"core_id": "A"}, {"core_id": "B"}, {"core_id": "b"}))
    assert changes.lines["change"].tolist() == ["opened", "opened"]


def test_counts_by_kind_and_district_count_a_core_once_and_bags_are_of_open_cores():
    before = _side({"core_id": "A", "bags": 0.5}, {"core_id": "B", "bags": 0.25}, {"core_id": "C", "district": None})
    after = _side(
        {"core_id": "A", "bags": 0.5, "status": "reinstated", "done": "2026-10-01", "findings": "a-rule;b-rule"},
        {"core_id": "B", "bags": 0.25},
        {"core_id": "C", "district": "Mill Bank"},
    )
    changes = compare(before, after)
    counts = changes.kinds.set_index("change")["cores"]
    assert counts[counts.gt(0)].to_dict() == {"closed": 1, "rule found": 1, "district changed": 1}
    assert changes.rules.to_numpy().tolist() == [["a-rule", 1, 0], ["b-rule", 1, 0]]
    table = changes.districts.set_index("district")
    assert table.loc["Old Market", ["closed", "rule found", "district changed"]].tolist() == [1, 1, 0]
    assert table.loc["Mill Bank", "district changed"] == 1
    # open before: 0.5 + 0.25 in Old Market and 0.75 in none; after: 0.25 there and 0.75 in Mill Bank
    bags = table[["bags_before", "bags_after", "bags_difference"]]
    assert bags.loc["Old Market"].tolist() == [0.75, 0.25, -0.5]
    assert bags.loc["Mill Bank"].tolist() == [0, 0.75, 0.75]
    assert bags.loc["(no district)"].tolist() == [0.75, 0, -0.75]


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
    return _side(*rows)


_SIDES = st.lists(_CELLS, max_size=12).map(_drawn)


@settings(max_examples=15, deadline=None)
@given(_SIDES, _SIDES)
def test_every_row_has_exactly_one_outcome_and_the_stock_adds_up(before, after):
    matched = match_rows(before.cores, after.cores)
    for table, outcomes in (
        (before, (matched.before, matched.vanished, matched.aside_before)),
        (after, (matched.after, matched.new, matched.aside_after)),
    ):
        assert sorted(np.concatenate(outcomes).tolist()) == list(range(len(table.cores)))
    changes = compare(before, after)
    account = changes.account
    assert account["matched"] + account["vanished"] + account["not_comparable_before"] == account["rows_before"]
    assert account["matched"] + account["new"] + account["not_comparable_after"] == account["rows_after"]
    for one in changes.stock.to_dict("records"):
        flow = one["before"] + one["new"] + one["became"] - one["ended"] - one["vanished"] + one["not_comparable"]
        assert flow == one["after"], one
    counts = changes.kinds.set_index("change")["cores"]
    stock = changes.stock.set_index("cores")
    assert counts[["newly flagged", "cleared"]].tolist() == stock.loc["flagged", ["became", "ended"]].tolist()
    assert counts[["reopened", "closed"]].tolist() == stock.loc["open", ["became", "ended"]].tolist()
    kinds = [kind for kind in KINDS if kind in changes.districts]
    assert changes.districts[kinds].sum().tolist() == counts[kinds].tolist()


_MIRROR = {
    "opened": "vanished", "closed": "reopened", "newly flagged": "cleared", "rule found": "rule gone",
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
    told = {(one["row_before"], one["row_after"], one["change"]) for one in there.to_dict("records")}
    mirrored = {
        (one["row_after"], one["row_before"], mirror.get(one["change"], one["change"]))
        for one in back.to_dict("records")
    }
    assert told == mirrored


RECORD = {
    "programme": "Town",
    "as_of": "2026-09-30",
    "crs": "EPSG:32617",
    "inputs": [{"section": "cores", "sha256": "c1"}, {"section": "roads", "sha256": "r1"}],
    "settings": {
        "programme": {"name": "Town", "as_of": "2026-09-30"},
        "cores": {"path": "september.csv", "diameter_is": "hole"},
        "matching": {"max_distance": 15.0},
    },
    "catalogue_overridden": {},
    "rules": [
        {"rule": "open-too-long", "severity": "fail", "limits": "limit 30 day", "assessed": 400, "not_assessed": 0},
        {"rule": "shade-wrong", "severity": "check", "limits": "", "assessed": 0, "not_assessed": 400},
    ],
    "versions": {"kerfbook": "0.1.0", "python": "3.11.7"},
}


def _later(**changed):
    later = copy.deepcopy(RECORD) | {"as_of": "2026-10-31"}
    later["settings"]["programme"]["as_of"] = "2026-10-31"
    later["settings"]["cores"]["path"] = "october.csv"
    later["inputs"][0]["sha256"] = "c2"
    return later | changed


def test_runs_that_differ_in_day_and_register_alone_raise_no_doubt():
    assert caveats(RECORD, _later()) == []
    # another patch of Python changes no result
    assert caveats(RECORD, _later(versions={"kerfbook": "0.1.0", "python": "3.12.1"})) == []


@pytest.mark.parametrize(
    ("changed", "words"),
    [
        ({"programme": "Port"}, "The runs are of two programmes, 'Town' and 'Port'"),
        ({"as_of": "2026-09-30"}, "Both runs speak for 2026-09-30"),
        ({"versions": {"kerfbook": "0.2.0"}}, "made by Kerfbook 0.1.0 and 0.2.0"),
        ({"crs": "EPSG:32618"}, "measured in EPSG:32617 and in EPSG:32618"),
        ({"catalogue_overridden": {"rules.open-too-long.limit": "20 day"}}, "rules.open-too-long.limit was not set, is 20 day"),
        ({"inputs": [{"section": "cores", "sha256": "c2"}, {"section": "roads", "sha256": "r2"}]}, "read for: roads."),
        ({"inputs": RECORD["inputs"]}, "the very same register"),
        ({"rules": RECORD["rules"][:1]}, "Rules of the earlier run alone: shade-wrong."),
        ({"rules": [*RECORD["rules"], {"rule": "new-rule"}]}, "Rules of the later run alone: new-rule."),
        ({"rules": [RECORD["rules"][0] | {"limits": "limit 20 day"}, RECORD["rules"][1]]}, "open-too-long (was limit 30 day, is limit 20 day)"),
        ({"rules": [RECORD["rules"][0] | {"severity": "check"}, RECORD["rules"][1]]}, "open-too-long (was fail, is check)"),
        ({"rules": [RECORD["rules"][0], RECORD["rules"][1] | {"assessed": 7}]}, "for no core in the earlier run, for want of inputs: shade-wrong."),
        ({"rules": [RECORD["rules"][0] | {"assessed": 0, "not_assessed": 400}, RECORD["rules"][1]]}, "for no core in the later run, for want of inputs: open-too-long."),
    ],
)  # fmt: skip
def test_each_difference_that_changes_results_is_said(changed, words):
    said = caveats(RECORD, _later(**changed))
    assert len(said) == 1
    assert words in said[0]


def test_a_rule_that_now_speaks_of_no_core_wants_no_inputs():
    rules = [RECORD["rules"][0] | {"assessed": 0, "not_assessed": 0}, RECORD["rules"][1]]
    assert caveats(RECORD, _later(rules=rules)) == []


def test_a_setting_that_differs_is_named_with_both_values():
    later = _later()
    later["settings"]["matching"]["max_distance"] = 12.0
    assert "matching.max_distance was 15.0, is 12.0" in caveats(RECORD, later)[0]
    later["settings"]["matching"] = {f"key_{place}": "x" * 200 for place in range(40)}
    (said,) = caveats(RECORD, later)
    assert "and 33 more" in said
    assert len(said) < 1200


def test_a_record_that_lacks_its_parts_is_compared_as_far_as_it_goes():
    assert caveats({"programme": "Town", "as_of": "2026-01-01"}, _later())
    assert caveats(RECORD, {"rules": ["odd"], "inputs": [3], "settings": 4, "versions": []})


def test_flagged_by_a_changed_rule_alone_is_said():
    before = _side({"core_id": "A"}, {"core_id": "B"}, {"core_id": "C"})
    long = {"status": "flagged", "findings": "open-too-long", "fails": "open-too-long"}
    both = {"status": "flagged", "findings": "off-network;open-too-long", "fails": "off-network;open-too-long"}
    after = _side({"core_id": "A"} | long, {"core_id": "B"} | both, {"core_id": "C"} | FLAG)
    later = _later(rules=[RECORD["rules"][0] | {"limits": "limit 20 day"}, RECORD["rules"][1]])
    said = caveats(RECORD, later, compare(before, after))
    assert said[-1].startswith("1 of the 3 newly flagged cores are flagged only by rules that differ")
    assert len(caveats(RECORD, _later(), compare(before, after))) == 0


def test_two_registers_without_a_common_id_are_called_so():
    changes = compare(_side({"core_id": "A"}), _side({"core_id": "X"}))
    assert "No core of one run was found in the other" in caveats(RECORD, _later(), changes)[-1]


def test_a_trend_has_a_row_a_run_in_order_of_their_days():
    counts = {"rows_read": 9, "flagged": 2, "pending": 3, "reinstated": 4, "unplaced": 1}
    by_severity = {"fail": 2, "check": 5, "note": 0}
    old = {"as_of": "2026-08-31", "account": counts, "findings_by_severity": by_severity}
    new = old | {"as_of": "2026-09-30", "orders": {"bags_needed": 12.5}}
    assert trend([new, old]).fillna(-1).to_numpy().tolist() == [
        ["2026-08-31", 9, 2, 3, 4, 1, 2, 5, 0, -1],
        ["2026-09-30", 9, 2, 3, 4, 1, 2, 5, 0, 12.5],
    ]
    assert trend([]).empty
