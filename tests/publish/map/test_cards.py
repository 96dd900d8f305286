"""What cards, filter and table show of the cores, packed for the page."""

import pandas as pd

from pipeline.publish.map.cards import pack_cards
from pipeline.publish.map.cores import page_order
from tests.publish.map.test_cores import _NONE, _THREE, columns_of, findings


def packed_columns(*given):
    """The integers of every column of the two texts."""
    first, later = pack_cards(*given)
    return columns_of(first) | columns_of(later)


def test_findings_are_sorted_by_core_the_worst_first_and_ties_in_order():
    order, _ = page_order(_THREE)
    wrong = findings(
        (3, "a", "note", "1"),
        (1, "b", "check", "2"),
        (3, "c", "fail", "3"),
        (3, "d", "note", "4"),
        (1, "e", "check", "5"),
    )
    packed = packed_columns(_THREE, wrong, order)
    # row 1 is first in the page, row 3 second; texts are coded as they first appear in that order
    assert packed["finding_core"].tolist() == [0, 0, 1, 1, 1]
    assert packed["finding_severity"].tolist() == [0, 0, 1, 2, 2]
    assert packed["finding_message"].tolist() == [0, 1, 2, 3, 4]


def test_a_column_that_is_withheld_is_not_in_the_page():
    order, _ = page_order(_THREE)
    bare = packed_columns(_THREE, _NONE, order)
    fuller = packed_columns(_THREE.assign(surface="asphalt", opened_on="2026-10-01"), _NONE, order)
    assert set(fuller) - set(bare) == {"segment", "surface", "opened_on"}


def test_changes_and_works_are_listed_by_core_each_once():
    order, _ = page_order(_THREE)
    rows = order + 1
    changes = pd.DataFrame({"row": [rows[1], rows[0], rows[1], rows[1], 99], "change": ["b", "a", "a", "b", "a"]})
    works = pd.DataFrame({"row": [rows[2]], "works_id": ["W1"]})
    packed = packed_columns(_THREE, _NONE, order, changes, works)
    # row 99 is not in the page
    assert packed["change_core"].tolist() == [0, 1, 1]
    assert packed["change"].tolist() == [0, 0, 1]
    assert packed["works_id_core"].tolist() == [2]


def test_the_first_text_holds_what_the_first_screen_is_counted_from_and_the_second_the_rest():
    order, _ = page_order(_THREE)
    dated = _THREE.assign(opened_on="2026-10-01", reinstated_at="2026-10-09", road_authority="Town")
    first, later = (set(columns_of(text)) for text in pack_cards(dated, _NONE, order))
    finding = {"finding_core", "finding_severity", "finding_rule"}
    # without states the dates tell which of the flagged cores are reinstated
    assert first == {"segment", "road_authority", "reinstated_at", *finding}
    assert later == {"core_id", "core_id number", "core_id width", "row", "opened_on", "finding_message"}
    first, later = (set(columns_of(text)) for text in pack_cards(dated.assign(state="open"), _NONE, order))
    assert first == {"segment", "road_authority", "state", *finding}
    assert "reinstated_at" in later
