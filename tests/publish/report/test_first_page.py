"""The first page: the counts, what needs action, what to act on first."""

from dataclasses import replace

import pandas as pd
import pytest

from pipeline.publish.report.first_page import amount, first_page
from pipeline.publish.report.report import draw_report
from pipeline.publish.words import words_of
from tests.publish.report.pages import first_page_of, text_of

_WORDS = words_of("en")


@pytest.fixture(scope="module")
def first(demo):
    return first_page_of(draw_report(demo))


def test_it_has_the_account_and_the_order(demo, first):
    for name in ("cores", "flagged", "pending", "reinstated"):
        assert f"<b>{demo.account[name]}</b>" in first
    for name in ("flagged", "pending", "reinstated"):
        assert f"<span>{100 * demo.account[name] / 398:.1f}%</span>" in first
    lines, bought = demo.orders.lines, demo.orders.purchases
    for item in ("grout dark", "grout pale", "pea gravel"):
        mine = lines[lines["item"].eq(item)]
        bags = bought.loc[bought["item"].eq(item), "packs_ordered"].sum()
        needed = f"{int(mine['packs'].sum())} bags, {mine['order'].sum():,.0f} kg"
        assert f'<bdi>{item}</bdi></th><td class="n">{needed}</td><td class="n">{bags} bags</td>' in first
    assert f"Materials to reinstate {demo.orders.cores} open cores, 20% overfill included" in first
    assert f"{demo.orders.left_out['cores'].sum()} open cores not ordered: surface or size missing" in first
    assert f"{demo.account['unplaced']} cores not on the map." in first


def test_flagged_cores_are_split_into_suspect_reinstatements_open_and_unclear(demo, first):
    """A date makes a core reinstated, an empty cell leaves it open; "done" and a 31st of September do neither."""
    written = demo.cores.loc[demo.cores["status"].eq("flagged"), "reinstated_at_text"].fillna("")
    still_open, unclear = int(written.eq("").sum()), int(written.isin(["done", "31/09/2026"]).sum())
    suspect = int(written.str.contains("20").sum()) - int(written.eq("31/09/2026").sum())
    assert unclear == 2
    assert (
        f"{len(written)} cores need action: {suspect} suspect reinstatements, {still_open} still open and {unclear} "
        "unclear (unreadable date)." in first
    )


@pytest.mark.parametrize(
    ("suspect", "still_open", "unclear", "groups"),
    [
        (3, 2, 1, ["3 suspect reinstatements", "2 still open", "1 unclear (unreadable date)"]),
        (1, 0, 0, ["1 suspect reinstatement"]),
        (0, 2, 0, ["2 still open"]),
        (0, 0, 0, []),
    ],
)
def test_counts_agree_with_their_nouns_and_an_empty_group_is_left_out(demo, suspect, still_open, unclear, groups):
    day, flagged = pd.Timestamp("2026-09-01"), suspect + still_open + unclear
    cores = demo.cores.assign(status="pending", reinstated_at=pd.NaT, is_open=True)
    mine = cores.index[:flagged]
    cores.loc[mine, "status"] = "flagged"
    cores.loc[mine, "reinstated_at"] = [day] * suspect + [pd.NaT] * (still_open + unclear)
    cores.loc[mine, "is_open"] = [False] * suspect + [True] * still_open + [False] * unclear
    assert [str(group) for group in first_page(replace(demo, cores=cores), _WORDS)["need_action"]] == groups


def test_without_flagged_cores_nothing_needs_action(demo):
    cores = demo.cores.assign(status="pending")
    page = first_page_of(draw_report(replace(demo, cores=cores)))
    assert "need action" not in page


def _findings(rows, rule, severity="fail"):
    return pd.DataFrame({"row": rows, "core_id": "A", "rule": rule, "severity": severity, "message": "Regrout it."})


def test_failures_come_before_checks_and_then_those_on_the_most_cores(demo):
    """Two failing rules, and a check on more cores than either: the failures come first, the larger one before."""
    found = {"flush-out-of-tolerance": 2, "grout-short": 3, "street-differs": 9}
    rules = demo.audit.rules
    rules = rules.assign(found=rules["rule"].map(found).fillna(0).astype(int))
    rows = demo.table.loc[demo.table["district"].eq("Mill Bank"), "row"].tolist()[:9]
    findings = pd.concat(_findings(rows[:count], rule) for rule, count in found.items())
    worst = first_page(replace(demo, audit=replace(demo.audit, rules=rules, findings=findings)), _WORDS)["worst"]
    assert [(rule["severity"], rule["n"], rule["rule"]) for rule in worst] == [
        ("fail", 3, "grout-short"), ("fail", 2, "flush-out-of-tolerance"), ("check", 9, "street-differs"),
    ]  # fmt: skip
    assert [str(rule["where"][0]) for rule in worst] == ["All in <bdi>Mill Bank</bdi>"] * 3


def test_no_more_than_five_rules_are_shown_and_no_notes(demo):
    rules = demo.audit.rules.assign(found=1)
    findings = pd.concat(_findings([1], rule) for rule in rules["rule"])
    worst = first_page(replace(demo, audit=replace(demo.audit, rules=rules, findings=findings)), _WORDS)["worst"]
    assert [rule["severity"] for rule in worst] == ["fail"] * 5
    notes = rules.assign(found=rules["severity"].eq("note").astype(int))
    assert first_page(replace(demo, audit=replace(demo.audit, rules=notes, findings=findings)), _WORDS)["worst"] == []


@pytest.mark.parametrize(
    ("districts", "streets", "shown"),
    [
        (["A", "A", "A"], ["X", "Y", "Z"], ["All in A"]),
        (["B", "A", "B"], ["X", "X", "Y"], ["Most often in B (2 of 3)", "2 on X"]),
        (["A", "B", "C"], ["X", "Y", "Z"], ["In 3 districts"]),
        ([None, None, None], [None, None, None], []),
    ],
)
def test_where_a_rules_cores_concentrate(demo, districts, streets, shown):
    rules = demo.audit.rules.assign(found=0)
    rules.loc[rules["rule"].eq("grout-short"), "found"] = 3
    table = demo.table.copy()
    table.loc[table["row"].le(3), "district"] = districts
    table.loc[table["row"].le(3), "street"] = streets
    audit = replace(demo.audit, rules=rules, findings=_findings([1, 2, 3], "grout-short"))
    (worst,) = first_page(replace(demo, table=table, audit=audit), _WORDS)["worst"]
    assert [text_of(where) for where in worst["where"]] == shown


def test_the_example_is_the_first_core_in_the_district_with_the_most(demo):
    rules = demo.audit.rules.assign(found=0)
    rules.loc[rules["rule"].eq("grout-short"), "found"] = 3
    table = demo.table.copy()
    table.loc[table["row"].le(3), "district"] = ["A", "B", "B"]
    findings = _findings([1, 2, 3], "grout-short").assign(core_id=["C1", None, "C3"])
    audit = replace(demo.audit, rules=rules, findings=findings)
    (worst,) = first_page(replace(demo, table=table, audit=audit), _WORDS)["worst"]
    assert (text_of(worst["core"]), text_of(worst["message"])) == ("(no id)", "Regrout it.")


def test_costs_are_shown_where_the_programme_sets_prices_and_nowhere_else(demo, first):
    assert "Cost" not in first
    bought = demo.orders.purchases
    dark = bought["item"].eq("grout dark")
    cost = (bought["packs_ordered"] * 14.5).where(dark)
    orders = demo.orders._replace(purchases=bought.assign(cost=cost, currency="CAD"))
    priced = first_page_of(draw_report(replace(demo, orders=orders)))
    money = f"<bdi>CA${bought.loc[dark, 'packs_ordered'].sum() * 14.5:,.2f}</bdi>"
    assert priced.count(money) == 2
    assert "Total of priced items" in priced
    assert priced.count("no price set") == 2


def test_a_total_of_all_items_is_called_so(demo):
    bought = demo.orders.purchases
    orders = demo.orders._replace(purchases=bought.assign(cost=bought["packs_ordered"] * 2.0, currency="CAD"))
    total = first_page(replace(demo, orders=orders), _WORDS)["total_cost"]
    assert total["is_complete"]
    assert text_of(total["total"]) == f"CA${bought['packs_ordered'].sum() * 2:,.2f}"


def test_checks_not_run_are_a_share_of_those_that_apply(demo):
    """30 of 120 lacked data: a quarter. What does not apply to a core is no part of it."""
    rules = demo.audit.rules.head(2).assign(assessed=[90, 0], not_assessed=[10, 20], found=0)
    shown = first_page(replace(demo, audit=replace(demo.audit, rules=rules)), _WORDS)["not_run"]
    assert shown == {"checks": 30, "of": 120, "share": "25.0%", "rules": 1}


@pytest.mark.parametrize(
    ("line", "shown"),
    [
        ({"unit": "kg", "order": 20, "packs": 1}, "1 bag, 20 kg"),
        ({"unit": "lb", "order": 2640, "packs": 48}, "48 bags, 2,640 lb"),
        ({"unit": "L", "order": 230.4, "packs": float("nan")}, "230 L"),
        ({"unit": "US gal", "order": 61, "packs": float("nan")}, "61 US gal"),
    ],
)
def test_an_amount_is_in_bags_and_what_they_hold(line, shown):
    assert text_of(amount(line, _WORDS)) == shown


def test_a_filter_that_excludes_rows_is_reported(demo, first):
    assert "filter" not in first
    register = replace(demo.inputs.register, rows_in_file=403)
    page = first_page_of(draw_report(replace(demo, inputs=replace(demo.inputs, register=register))))
    assert "filter excludes 3 of 403 rows in the register." in page


def test_rows_that_repeat_a_core_and_rows_set_aside_are_reported(demo, first):
    # the demo writes two rows twice
    assert "2 of 400 rows repeat a core that is counted in another row." in first
    assert "set aside" not in first
    total = pd.DataFrame({"register": ["cores"], "file": "cores.csv", "place": 9, "reason": "a total", "text": "Total"})
    register = replace(demo.inputs.register, set_aside=total, rows_in_file=401)
    page = first_page_of(draw_report(replace(demo, inputs=replace(demo.inputs, register=register))))
    assert "1 row holds no core and was set aside: see <code>set_aside.csv</code>." in page
    assert "filter" not in page


def test_a_register_without_a_reinstatement_date_is_named_with_its_number_of_cores(demo):
    """North has the first 100 rows, none of them a copy, and keeps no date of reinstatement."""
    assert not demo.cores["is_copy"].head(100).any()
    names = pd.Series("south", demo.cores.index, dtype="str").mask(demo.cores["row"].le(100), "north")
    kept = {"reinstated_at": frozenset({"south"})}
    inputs = replace(demo.inputs, register=replace(demo.inputs.register, kept=kept))
    (sentence,) = first_page(replace(demo, cores=demo.cores.assign(register=names), inputs=inputs), _WORDS)[
        "no_reinstatement"
    ]
    assert text_of(sentence) == (
        "Register north has no column for the reinstatement date: its 100 cores count as pending unless flagged."
    )
    assert first_page(demo, _WORDS)["no_reinstatement"] == []
