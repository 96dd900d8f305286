"""Which rows of two runs are the same core."""

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st

from pipeline.contracts import plain_ids
from pipeline.history import compare
from pipeline.history.matching import match_rows
from tests.history.sides import run_of


def _changes(before, after):
    lines = compare(before, after).lines
    return [(line["change"], line["before"], line["after"]) for line in lines.to_dict("records")]


def test_case_and_spaces_do_not_make_another_id():
    assert _changes(run_of({"core_id": "hv 01"}), run_of({"core_id": "HV01"})) == []


def test_rows_with_one_id_are_told_apart_by_position():
    """Two cores numbered A at two places; their rows change order and one closes."""
    before = run_of({"lat": 44.1}, {"lat": 44.2})
    after = run_of({"lat": 44.2, "done": "2026-10-02", "status": "reinstated"}, {"lat": 44.1})
    lines = compare(before, after).lines
    assert lines[["row_before", "row_after", "change"]].to_numpy().tolist() == [[2, 1, "closed"]]


def test_of_rows_with_one_id_at_one_place_those_with_the_same_values_go_together():
    before = run_of({"depth_mm": 200.0}, {"depth_mm": 300.0})
    after = run_of({"depth_mm": 300.0}, {"depth_mm": 250.0})
    lines = compare(before, after).lines
    assert lines[["row_before", "row_after", "change"]].to_numpy().tolist() == [[1, 2, "size changed"]]


def test_what_cannot_be_matched_is_set_aside_and_counted():
    """A stands twice after: one at its place, one elsewhere. Of the rows without id one has stayed at its place."""
    lost = {"lon": np.nan, "lat": np.nan}
    before = run_of(
        {"core_id": "A"}, {"core_id": None, "lat": 44.1}, {"core_id": "  ", "lat": 44.2}, {"core_id": None} | lost
    )
    after = run_of({"core_id": "A", "lat": 44.3}, {"core_id": "A"}, {"core_id": None, "lat": 44.1})
    changes = compare(before, after)
    assert set(changes.lines["change"]) == {"not comparable"}
    assert changes.lines["row_after"].dropna().tolist() == [1]
    assert changes.lines["row_before"].dropna().tolist() == [3, 4]
    account = changes.account
    assert (account["matched"], account["added"], account["removed"]) == (2, 0, 0)
    assert (account["not_comparable_before"], account["not_comparable_after"]) == (2, 1)
    # four rows before, three after
    assert changes.stock.set_index("cores").loc["all", "not_comparable"] == 1 - 2


def test_rows_without_id_are_matched_by_position_alone():
    lost = {"core_id": None, "lon": np.nan, "lat": np.nan}
    for before, after, matched in (
        ({"core_id": None, "lat": 44.1}, {"core_id": None, "lat": 44.1}, 1),
        ({"core_id": None, "lat": 44.1}, {"core_id": None, "lat": 44.2}, 0),
        # two that are nowhere do not stand at the same place
        (lost, lost, 0),
    ):
        assert compare(run_of(before), run_of(after)).account["matched"] == matched


def test_an_id_that_the_other_run_lacks_is_added_on_each_of_its_rows():
    changes = compare(run_of({"core_id": "A"}), run_of({"core_id": "A"}, {"core_id": "B"}, {"core_id": "b"}))
    assert changes.lines["change"].tolist() == ["opened", "opened"]


def test_rows_are_matched_in_the_order_of_the_later_run():
    before = run_of({"core_id": "A"}, {"core_id": "B"}, {"core_id": "C"}).cores
    after = run_of({"core_id": "C"}, {"core_id": "A"}, {"core_id": "B"}).cores
    matched = match_rows(before, after)
    assert matched.after.tolist() == [0, 1, 2]
    assert matched.before.tolist() == [2, 0, 1]
    assert [len(rest) for rest in matched[2:]] == [0, 0, 0, 0]


def test_an_id_used_once_before_and_twice_after_is_matched_where_it_was():
    """A is at 44.1 before; after, one A is at 44.1 and another at 44.2."""
    before, after = run_of({"lat": 44.1}).cores, run_of({"lat": 44.2}, {"lat": 44.1}).cores
    matched = match_rows(before, after)
    assert (matched.before.tolist(), matched.after.tolist()) == ([0], [1])
    assert matched.aside_after.tolist() == [0]
    assert matched.added.tolist() == []


def test_three_rows_at_one_position_are_paired_in_order_and_the_rest_set_aside():
    before = run_of({"depth_mm": 100.0}, {"depth_mm": 200.0}, {"depth_mm": 300.0}).cores
    after = run_of({"depth_mm": 110.0}, {"depth_mm": 210.0}).cores
    matched = match_rows(before, after)
    assert (matched.before.tolist(), matched.after.tolist()) == ([0, 1], [0, 1])
    assert matched.aside_before.tolist() == [2]


def test_rows_of_empty_tables_match_nothing():
    none, some = run_of().cores, run_of({"core_id": "A"}, {"core_id": None}).cores
    assert all(len(rest) == 0 for rest in match_rows(none, none))
    there = match_rows(some, none)
    assert (there.removed.tolist(), there.aside_before.tolist()) == ([0], [1])
    back = match_rows(none, some)
    assert (back.added.tolist(), back.aside_after.tolist()) == ([0], [1])


_ROWS = st.lists(
    st.fixed_dictionaries(
        {
            "core_id": st.sampled_from(["A", "a ", "B", "C", None, ""]),
            "lat": st.sampled_from([44.1, 44.2, np.nan]),
            "depth_mm": st.sampled_from([200.0, 300.0]),
        }
    ),
    max_size=10,
).map(lambda rows: run_of(*rows).cores)


@settings(max_examples=25, deadline=None)
@given(_ROWS, _ROWS)
def test_swapped_tables_give_the_same_pairs_swapped(before, after):
    there, back = match_rows(before, after), match_rows(after, before)
    assert set(zip(there.before.tolist(), there.after.tolist())) == set(zip(back.after.tolist(), back.before.tolist()))
    assert there.removed.tolist() == back.added.tolist()
    assert there.aside_before.tolist() == back.aside_after.tolist()


@settings(max_examples=25, deadline=None)
@given(_ROWS, _ROWS)
def test_only_rows_with_the_same_plain_id_are_matched(before, after):
    matched = match_rows(before, after)
    was, now = (plain_ids(table["core_id"]).fillna("") for table in (before, after))
    assert was.iloc[matched.before].tolist() == now.iloc[matched.after].tolist()
