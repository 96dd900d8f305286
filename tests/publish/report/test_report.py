"""The report says what the run found, in one safe file."""

import base64
import hashlib
import re
from dataclasses import replace
from itertools import pairwise
from pathlib import Path

import pandas as pd
import pytest
from markupsafe import escape

from pipeline.publish.pages.charts import columns_chart, interval_bar, stacked_bars
from pipeline.publish.report.report import draw_report
from pipeline.publish.words import words_of

_WORDS = words_of("en")


@pytest.fixture(scope="module")
def page(demo):
    return draw_report(demo)


def _first(page):
    return " ".join(page.split("<nav")[0].split())


def _table(page, caption):
    return page.split(f'<caption id="{caption}">')[1].split("</table>")[0]


def test_the_first_page_has_the_account_and_the_order(demo, page):
    first = _first(page)
    for name in ("rows_read", "flagged", "pending", "reinstated"):
        assert f"<b>{demo.account[name]}</b>" in first
    for name in ("flagged", "pending", "reinstated"):
        assert f"<span>{100 * demo.account[name] / 400:.1f}%</span>" in first
    lines, bought = demo.orders.lines, demo.orders.purchases
    for item in ("grout dark", "grout pale", "pea gravel"):
        mine = lines[lines["item"].eq(item)]
        packs = bought.loc[bought["item"].eq(item), "packs_ordered"].sum()
        planned = f"{int(mine['packs'].sum())} packs, {mine['order'].sum():,.0f} kg"
        assert f'<bdi>{item}</bdi></th><td class="n">{planned}</td><td class="n">{packs} packs</td>' in first
    assert f"{demo.orders.left_out['cores'].sum()} open cores have no need that is known" in first
    assert f"{demo.account['unplaced']} cores are not on the map" in first


def test_the_first_page_tells_how_many_flagged_cores_are_back_and_how_many_are_open(demo, page):
    """A date makes a core back, an empty cell leaves it open; "done" and a 31st of September are neither."""
    written = demo.cores.loc[demo.cores["status"].eq("flagged"), "reinstated_at_text"].fillna("")
    still, neither = int(written.eq("").sum()), int(written.isin(["done", "31/09/2026"]).sum())
    back = int(written.str.contains("20").sum()) - int(written.eq("31/09/2026").sum())
    assert neither == 2
    said = f"{len(written)} cores are not to be relied on: {back} back in the road, {still} still open, {neither} not known"
    assert said in _first(page)


def test_a_core_of_which_it_is_not_known_whether_it_is_back_is_counted_as_neither(demo):
    """Six flagged cores: three have a date, two have none, one has a date that cannot be read; the seventh is well."""
    seven = demo.cores.index[:7]
    day = pd.Timestamp("2026-09-01")
    cores = demo.cores.assign(status="pending", reinstated_at=pd.NaT, is_open=True)
    cores.loc[seven, "status"] = ["flagged"] * 6 + ["reinstated"]
    cores.loc[seven, "reinstated_at"] = [day, day, day, pd.NaT, pd.NaT, pd.NaT, day]
    cores.loc[seven, "is_open"] = [False, False, False, True, True, False, False]
    first = _first(draw_report(replace(demo, cores=cores)))
    said = "6 cores are not to be relied on: 3 back in the road, 2 still open"
    assert f"<p>{said}, 1 not known (a date that cannot be read).</p>" in first
    cores.loc[seven[5], "status"] = "pending"
    first = _first(draw_report(replace(demo, cores=cores)))
    assert "<p>5 cores are not to be relied on: 3 back in the road, 2 still open.</p>" in first


def test_the_worst_are_failures_before_checks_and_then_those_on_most_cores(demo):
    """Two failing rules, a check on more cores than either: the failures come first, the larger of them before."""
    rules = demo.audit.rules.assign(found=0)
    found = {"flush-out-of-tolerance": 2, "grout-short": 3, "street-differs": 9}
    rules["found"] = rules["rule"].map(found).fillna(0).astype(int)
    rows = demo.table.loc[demo.table["district"].eq("Mill Bank"), "row"].tolist()[:9]
    findings = pd.concat(
        pd.DataFrame({"row": rows[:count], "core_id": "A-1", "rule": rule, "severity": "fail", "message": "Look."})
        for rule, count in found.items()
    )
    page = draw_report(replace(demo, audit=replace(demo.audit, rules=rules, findings=findings)))
    worst = re.findall(r'<li><b class="(\w+)">(\w+: \d+ cores)</b>', _first(page))
    assert worst == [("fail", "Fail: 3 cores"), ("fail", "Fail: 2 cores"), ("check", "Check: 9 cores")]
    assert _first(page).count("All in <bdi>Mill Bank</bdi>") == 3


@pytest.mark.parametrize(
    ("districts", "said"),
    [
        (["A", "A", "A"], "All in <bdi>A</bdi>"),
        (["B", "A", "B"], "Most in <bdi>B</bdi> (2 of 3)"),
        (["A", "B", "C"], "In 3 districts"),
    ],
)
def test_where_a_rules_cores_concentrate(demo, districts, said):
    rules = demo.audit.rules.assign(found=0)
    rules.loc[rules["rule"].eq("grout-short"), "found"] = 3
    findings = pd.DataFrame(
        {"row": [1, 2, 3], "core_id": "A", "rule": "grout-short", "severity": "fail", "message": "Regrout it."}
    )
    table = demo.table.copy()
    table.loc[table["row"].le(3), "district"] = districts
    page = draw_report(replace(demo, table=table, audit=replace(demo.audit, rules=rules, findings=findings)))
    assert f'<span class="where">{said}</span>' in _first(page)


def test_money_stands_where_the_programme_sets_prices_and_nowhere_else(demo, page):
    assert "Cost" not in _first(page)
    bought = demo.orders.purchases
    dark = bought["item"].eq("grout dark")
    cost = (bought["packs_ordered"] * 14.5).where(dark)
    orders = demo.orders._replace(purchases=bought.assign(cost=cost, currency="CAD"))
    first = _first(draw_report(replace(demo, orders=orders)))
    money = f"<bdi>CA${bought.loc[dark, 'packs_ordered'].sum() * 14.5:,.2f}</bdi>"
    assert first.count(money) == 2
    assert "Total of the items with a price" in first
    assert first.count("no price set") == 2


def test_every_rule_is_listed_with_its_counts_and_its_exact_interval(demo, page):
    for one in demo.audit.rules.to_dict("records"):
        if not one["assessed"]:
            continue
        table = _table(page, "rules-found" if one["found"] else "rules-silent")
        row = re.search(rf"<tr><th [^>]*>[^\n]*<code>{one['rule']}</code>.*?</tr>", table)[0]
        counts = [int(number) for number in re.findall(r'<td class="n">(\d+)</td>', row)]
        found = [one["found"]] if one["found"] else []
        assert counts == [*found, one["assessed"], one["not_assessed"], one["not_applicable"]]


def test_a_rule_that_found_nothing_says_how_much_it_may_have_missed(demo):
    """None of 100: the share is at most 1 less the hundredth root of 0.025, which is 3.6 %. None of 3 tells nothing."""
    rules = demo.audit.rules.assign(found=0, assessed=100, not_assessed=0, not_applicable=300)
    rules.loc[rules["rule"].eq("grout-short"), ["assessed", "not_applicable"]] = [3, 397]
    page = draw_report(replace(demo, audit=replace(demo.audit, rules=rules, findings=demo.audit.findings.iloc[:0])))
    table = _table(page, "rules-silent")
    assert table.count("at most 3.6%") == len(rules) - 1
    assert table.count("Too few to tell") == 1


def test_a_rule_that_speaks_of_no_core_does_not_lack_an_input(demo):
    """Four rules: one found something, one nothing, one had its inputs for no core, one speaks of no core."""
    rules = demo.audit.rules.head(4).assign(
        found=[2, 0, 0, 0], assessed=[9, 9, 0, 0], not_assessed=[1, 0, 4, 0], not_applicable=[390, 391, 396, 400]
    )
    silent, unasked, unconcerned = rules["rule"].iloc[1:]
    findings = demo.audit.findings.iloc[:2].assign(rule=rules["rule"].iloc[0], severity=rules["severity"].iloc[0])
    page = draw_report(replace(demo, audit=replace(demo.audit, rules=rules, findings=findings)))
    assert "1 rule could be asked of no core it speaks of." in _first(page)
    assert f"of no core it speaks of, for want of inputs: <code>{unasked}</code></p>" in page
    assert f"1 rule speaks of none of these cores: <code>{unconcerned}</code></p>" in page
    assert f"<code>{silent}</code>" in _table(page, "rules-silent")
    assert "2 findings, by 1 of the 2 rules that could be asked." in page
    none = rules.assign(not_assessed=0, not_applicable=[391, 391, 400, 400])
    page = draw_report(replace(demo, audit=replace(demo.audit, rules=none, findings=findings)))
    assert "could be asked of no core" not in page
    listed = re.search(r"2 rules speak of none of these cores: ([^\n]*)</p>", page)[1]
    assert set(listed.split(", ")) == {f"<code>{unasked}</code>", f"<code>{unconcerned}</code>"}


def test_how_groups_are_compared_is_said_once(page):
    assert page.count("Fisher") == 1
    assert 'see <a href="#method">Method</a>' in page


def test_districts_streets_ages_and_crews_stand_with_what_rates_csv_holds(demo, page):
    tables = {
        "district-shares": ("district", "flagged"),
        "street-shares": ("street", "flagged"),
        "age-open": ("days open", "flagged"),
        "age-since": ("days since reinstatement", "workmanship"),
        "crew-workmanship": ("crew", "workmanship"),
        "crew-flagged": ("crew", "flagged"),
    }
    rates = demo.audit.rates
    for caption, (by, measure) in tables.items():
        table = _table(page, caption)
        every = rates[rates["by"].eq(by) & rates["measure"].eq(measure)].set_index("group")
        rows = re.findall(r'<tr><th scope="row">(.*?)</th><td class="n">(\d+)</td><td class="n">(\d+)</td>', table)
        assert len(rows) == min(len(every), 15), caption
        for name, cores, found in rows:
            group = re.sub(r"<bdi>|</bdi>| <span.*", "", name).replace("–", " to ")
            group = re.sub(r"^(\d+)\+$", lambda over: f"over {int(over[1]) - 1}", group)
            one = every.loc[group]
            assert (int(cores), int(found)) == (one["cores"], one["with_findings"])
            assert f"{one['low']:.1%} – {one['high']:.1%}" in table
            assert ("Too few to tell" in name) == (one["cores"] < 5)


def test_streets_with_most_flagged_cores_come_first_and_are_not_compared(demo, page):
    rows = re.findall(r'</th><td class="n">(\d+)</td><td class="n">(\d+)</td>', _table(page, "street-shares"))
    order = [(-int(flagged), -int(cores)) for cores, flagged in rows]
    assert order == sorted(order)
    streets = demo.audit.rates[demo.audit.rates["by"].eq("street")]
    assert streets["p"].isna().all()
    assert "Streets have intervals and are not compared." in page


def test_what_could_not_be_judged_is_listed_openly(demo, page):
    unplaced = demo.table[demo.cores["x_m"].isna()]
    table = _table(page, "unplaced")
    assert [int(row) for row in re.findall(r">row (\d+)<", table)] == unplaced["row"].tolist()
    assert "the device had no fix" in table
    assert sum(int(n) for n in re.findall(r'<td class="n">(\d+)</td>', _table(page, "left-out"))) == 16
    for notice in demo.inputs.notices:
        assert str(escape(notice)) in page


def test_every_threshold_and_material_stands_with_its_source(demo, page):
    for one in demo.audit.rules.to_dict("records"):
        if one["limits"]:
            assert str(escape(one["source"])) in page
    assert "9 mm" in page
    assert "common practice, no source" in page


def test_the_page_runs_nothing_and_asks_for_nothing(page):
    assert "<script" not in page
    # its own sections are all it leads to
    assert set(re.findall(r'(?:src|href)\s*=\s*"(.)', page)) == {"#"}
    assert not re.findall(r"url\(|@import", page)
    style = re.search(r"<style>(.*?)</style>", page, re.DOTALL)[1]
    digest = base64.b64encode(hashlib.sha256(style.encode()).digest()).decode()
    assert f"default-src 'none'; style-src 'sha256-{digest}'" in page
    assert not re.findall(r"<[^>]+ style=", page)


def test_every_link_leads_somewhere_and_no_id_stands_twice(page):
    ids = re.findall(r' id="([^"]+)"', page)
    assert len(ids) == len(set(ids))
    named = re.findall(r'href="#([^"]+)"', page)
    for places in re.findall(r'aria-labelledby="([^"]+)"', page):
        named += places.split()
    assert set(named) <= set(ids)


def test_headings_are_in_order_and_every_table_has_a_caption_and_heads_with_a_scope(page):
    levels = [int(level) for level in re.findall(r"<h(\d)", page)]
    assert levels[0] == 1
    assert all(after <= before + 1 for before, after in pairwise(levels))
    for table in re.findall(r"<table>.*?</table>", page, re.DOTALL):
        assert re.match(r"<table>\s*<caption id=", table)
        assert not re.findall(r"<th(?! scope)[ >]", table)


def test_every_chart_says_in_words_what_it_shows(page):
    charts = re.findall(r'<svg class="chart".*?</svg>', page, re.DOTALL)
    # by status, by district, two of age, of the plan, how sure
    assert len(charts) == 6
    for chart in charts:
        named = re.search(r'role="img" aria-labelledby="([\w-]+) ([\w-]+)"', chart)
        assert re.search(rf'<title id="{named[1]}">[^<]+</title><desc id="{named[2]}">[^<]*\d[^<]*</desc>', chart)
    # any other picture stands beside the same in words
    for picture in re.findall(r'<svg class="(?:mark|span)"[^>]*>', page):
        assert 'aria-hidden="true"' in picture


def test_the_same_run_gives_the_same_page_without_times_or_places(demo, page):
    assert draw_report(replace(demo, costs=[])) == page
    assert str(Path(__file__).parents[3]) not in page


def test_register_text_stays_text(demo):
    trick = "</td><script>alert(1)</script>{{ 7 * 191 }}{% raw %}"
    findings = demo.audit.findings.assign(message=trick, core_id=trick)
    page = draw_report(replace(demo, audit=replace(demo.audit, findings=findings)))
    assert "<script" not in page
    assert "1337" not in page
    assert f"<bdi>{escape(trick)}</bdi>" in page


def test_text_that_turns_directions_or_is_very_long_is_kept_apart_and_cut_with_a_note(demo):
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
    # elsewhere nothing of it stands outside an element of its own
    assert not re.findall("[\u202a-\u202e\u2067]", re.sub(r"<bdi>[^<]*</bdi>", "", page))
    assert "… (cut here; 1,000,000 characters in all)" in page


def test_a_bar_shows_each_count_and_a_name_is_escaped():
    counts = pd.DataFrame({"flagged": [0, 30], "pending": [20, 0], "reinstated": [40, 30]}, index=["<b>A", "B" * 60])
    chart = str(stacked_bars(counts, "one", "Title", _WORDS))
    assert "&lt;b&gt;A: Flagged 0, Pending 20, Reinstated 40" in chart
    assert "<b>" not in chart
    # both bars are 60 long: a third, a half, a half and two thirds of the width
    widths = sorted(float(width) for width in re.findall(r'width="([\d.]+)%" height="18"', chart))
    assert widths == [33.33, 50.0, 50.0, 66.67]


def test_columns_are_as_high_as_their_counts():
    chart = str(columns_chart(pd.Series([10, 5, 0], index=["a", "b", "c"]), "one", "Title", "#ffffff", _WORDS))
    assert [float(tall) for tall in re.findall(r'height="([\d.]+)" fill', chart)] == [120.0, 60.0, 0.0]


def test_an_interval_stands_to_scale():
    # 92 percent of the width, from 4 on, are the scale's 40 percent
    bar = str(interval_bar(0.1, 0.2, 0.4, 0.4, is_filled=False))
    assert 'x1="27.00%" y1="7.0" x2="96.00%"' in bar
    assert 'cx="50.00%"' in bar


def test_a_run_with_nothing_in_it_has_a_report_too(demo):
    nothing = demo.audit.findings.iloc[:0]
    rules = demo.audit.rules.assign(found=0, assessed=0, not_assessed=0, not_applicable=400)
    rates = demo.audit.rates.iloc[:0]
    evidence = demo.audit.evidence.iloc[:0]
    orders = demo.orders._replace(
        lines=demo.orders.lines.iloc[:0],
        sharing=demo.orders.sharing.iloc[:0],
        purchases=demo.orders.purchases.iloc[:0],
        left_out=demo.orders.left_out.iloc[:0],
        cores=0,
    )
    audit = replace(demo.audit, findings=nothing, rules=rules, rates=rates, evidence=evidence)
    cores, table = demo.cores.iloc[:0], demo.table.iloc[:0]
    page = draw_report(replace(demo, audit=audit, orders=orders, cores=cores, table=table))
    assert "No rule found a failure or anything to check." in page
    assert "Nothing to order: no open core has a need that is known." in page
    assert "No core is on a street that is known." in page
    assert "Nothing was found." in page
