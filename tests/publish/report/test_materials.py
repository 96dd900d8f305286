"""The materials in the report: in whole bags, what to buy, and the cost."""

from dataclasses import replace

import pytest
from markupsafe import escape

from pipeline.publish.report.materials import amount, materials
from pipeline.publish.report.report import draw_report
from pipeline.publish.safety_notes import safety_notes
from pipeline.publish.words import words_of
from tests.publish.report.pages import table_of, text_of

_WORDS = words_of("en")


@pytest.fixture(scope="module")
def page(demo):
    return draw_report(demo)


def test_grout_has_the_five_terms_side_by_side(demo, page):
    head = text_of(table_of(page, "materials-needed").split("</thead>")[0].split("<thead>")[1])
    assert head == "Grout Net grout Bags to mix Rounding surplus Safety stock To buy Cost"
    lines, bought = demo.orders.lines, demo.orders.purchases
    table = text_of(table_of(page, "materials-needed"))
    for item in ("grout dark", "grout pale"):
        mine, buy = lines[lines["item"].eq(item)], bought[bought["item"].eq(item)]
        mixed = mine["packs"].sum()
        net = mine["needed"].sum()
        # a bag holds 20 kg
        terms = f"{net:,.0f} kg {mixed} bags ({20 * mixed:,.0f} kg) {20 * mixed - net:,.0f} kg"
        bags = f"{buy['packs_safety_stock'].sum():.0f} bags {buy['packs_ordered'].sum()} bags"
        assert f"{item} {terms} {bags} " in table


def test_gravel_and_water_have_what_is_needed_exactly_and_in_whole_bags(demo, page):
    lines, bought = demo.orders.lines, demo.orders.purchases
    table = text_of(table_of(page, "materials-others"))
    gravel = lines[lines["item"].eq("pea gravel")]
    bags = bought.loc[bought["item"].eq("pea gravel"), "packs_ordered"].sum()
    shown = f"{int(gravel['packs'].sum())} bags ({gravel['order'].sum():,.0f} kg) {bags} bags"
    assert f"pea gravel {gravel['needed'].sum():,.0f} kg {shown}" in table
    assert "grout" not in table


def test_cores_that_are_not_ordered_are_counted_with_every_possible_reason(demo, page):
    assert f"Grout to reinstate {demo.orders.cores} open cores, 20% overfill included" in page
    left_out = demo.orders.left_out["cores"].sum()
    assert f"{left_out} open cores not ordered: not planned, surface or size missing, or not suitable" in page


def test_the_safety_stock_is_explained_beside_what_is_bought(demo, page):
    notes = safety_notes(demo, _WORDS)
    assert len(notes) > 4
    assert all(escape(note) in page for note in notes)


def test_costs_are_shown_where_the_programme_sets_prices_and_nowhere_else(demo):
    free = demo.orders._replace(purchases=demo.orders.purchases.drop(columns=["cost", "currency"]))
    assert "Cost" not in table_of(draw_report(replace(demo, orders=free)), "materials-needed")
    bought = demo.orders.purchases
    dark = bought["item"].eq("grout dark")
    cost = (bought["packs_ordered"] * 14.5).where(dark)
    orders = demo.orders._replace(purchases=bought.assign(cost=cost, currency="CAD"))
    priced = table_of(draw_report(replace(demo, orders=orders)), "materials-needed")
    money = f"<bdi>CA${bought.loc[dark, 'packs_ordered'].sum() * 14.5:,.2f}</bdi>"
    assert priced.count(money) == 1
    assert priced.count("no price set") == 1
    page = draw_report(replace(demo, orders=orders))
    assert f"To buy in all, of the items with a price: {money}." in page
    assert table_of(page, "materials-others").count("no price set") == 1


def test_what_is_bought_is_said_beside_what_is_planned(demo, page):
    for total in demo.orders.purchase_totals.to_dict("records"):
        assert f"{total['item']}: {total['packs_ordered']:.0f} packs to buy: {total['packs_planned']:.0f}" in page


def test_a_total_of_all_items_is_called_so(demo):
    bought = demo.orders.purchases
    orders = demo.orders._replace(purchases=bought.assign(cost=bought["packs_ordered"] * 2.0, currency="CAD"))
    total = materials(replace(demo, orders=orders), _WORDS)["total_cost"]
    assert total["is_complete"]
    assert text_of(total["total"]) == f"CA${bought['packs_ordered'].sum() * 2:,.2f}"


@pytest.mark.parametrize(
    ("line", "shown"),
    [
        ({"unit": "kg", "order": 20, "packs": 1}, "1 bag (20 kg)"),
        ({"unit": "lb", "order": 2640, "packs": 48}, "48 bags (2,640 lb)"),
        ({"unit": "L", "order": 230.4, "packs": float("nan")}, "230 L"),
        ({"unit": "US gal", "order": 61, "packs": float("nan")}, "61 US gal"),
    ],
)
def test_an_amount_is_in_bags_and_what_they_hold(line, shown):
    assert text_of(amount(line, _WORDS)) == shown
