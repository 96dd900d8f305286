"""The whole report is one safe file that anyone can read."""

import base64
import hashlib
import re
from dataclasses import replace
from itertools import pairwise
from pathlib import Path

import pytest
from markupsafe import escape

from pipeline.publish.report.report import draw_report


@pytest.fixture(scope="module")
def page(demo):
    return draw_report(demo)


def test_the_page_runs_nothing_and_fetches_nothing(page):
    assert "<script" not in page
    # it links to its own sections and to the map beside it alone
    assert set(re.findall(r'(?:src|href)\s*=\s*"([^"#]*)', page)) == {"", "map.html"}
    assert not re.findall(r"url\(|@import", page)
    style = re.search(r"<style>(.*?)</style>", page, re.DOTALL)[1]
    digest = base64.b64encode(hashlib.sha256(style.encode()).digest()).decode()
    assert f"default-src 'none'; style-src 'sha256-{digest}'" in page
    assert not re.findall(r"<[^>]+ style=", page)


def test_every_link_has_a_target_and_no_id_occurs_twice(page):
    ids = re.findall(r' id="([^"]+)"', page)
    assert len(ids) == len(set(ids))
    named = re.findall(r'href="#([^"]+)"', page)
    for places in re.findall(r'aria-labelledby="([^"]+)"', page):
        named += places.split()
    assert set(named) <= set(ids)


def test_every_section_is_in_the_contents_in_the_order_of_the_page(page):
    listed = re.findall(r'<li><a href="#(\w+)">', page)
    assert listed == [name for name in re.findall(r'<h2 id="(\w+)">', page) if name != "contents"]
    assert len(listed) == 21


def test_headings_are_in_order_and_every_table_has_a_caption_and_heads_with_a_scope(page):
    levels = [int(level) for level in re.findall(r"<h(\d)", page)]
    assert levels[0] == 1
    assert all(after <= before + 1 for before, after in pairwise(levels))
    for table in re.findall(r"<table>.*?</table>", page, re.DOTALL):
        assert re.match(r"<table>\s*<caption id=", table)
        assert not re.findall(r"<th(?! scope)[ >]", table)


def test_every_chart_describes_in_words_what_it_shows(page):
    charts = re.findall(r'<svg class="chart".*?</svg>', page, re.DOTALL)
    # by status, by district, two by age, orders, costs, confidence
    assert len(charts) == 7
    for chart in charts:
        named = re.search(r'role="img" aria-labelledby="([\w-]+) ([\w-]+)"', chart)
        assert re.search(rf'<title id="{named[1]}">[^<]+</title><desc id="{named[2]}">[^<]*\d[^<]*</desc>', chart)
    # any other picture is beside the same in words
    for picture in re.findall(r'<svg class="(?:mark|span)"[^>]*>', page):
        assert 'aria-hidden="true"' in picture


def test_the_same_run_gives_the_same_page_without_times_or_paths(demo, page):
    assert draw_report(replace(demo, costs=[])) == page
    assert str(Path(__file__).parents[3]) not in page


def test_register_text_stays_text(demo):
    trick = "</td><script>alert(1)</script>{{ 7 * 191 }}{% raw %}"
    findings = demo.audit.findings.assign(message=trick, core_id=trick)
    page = draw_report(replace(demo, audit=replace(demo.audit, findings=findings)))
    assert "<script" not in page
    assert "1337" not in page
    assert f"<bdi>{escape(trick)}</bdi>" in page


def test_text_that_changes_directions_or_is_very_long_is_isolated_and_shortened_with_a_note(demo):
    turning, long = "\u202eevil\u2067", "y" * 1_000_000
    programme = demo.settings.programme.model_copy(update={"name": turning + long})
    settings = demo.settings.model_copy(update={"programme": programme})
    inputs = replace(demo.inputs, notices=[long])
    cores = demo.cores.assign(district=turning, street_matched=long)
    table = demo.table.assign(district=turning, street=long)
    page = draw_report(replace(demo, settings=settings, inputs=inputs, cores=cores, table=table))
    assert len(page) < 400_000
    title = re.search(r"<title>(.*?)</title>", page)[1]
    assert len(title) < 200
    for text in (title, *re.findall(r"<(?:text|desc)[^>]*>([^<]*)<", page)):
        assert not re.findall("[\u202a-\u202e\u2066\u2067]", text)
    # elsewhere none of it is outside an element of its own
    assert not re.findall("[\u202a-\u202e\u2067]", re.sub(r"<bdi>[^<]*</bdi>", "", page))
    assert "… (shortened; 1,000,000 characters in full)" in page


def test_a_run_with_nothing_in_it_has_a_report_too(demo):
    empty = demo.orders
    orders = empty._replace(
        lines=empty.lines.iloc[:0],
        sharing=empty.sharing.iloc[:0],
        purchases=empty.purchases.iloc[:0],
        left_out=empty.left_out.iloc[:0],
        cores=0,
    )
    audit = replace(
        demo.audit,
        findings=demo.audit.findings.iloc[:0],
        rules=demo.audit.rules.assign(found=0, assessed=0, not_assessed=0),
        rates=demo.audit.rates.iloc[:0],
        evidence=demo.audit.evidence.iloc[:0],
    )
    cores, table = demo.cores.iloc[:0], demo.table.iloc[:0]
    page = draw_report(replace(demo, audit=audit, orders=orders, cores=cores, table=table))
    for sentence in (
        "No failures, and nothing to check.",
        "Nothing to order: there is no planned core with a known surface and size.",
        "No core has a street.",
        "Fewer than two districts have cores, so there is nothing to compare.",
        "Fewer than two contractors and fewer than two crews have assessed cores, so there is nothing to compare.",
        "Not assessed: no open core has a readable opening date.",
        "Not assessed: no core has a readable reinstatement date.",
        "No findings.",
    ):
        assert sentence in page
