"""The flagged cores as plain HTML, for a browser that runs no script."""

import datetime as dt
import re

import pandas as pd
import pytest

from pipeline.publish.map import plain_list
from pipeline.publish.map.plain_list import draw_plain_list
from pipeline.publish.words import words_of

_DAY = dt.date(2026, 11, 25)
_CORES = pd.DataFrame(
    {
        "row": [3, 1, 2],
        "core_id": ["C-3", "C-1", "C-2"],
        "street": ["Dory Lane", None, "Capstan Street"],
        "district": ["Saltmarsh", "Old Harbour", None],
        "status": ["flagged", "flagged", "pending"],
    }
)
_FINDINGS = pd.DataFrame(
    [
        (1, "fail", "No coordinates."),
        (1, "note", "A remark."),
        (3, "fail", "Open for 40 days."),
        (3, "fail", "Permit expired."),
        (2, "check", "Look."),
    ],
    columns=["row", "severity", "message"],
)


def drawn(cores=_CORES, findings=_FINDINGS):
    return draw_plain_list("Harbour Vale water", cores, findings, _DAY, words_of("en"))


def rows(html):
    """The cells of each row of the body, as text."""
    body = html.partition("<tbody>")[2]
    return [
        [re.sub("<[^>]+>", "", cell) for cell in re.findall(r"<t[hd][^>]*>(.*?)</t[hd]>", row)]
        for row in re.findall(r"<tr>(.*?)</tr>", body)
    ]


def test_flagged_cores_alone_are_listed_and_without_an_urgency_in_the_order_of_the_register():
    assert rows(drawn()) == [
        ["C-1", "–", "Old Harbour", "No coordinates."],
        ["C-3", "Dory Lane", "Saltmarsh", "Open for 40 days. Permit expired."],
    ]


def test_the_most_urgent_cores_come_first_in_a_group_of_their_own_with_their_state():
    cores = _CORES.assign(urgency=["hazard", "record", "overdue"], state=["plated", "back", "open"])
    found = rows(drawn(cores))
    assert found == [
        ["Hazard: 1 core"],
        ["C-3", "Plated", "Dory Lane", "Saltmarsh", "Open for 40 days. Permit expired."],
        ["Record: 1 core"],
        ["C-1", "Reinstated", "–", "Old Harbour", "No coordinates."],
    ]


def test_a_hazard_that_is_only_to_be_checked_is_listed_with_what_to_do():
    cores = _CORES.assign(urgency=["record", None, "hazard"])
    found = rows(drawn(cores, _FINDINGS.assign(urgency=["record", None, "record", "record", "hazard"])))
    assert found[:2] == [["Hazard: 1 core"], ["C-2", "Capstan Street", "–", "Look."]]
    assert [row[0] for row in found[2:]] == ["Record: 1 core", "C-3", "No urgency given: 1 core", "C-1"]


def test_a_state_and_an_urgency_that_are_no_words_of_ours_are_shown_as_they_are():
    found = rows(drawn(_CORES.assign(urgency=[None, "hazard", None], state="<b>sunk</b>")))
    assert [row[0] for row in found] == ["Hazard: 1 core", "C-1", "No urgency given: 1 core", "C-3"]
    assert found[1][1] == "&lt;b&gt;sunk&lt;/b&gt;"


def test_failures_of_a_core_are_in_the_order_of_their_urgency_and_accepted_ones_say_until_when():
    findings = _FINDINGS.assign(
        urgency=["record", None, "hazard", "overdue", "record"],
        decision=[None, None, "accept", None, None],
        decision_standing=[None, None, "holds", None, None],
        decided_until=[None, None, "2026-12-31", None, None],
    )
    assert rows(drawn(findings=findings))[1][3] == "Permit expired. Open for 40 days. [accepted until 31 Dec 2026]"


def test_the_counts_are_of_all_cores_with_the_date_in_words():
    assert "As of 25 Nov 2026: 2 flagged, 1 pending, 0 reinstated; 3 cores in all." in drawn()


def test_the_caption_counts_the_flagged_cores():
    assert "All 2 cores that are flagged or a hazard, the most urgent first." in drawn()
    assert "1 core that is flagged or a hazard. The tables" in drawn(_CORES.iloc[1:])


def test_a_long_list_is_cut_and_its_caption_gives_both_counts(monkeypatch):
    monkeypatch.setattr(plain_list, "_MOST_ROWS", 1)
    assert "The first 1 of 2 cores that are flagged or a hazard" in drawn()
    assert [row[0] for row in rows(drawn())] == ["C-1"]


def test_no_more_than_five_failures_of_a_core_are_listed():
    many = pd.DataFrame({"row": 1, "severity": "fail", "message": [f"Failure {n}." for n in range(1, 8)]})
    assert rows(drawn(findings=many))[0][3] == "Failure 1. Failure 2. Failure 3. Failure 4. Failure 5."


def test_without_a_flagged_core_there_is_no_table():
    text = drawn(_CORES.assign(status="pending"))
    assert "No core is flagged, and none is a hazard." in text
    assert "<table" not in text


@pytest.mark.parametrize("column", ["core_id", "street", "district"])
def test_text_of_a_register_is_escaped_and_kept_apart_in_direction(column):
    text = drawn(_CORES.assign(**{column: "<b>&\u202e"}))
    assert "<bdi>&lt;b&gt;&amp;&lt;U+202E&gt;</bdi>" in text
    assert "<b>" not in text


def test_the_title_and_the_findings_are_escaped_too():
    text = draw_plain_list("<i>", _CORES, _FINDINGS.assign(message="<u>"), _DAY, words_of("en"))
    assert "<h1><bdi>&lt;i&gt;</bdi></h1>" in text
    assert "<u>" not in text


def test_a_letter_that_cannot_be_written_does_not_stop_the_page():
    half_a_letter = pd.Series(["\ud800 Street"] * 3, dtype="object")
    assert "<bdi>&lt;U+D800&gt; Street</bdi>" in drawn(_CORES.assign(street=half_a_letter))
