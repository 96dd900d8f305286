"""The report says what the run found, in one safe file."""

import base64
import hashlib
import re
from dataclasses import replace
from pathlib import Path

import pandas as pd
import pytest
from markupsafe import escape

from pipeline.publish.charts import columns_chart, stacked_bars
from pipeline.publish.report import draw_report
from pipeline.run import run_programme


@pytest.fixture(scope="module")
def demo():
    return run_programme(Path(__file__).parents[2] / "sample_data" / "programme.toml", None)


@pytest.fixture(scope="module")
def page(demo):
    return draw_report(demo)


def test_the_first_page_has_the_account_and_the_order(demo, page):
    for name in ("rows_read", "flagged", "pending", "reinstated", "unplaced"):
        assert f"<b>{demo.account[name]}</b>" in page
    lines = demo.orders.lines
    for item in ("grout dark", "grout pale"):
        packs = lines.loc[lines["item"].eq(item), "packs"].sum()
        assert f"<b>{item}</b>: " in page
        assert f"{packs} packs" in page
    assert f"<b>{demo.orders.left_out['cores'].sum()}</b> open cores are left out" in page


def test_every_rule_is_listed_with_its_four_counts(demo, page):
    for one in demo.audit.rules.to_dict("records"):
        row = re.search(rf"<tr><td><code>{one['rule']}</code></td>.*?</tr>", page)[0]
        counts = [int(number) for number in re.findall(r'<td class="n">(\d+)</td>', row)]
        assert counts == [one["found"], one["assessed"], one["not_assessed"], one["not_concerned"]]


def test_every_threshold_and_material_stands_with_its_source(demo, page):
    for one in demo.audit.rules.to_dict("records"):
        if one["limits"]:
            assert str(escape(one["source"])) in page
    assert "9 mm" in page
    assert "common practice, no source" in page


def test_the_page_runs_nothing_and_asks_for_nothing(page):
    assert "<script" not in page
    assert not re.findall(r"(?:src|href)\s*=|url\(|@import", page)
    style = re.search(r"<style>(.*?)</style>", page, re.DOTALL)[1]
    digest = base64.b64encode(hashlib.sha256(style.encode()).digest()).decode()
    assert f"default-src 'none'; style-src 'sha256-{digest}'" in page
    assert not re.findall(r"<[^>]+ style=", page)


def test_every_chart_says_in_words_what_it_shows(page):
    charts = re.findall(r'<svg class="chart".*?</svg>', page, re.DOTALL)
    # by status, by district, needs by period, by age, four groupings of two measures each, how sure
    assert len(charts) == 5 + 8
    for chart in charts:
        assert re.search(r"<title>[^<]+</title><desc>[^<]*\d[^<]*</desc>", chart)


def test_the_same_run_gives_the_same_page_without_times_or_places(demo, page):
    assert draw_report(replace(demo, costs=[])) == page
    assert str(Path(__file__).parents[2]) not in page


def test_register_text_stays_text(demo):
    trick = "</td><script>alert(1)</script>{{ 7 * 191 }}{% raw %}"
    findings = demo.audit.findings.assign(message=trick, core_id=trick)
    page = draw_report(replace(demo, audit=replace(demo.audit, findings=findings)))
    assert "<script" not in page
    assert "1337" not in page
    assert str(escape(trick)) in page


def test_a_bar_shows_each_count_and_a_name_is_escaped():
    counts = pd.DataFrame({"flagged": [0, 30], "pending": [20, 0], "reinstated": [40, 30]}, index=["<b>A", "B" * 60])
    chart = str(stacked_bars(counts, "Title"))
    assert "&lt;b&gt;A: 0 flagged, 20 pending, 40 reinstated" in chart
    assert "<b>" not in chart
    # both bars are 60 long, on a scale of 410 pixels: 20 of 60 are 136.7, 30 are 205, 40 are 273.3
    widths = sorted(float(width) for width in re.findall(r'width="([\d.]+)" height="20"', chart))
    assert widths == [136.7, 205.0, 205.0, 273.3]


def test_columns_are_as_high_as_their_counts():
    chart = str(columns_chart(pd.Series([10, 5, 0], index=["a", "b", "c"]), "Title", "#ffffff"))
    assert [float(tall) for tall in re.findall(r'height="([\d.]+)" fill', chart)] == [150.0, 75.0, 0.0]
