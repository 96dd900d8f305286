"""The page that explains a pack: its files, its columns, what is kept back, and how to check it."""

import dataclasses
import html
import json
import re

import pandas as pd
import pytest

from pipeline.contracts import HANDED_COLUMNS, PUBLISHED
from pipeline.publish.handover.how_to_read import _described, draw_how_to_read
from pipeline.publish.words import words_of
from tests.publish.handover.test_archive import FILES


@pytest.fixture(scope="module")
def page(run_folder):
    return (run_folder / "handover" / "how-to-read.html").read_text("utf-8")


def _cells(page):
    """The cells of each row of the table of columns, by column."""
    table = page.split('id="columns"')[-1]
    rows = re.findall(r"<tr><th scope=\"row\"(?: class=\"file\")?>(.*?)</th>(.*?)</tr>", table, re.DOTALL)
    text = {re.sub("<.*?>", "", name): re.findall("<td>(.*?)</td>", cells) for name, cells in rows}
    return {name: [re.sub("<.*?>", "", cell) for cell in cells] for name, cells in text.items()}


def test_every_file_is_explained(page):
    for name in FILES - {"how-to-read.html"}:
        assert f"<code>{name}</code>" in page


def test_every_column_has_its_label_with_its_unit_and_its_meaning(page, run_folder):
    cells = _cells(page)
    assert list(cells) == json.loads((run_folder / "handover" / "handover.json").read_text())["columns"]
    assert cells["diameter_mm"] == ["Diameter (mm)", PUBLISHED["diameter_mm"].meaning]
    assert cells["permit_no"] == ["Permit number", "number of the permit to open the road"]
    assert all(meaning for *_, meaning in cells.values())
    assert set(cells) - {"row"} <= set(HANDED_COLUMNS)


def test_the_counts_and_what_is_kept_back_are_stated(page):
    assert "7 cores:" in page
    assert "Each core has exactly one status." in page
    assert "2 cores have no usable position" in page
    assert "<code>value-unreadable</code>" in page
    assert "sha256sum -c SHA256SUMS" in page


def _drawn(findings=None, **identity):
    given = {
        "programme": "<b>Vale</b>", "as_of": "2026-09-30", "run": "0" * 64, "crs": "EPSG:1", "cores": 1, "flagged": 0,
        "pending": 1, "reinstated": 0, "unplaced": 0, "left_out_by_where": 0, "diameter_is": "hole", "findings": 0,
        "columns": ["row", "core_id"], "columns_of_findings": ["row"], "findings_without_figures": [],
        "language": "en", "tables": {}, "contact": None, "choose": "likeliest", "sources": [], "cautions": [],
    }  # fmt: skip
    return draw_how_to_read(given | identity, pd.DataFrame({"row": []}) if findings is None else findings)


def test_a_sentence_is_shown_only_where_it_applies():
    page = _drawn()
    assert "1 core: 0 flagged, 1 pending, 0 reinstated." in page
    for words in ("usable position:", "excluded", "Diameters are", "reduced to"):
        assert words not in page
    page = _drawn(unplaced=1, left_out_by_where=2, columns=["row", "diameter_mm"], findings_without_figures=["a-b"])
    for words in ("1 core has no usable position", "excluded 2 rows", "of the hole as cut", "<code>a-b</code>"):
        assert words in page
    assert "wider by one kerf" in _drawn(diameter_is="core", columns=["diameter_mm"])


def test_what_confidences_rest_on_is_said_in_the_authoritys_words():
    assert "Each confidence depends on" not in _drawn()
    page = _drawn(position_errors={"stated": 1, "learnt": 400, "default": 30, "default_m": 5.0})
    assert "Each confidence depends on the accuracy of the position. The utility states it for 1 position. " in page
    assert (
        "For 400 positions the utility states none; their error was learnt from the utility's register"
        in html.unescape(page)
    )
    assert "For 30 positions none is stated and none was learnt; they are assumed to be within 5 m in 95%" in page
    assert "For 30" not in _drawn(position_errors={"stated": 1, "default_m": 5.0})


def test_a_shift_is_said_with_what_to_ask_the_utility():
    shift = {
        "register": None,
        "cores": 312,
        "says": "shift",
        "side": "north_east",
        "metres": 2.4,
        "low": 1.9,
        "high": 2.9,
    }
    assert "shifted" not in _drawn(shifts=[])
    page = _drawn(shifts=[shift])
    assert (
        "The positions of 312 cores may be shifted as a whole: they lie 2.4 m (1.9 to 2.9) north-east of your streets"
        in page
    )
    assert "Ask the utility to check two known points." in page
    page = _drawn(shifts=[shift | {"register": "<i>Day book</i>", "says": "either", "kept": "north_east"}])
    assert "&lt;i&gt;Day book" in page
    assert "<i>Day" not in page
    assert "Or the cores keep to the north-east side of the road" in page
    both = {name: value for name, value in shift.items() if name not in {"low", "high"}} | {
        "says": "both",
        "kept": "south",
    }
    assert (
        "shifted as a whole: they lie about 2.4 m north-east of your streets as drawn, and the cores keep to the south"
        in _drawn(shifts=[both])
    )
    assert "or both: the positions fit more than one" in _drawn(
        shifts=[{"register": None, "cores": 312, "says": "unclear"}]
    )


def test_text_of_a_programme_is_text_and_a_column_without_a_description_is_the_registers_own():
    page = _drawn(columns=["row", "<i>cost</i>"])
    assert "<b>Vale" not in page
    assert "<i>cost" not in page
    assert "&lt;i&gt;cost" in page
    assert "column of the register, as it was read" in page


def test_another_language_names_columns_in_its_own_words_or_leaves_them_in_english():
    """Labels and meanings are data in English: the table [data] of a language's file translates what it has."""
    words = words_of("en")
    translated = {
        "data.Permit expiry": "Ende der Genehmigung",
        "data.distance from the segment's centreline": "Abstand",
    }
    words = dataclasses.replace(words, sentences=words.sentences | translated)
    assert _described("permit_expires_on", words)["label"] == "Ende der Genehmigung"
    assert _described("permit_expires_on", words)["meaning"] == "last day of the permit"
    offset = _described("offset_m", words)
    assert (offset["label"], offset["meaning"]) == ("Offset (m)", "Abstand")
    assert _described("cost", words) == {"name": "cost", "label": "", "meaning": words.say("handover.own")}


def test_states_and_urgencies_are_explained_each_once(page):
    for words in (
        "Open: no plate",
        "Plated: a steel plate",
        "Interim: reinstated temporarily",
        "Reinstated: the register",
    ):
        assert page.count(words) == 1
    places = [page.index(f"<li>{word}: ") for word in ("Hazard", "Overdue", "Quality", "Record")]
    assert places == sorted(places)
    assert "accepted" not in page


def test_states_and_urgencies_that_are_not_handed_over_are_not_explained():
    page = _drawn()
    assert "Plated" not in page
    assert "Hazard: someone" not in page
    page = _drawn(columns=["row", "state"], columns_of_findings=["urgency"])
    assert "Plated: a steel plate" in page
    assert "Hazard: someone" in page


def test_accepted_findings_are_counted_and_never_hidden(demo):
    findings = demo.audit.findings.assign(decision="", decision_standing="", decided_until="")
    findings.loc[findings.index[:2], ["decision", "decision_standing"]] = ["accept", "holds"]
    assert "2 findings are accepted:" in _drawn(findings, columns_of_findings=["urgency"])


def test_a_page_or_feed_is_explained_where_the_pack_has_it():
    assert "what-changed.html" not in _drawn()
    assert "<code>what-changed.html</code>" in _drawn(tables={"changes.csv": "0" * 64})
