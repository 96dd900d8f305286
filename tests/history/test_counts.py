"""Changes added up."""

import numpy as np
import pytest

from pipeline.history import compare
from tests.history.sides import FLAG, run_of


def test_counts_by_kind_and_district_count_a_core_once_and_bags_are_of_open_cores():
    before = run_of({"core_id": "A", "bags": 0.5}, {"core_id": "B", "bags": 0.25}, {"core_id": "C", "district": None})
    after = run_of(
        {"core_id": "A", "bags": 0.5, "status": "reinstated", "done": "2026-10-01", "findings": "a-rule;b-rule"},
        {"core_id": "B", "bags": 0.25},
        {"core_id": "C", "district": "Mill Bank"},
    )
    changes = compare(before, after)
    counts = changes.kinds.set_index("change")["cores"]
    assert counts[counts.gt(0)].to_dict() == {"closed": 1, "new finding": 1, "district changed": 1}
    assert changes.rules.to_numpy().tolist() == [["a-rule", 1, 0], ["b-rule", 1, 0]]
    table = changes.districts.set_index("district")
    assert table.loc["Old Market", ["closed", "new finding", "district changed"]].tolist() == [1, 1, 0]
    assert table.loc["Mill Bank", "district changed"] == 1
    # open before: 0.5 + 0.25 in Old Market and 0.75 in none; after: 0.25 there and 0.75 in Mill Bank
    bags = table[["bags_before", "bags_after", "bags_difference"]]
    assert bags.loc["Old Market"].tolist() == [0.75, 0.25, -0.5]
    assert bags.loc["Mill Bank"].tolist() == [0, 0.75, 0.75]
    assert bags.loc["(no district)"].tolist() == [0.75, 0, -0.75]


def _row(changes, name):
    return changes.stock.set_index("cores").loc[name].to_dict()


def test_the_stock_of_flagged_cores_is_worked_out_by_hand():
    """Two flagged before: one cleared, one removed. After: one newly flagged, one added flagged."""
    before = run_of({"core_id": "A"} | FLAG, {"core_id": "B"} | FLAG, {"core_id": "C"})
    after = run_of({"core_id": "A"}, {"core_id": "C"} | FLAG, {"core_id": "D"} | FLAG)
    flagged = {"before": 2, "added": 1, "newly": 1, "no_longer": 1, "removed": 1, "not_comparable": 0, "after": 2}
    assert _row(compare(before, after), "flagged") == flagged


def test_the_stock_of_open_cores_counts_closed_and_reopened_ones():
    done = {"status": "reinstated", "done": "2026-10-01"}
    before = run_of({"core_id": "A"}, {"core_id": "B"} | done, {"core_id": "C"})
    after = run_of({"core_id": "A"} | done, {"core_id": "B"}, {"core_id": "C"}, {"core_id": "D"} | done)
    open_cores = {"before": 2, "added": 0, "newly": 1, "no_longer": 1, "removed": 0, "not_comparable": 0, "after": 2}
    assert _row(compare(before, after), "open") == open_cores


def test_rows_that_cannot_be_compared_are_counted_after_less_before():
    before = run_of({"core_id": None, "lat": 44.1}, {"core_id": None, "lat": 44.2})
    after = run_of({"core_id": None, "lat": 44.3})
    assert _row(compare(before, after), "all")["not_comparable"] == 1 - 2


def test_a_rule_is_counted_once_for_each_core_that_gains_or_loses_its_finding():
    before = run_of({"core_id": "A", "findings": "x"}, {"core_id": "B", "findings": "x"}, {"core_id": "C"})
    after = run_of({"core_id": "A"}, {"core_id": "B", "findings": "x"}, {"core_id": "C", "findings": "x;y"})
    rules = compare(before, after).rules
    assert rules.to_dict("records") == [{"rule": "x", "found": 1, "gone": 1}, {"rule": "y", "found": 1, "gone": 0}]


def test_rules_of_added_and_removed_cores_are_not_counted():
    rules = compare(run_of({"core_id": "A", "findings": "x"}), run_of({"core_id": "B", "findings": "y"})).rules
    assert rules.empty
    assert rules.columns.tolist() == ["rule", "found", "gone"]


def test_a_removed_core_counts_in_its_earlier_district():
    before = run_of({"core_id": "A", "district": "Mill Bank"}, {"core_id": "B"})
    districts = compare(before, run_of({"core_id": "B"})).districts.set_index("district")
    assert districts["removed"].to_dict() == {"Mill Bank": 1, "Old Market": 0}


def test_a_core_without_a_need_adds_no_bags():
    run = run_of({"core_id": "A", "bags": np.nan}, {"core_id": "B", "bags": 0.5})
    row = compare(run, run).districts.iloc[0]
    assert row[["bags_before", "bags_after", "bags_difference"]].tolist() == [0.5, 0.5, 0]


def test_bags_are_rounded_to_a_millionth_so_that_a_sum_shows_no_rounding_error():
    before = run_of(*({"core_id": str(core), "bags": 0.1} for core in range(3)))
    after = run_of(*({"core_id": str(core), "bags": 0.2} for core in range(3)))
    row = compare(before, after).districts.iloc[0]
    assert (row["bags_before"], row["bags_after"], row["bags_difference"]) == (0.3, 0.6, 0.3)


@pytest.mark.parametrize("district", [None, "Old Market"])
def test_cores_without_a_district_have_a_row_of_their_own(district):
    run = run_of({"district": district})
    assert compare(run, run).districts["district"].tolist() == [district or "(no district)"]
