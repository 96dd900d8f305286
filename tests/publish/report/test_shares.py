"""Rows of shares: the numbers, the bar, the note."""

import re

import pandas as pd
import pytest

from pipeline.publish.report.shares import groups_of, interval, share_rows
from pipeline.publish.words import words_of
from tests.publish.report.pages import text_of

_WORDS = words_of("en")


def _group(cores=40, found=10, low=0.127, high=0.412, differs=""):
    return {"cores": cores, "with_findings": found, "rate": found / cores, "low": low, "high": high, "differs": differs}


def test_a_row_has_its_numbers_as_people_write_them():
    """10 of 40 are 25 %; the exact 95 % interval of 10 in 40 is 12.7 to 41.2 % (Clopper and Pearson's table)."""
    shown = share_rows(pd.DataFrame([_group()]), ["A"], _WORDS)
    (row,) = shown["rows"]
    assert [row[key] for key in ("name", "cores", "found", "share", "note")] == ["A", "40", "10", "25.0%", ""]
    assert text_of(row["interval"]) == "12.7% – 41.2%"
    # the scale ends at the next tenth above the highest interval
    assert shown["most"] == "50%"


@pytest.mark.parametrize(
    ("differs", "note", "is_filled"),
    [("more", "Higher than elsewhere", True), ("less", "Lower than elsewhere", True), ("", "", False)],
)
def test_a_group_that_differs_has_a_note_and_a_filled_dot(differs, note, is_filled):
    (row,) = share_rows(pd.DataFrame([_group(differs=differs)]), ["A"], _WORDS)["rows"]
    assert row["note"] == note
    assert bool(re.search(r'r="4.5" fill="(#\w+)" stroke="\1"', row["bar"])) == is_filled


def test_a_group_too_small_to_tell_has_no_bar_and_does_not_stretch_the_scale():
    small = _group(cores=2, found=2, low=0.158, high=1.0, differs="too few")
    shown = share_rows(pd.DataFrame([_group(), small]), ["A", "B"], _WORDS)
    assert shown["most"] == "50%"
    assert (shown["rows"][1]["bar"], shown["rows"][1]["note"]) == ("", "Too few to tell")


def test_a_table_of_small_groups_alone_has_the_whole_scale():
    small = _group(cores=2, found=2, low=0.158, high=1.0, differs="too few")
    assert share_rows(pd.DataFrame([small]), ["B"], _WORDS)["most"] == "100%"


@pytest.mark.parametrize(("high", "most"), [(0.02, "10%"), (0.1, "10%"), (0.95, "100%"), (1.0, "100%")])
def test_the_scale_ends_between_a_tenth_and_all(high, most):
    assert share_rows(pd.DataFrame([_group(low=0.0, high=high)]), ["A"], _WORDS)["most"] == most


def test_an_interval_is_written_as_the_language_writes_shares():
    german = words_of("de", {"locale": "de", "format.range": "{low} bis {high}"})
    assert re.sub(r"\s", " ", interval(0.0, 0.125, german)) == "0,0 % bis 12,5 %"


def test_groups_are_those_of_one_grouping_and_measure(demo):
    crews = groups_of(demo, "crew", "workmanship")
    assert set(crews["by"]) == {"crew"}
    assert set(crews["measure"]) == {"workmanship"}
    assert crews["cores"].sum() == demo.counted_cores.loc[demo.counted_cores["reinstated_at"].notna(), "crew"].count()
    assert groups_of(demo, "no such grouping").empty
