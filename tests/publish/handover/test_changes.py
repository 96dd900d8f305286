"""What changed, as it is handed over: from a few changes made by hand."""

from types import SimpleNamespace

import pandas as pd
import pytest

from pipeline.contracts import HANDED_COLUMNS
from pipeline.history import compare
from pipeline.publish.handover.changes import draw_what_changed, handed_changes, rows_changed
from tests.history.sides import FLAG, run_of

_FACTS = {
    "language": "en",
    "programme": "Quay 2026",
    "since": "2026-08-31",
    "as_of": "2026-09-30",
    "changes_may_be_apart_from_the_road": False,
    "contact": None,
}


def _since(before, after, authority="Vale County"):
    sides = [run_of(*cores) for cores in (before, after)]
    runs = [SimpleNamespace(cores=side.cores.assign(road_authority=authority)) for side in sides]
    return SimpleNamespace(before=runs[0], this=runs[1], changes=compare(*sides), caveats=[])


_MOVED = _since(
    [{"core_id": "A"}, {"core_id": "B & C", "permit": "P-1 to 2026-08-01"}, {"core_id": "gone"}],
    # the register was sorted the other way round
    [
        {"core_id": "new"},
        {"core_id": "B & C", "permit": "P-1 to 2026-12-31", "state": "plated"},
        {"core_id": "A", "urgency": "hazard"} | FLAG,
    ],
)


def test_each_line_is_led_by_the_core_id_with_the_rules_by_their_names():
    table = handed_changes(_MOVED, {*HANDED_COLUMNS})
    assert list(table)[:4] == ["core_id", "change", "before", "after"]
    changes = {(one["core_id"], one["change"]): (one["before"], one["after"]) for one in table.to_dict("records")}
    assert changes == {
        ("new", "opened"): ("", "pending"),
        ("gone", "removed"): ("pending", ""),
        ("A", "newly flagged"): ("pending", "flagged: Off network"),
        ("A", "new finding"): ("", "Off network"),
        ("A", "urgency changed"): ("none", "hazard"),
        ("B & C", "state changed"): ("open", "plated"),
        ("B & C", "permit changed"): ("P-1 to 2026-08-01", "P-1 to 2026-12-31"),
    }
    assert table["road_authority"].eq("Vale County").all()
    assert table.set_index("change")["rule"].dropna().to_dict() == {"new finding": "off-network"}


@pytest.mark.parametrize(
    ("kept_back", "kinds"),
    [
        ({"state"}, {"state changed"}),
        ({"urgency"}, {"urgency changed"}),
        ({"permit_expires_on"}, {"permit changed"}),
        ({"permit_no"}, {"permit changed"}),
        ({"road_authority"}, set()),
    ],
)
def test_a_kind_of_change_that_would_show_what_is_kept_back_is_left_out(kept_back, kinds):
    every = handed_changes(_MOVED, {*HANDED_COLUMNS})
    table = handed_changes(_MOVED, {*HANDED_COLUMNS} - kept_back)
    assert set(every["change"]) - set(table["change"]) == kinds
    assert set(every) - set(table) == kept_back & {"road_authority"}


def test_closed_cores_need_the_state_or_the_date():
    since = _since([FLAG], [FLAG | {"done": "2026-09-02"}])
    for kept_back, kinds in (
        ({"state"}, ["closed"]),
        ({"reinstated_at"}, ["closed"]),
        ({"state", "reinstated_at"}, []),
    ):
        assert handed_changes(since, {*HANDED_COLUMNS} - kept_back)["change"].tolist() == kinds


def test_the_map_shows_the_changed_cores_that_are_still_there_by_their_present_rows():
    rows = rows_changed(handed_changes(_MOVED, {*HANDED_COLUMNS}))
    assert set(rows["row"]) == {1, 2, 3}
    assert "removed" not in set(rows["change"])
    assert rows_changed(None) is None
    assert handed_changes(None, set()) is None


def test_the_page_links_each_core_by_its_id_and_counts_by_kind_and_place():
    cores = pd.DataFrame({"row": [1, 2, 3], "urgency": [None, None, "hazard"]})
    page = draw_what_changed(_FACTS, handed_changes(_MOVED, {*HANDED_COLUMNS}), cores)
    assert 'href="map.html#core=B%20%26%20C"' in page
    assert 'href="map.html#core=gone"' not in page
    words = " ".join(page.split())
    assert "What changed in your streets" in words
    assert '<th scope="row"><a href="#opened">Opened</a></th><td class="n">1</td>' in words
    assert '<bdi>Vale County</bdi></th><td class="n">4</td>' in words or "Vale County" in words
    assert "some changes may come from the data" not in words
    assert "<script" not in page


def test_text_of_the_register_stays_text_and_a_page_without_changes_reports_none():
    trick = '"><script>alert(1)</script>{{ 7 * 191 }}'
    since = _since([], [{"core_id": trick, "street": trick}], authority=trick)
    cores = pd.DataFrame({"row": [1], "urgency": [None]})
    page = draw_what_changed(_FACTS, handed_changes(since, {*HANDED_COLUMNS}), cores)
    assert "<script" not in page
    assert "1337" not in page
    same = draw_what_changed(_FACTS, handed_changes(_since([{}], [{}]), {*HANDED_COLUMNS}), cores)
    assert "No changes from" in same
