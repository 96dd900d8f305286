"""The report's links to the map beside it, and the anchors that the map's links lead to.

That a figure counts what the map then shows is checked against the tables of the run, by another way than the report.
"""

import html
import re
from urllib.parse import parse_qsl

import pandas as pd
import pytest

from pipeline.publish.map.packing import pack_ids
from pipeline.publish.map_input import map_input
from pipeline.publish.report.names import anchor, core_name, links_by_district, on_map
from pipeline.publish.report.report import draw_report
from pipeline.publish.words import words_of

_LINK = re.compile(r'<a class="on-map" href="map\.html#([^"]*)">(.*?)</a>')


def links(page):
    """What each link asks of the map, and the text that it shows."""
    return [
        (parse_qsl(html.unescape(address), keep_blank_values=True), re.sub("<[^>]*>", "", shown))
        for address, shown in _LINK.findall(page)
    ]


def test_a_choice_is_written_as_the_maps_own_address_writes_it():
    assert on_map("7", rule="core-shallow") == '<a class="on-map" href="map.html#rule=%3Dcore-shallow">7</a>'
    assert on_map("7", district="Mill & Co #1", status="flagged") == (
        '<a class="on-map" href="map.html#district=%3DMill+%26+Co+%231&amp;status=%3Dflagged">7</a>'
    )
    assert on_map("7", district=None) == '<a class="on-map" href="map.html#district=">7</a>'


def test_an_id_is_escaped_in_the_link_and_in_what_is_shown():
    name = '"><script>a&b=c#d</script> é'
    made = str(core_name(name, words_of("en")))
    assert "<script" not in made
    [(asked, shown)] = links(made)
    assert asked == [("core", name)]
    assert html.unescape(shown) == name


def test_a_core_without_an_id_has_no_link():
    assert str(core_name(None, words_of("en"))) == "(no id)"


def test_an_id_that_is_no_unicode_is_no_error():
    assert "map.html#core=" in core_name("HV-\ud800", words_of("en"))


def test_a_long_id_and_a_long_name_are_asked_for_as_the_map_has_them():
    """The map shows the first 400 characters."""
    core, place = "7" * 401, "y" * 401
    cores = pd.DataFrame({"core_id": [core, "HV-1"], "district": [place, None]}, dtype="str")
    packed, _ = pack_ids("core_id", cores["core_id"])
    page = core_name(core, words_of("en")) + on_map("1", district=place)
    assert [dict(asked) for asked, _ in links(page)] == [
        {"core": packed["core_id"].how["words"][0]},
        {"district": "=" + "y" * 400 + "…"},
    ]
    led = links_by_district(page, cores, {place: "maps/y.html", None: "maps/none.html"})
    assert led.count('href="maps/y.html#') == 2
    assert anchor("street", place) == f"street-{'y' * 400}%E2%80%A6"


def test_an_anchor_is_what_a_browser_makes_of_the_name():
    """encodeURIComponent keeps letters, digits and - _ . ! ~ * ' ( ) alone."""
    assert anchor("district", "St. John's (West)/Éa_~!*-") == "district-St.%20John's%20(West)%2F%C3%89a_~!*-"


def test_every_figure_that_opens_the_map_counts_what_the_map_then_shows(demo):
    cores, findings = demo.counted_table, demo.counted_findings
    street = map_input(demo, None).cores.set_index("row")["street"]
    asked_for = set()
    page = draw_report(demo)
    # cores whose findings are all accepted are not counted on the first page, which says how many the map has more
    tiles = re.findall(r'<li class="([a-z]+)"><b>.*?</b>.*?</li>', page)
    more = dict(re.findall(r'<li class="([a-z]+)"><b>[^\n]*?; ([0-9]+) more accepted</span></li>', page))
    assert len(tiles) == 4
    for asked, shown in links(page):
        wanted = dict(asked)
        asked_for |= set(wanted)
        if "core" in wanted:
            assert wanted["core"] in set(demo.table["core_id"])
            continue
        if "changed" in wanted:
            continue
        kept = cores
        for question, written in wanted.items():
            word = written.removeprefix("=") or None
            if question == "rule":
                kept = kept[kept["row"].isin(findings.loc[findings["rule"].eq(word), "row"])]
                continue
            column = kept["row"].map(street) if question == "street" else kept[question]
            kept = kept[column.isna() if word is None else column.eq(word)]
        accepted = int(more.get(wanted.get("urgency", "").removeprefix("="), 0))
        assert shown == f"{len(kept) - accepted:,}", wanted
    assert asked_for >= {"core", "rule", "district", "street", "status", "urgency"}


def test_every_rule_that_found_something_and_every_district_has_its_anchor(demo):
    page = draw_report(demo)
    for rule in demo.counted_findings["rule"].unique():
        assert page.count(f'id="rule-{rule}"') == 1
    for district in demo.counted_table["district"].dropna().unique():
        assert page.count(f'id="{html.escape(anchor("district", district))}"') == 1


@pytest.mark.parametrize("most", [40, 2])
def test_a_runs_own_map_knows_of_the_report_and_of_the_places_that_have_a_row_in_it(demo, monkeypatch, most):
    monkeypatch.setattr("pipeline.publish.report.places._MOST_DISTRICTS", most)
    shown, report = map_input(demo, None), draw_report(demo)
    assert shown.has_report
    for kind, names in (("street", shown.report_streets), ("district", shown.report_districts)):
        anchored = set(re.findall(rf'<tr id="({kind}-[^"]+)"', report))
        assert anchored
        assert {html.escape(anchor(kind, name)) for name in names} == anchored
