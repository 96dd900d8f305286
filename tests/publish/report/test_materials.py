"""The materials in the report: in whole bags, what to buy, and the cost."""

from dataclasses import replace

import pytest

from pipeline.publish.report.materials import amount, materials
from pipeline.publish.report.report import draw_report
from pipeline.publish.words import words_of
from tests.publish.report.pages import table_of, text_of

_WORDS = words_of("en")


@pytest.fixture(scope="module")
def page(demo):
    return draw_report(demo)


def test_each_item_has_the_bags_needed_and_the_bags_to_buy(demo, page):
    table = " ".join(page.split())
    lines, bought = demo.orders.lines, demo.orders.purchases
    for item in ("grout dark", "grout pale", "pea gravel"):
        mine = lines[lines["item"].eq(item)]
        bags = bought.loc[bought["item"].eq(item), "packs_ordered"].sum()
        needed = f"{int(mine['packs'].sum())} bags ({mine['order'].sum():,.0f} kg)"
        assert f'<bdi>{item}</bdi></th><td class="n">{needed}</td><td class="n">{bags} bags</td>' in table
    assert f"Materials to reinstate {demo.orders.cores} open cores, 20% overfill included" in page
    assert f"{demo.orders.left_out['cores'].sum()} open cores not ordered: surface or size missing" in page


def test_costs_are_shown_where_the_programme_sets_prices_and_nowhere_else(demo):
    free = demo.orders._replace(purchases=demo.orders.purchases.drop(columns=["cost", "currency"]))
    assert "Cost" not in table_of(draw_report(replace(demo, orders=free)), "materials-needed")
    bought = demo.orders.purchases
    dark = bought["item"].eq("grout dark")
    cost = (bought["packs_ordered"] * 14.5).where(dark)
    orders = demo.orders._replace(purchases=bought.assign(cost=cost, currency="CAD"))
    priced = table_of(draw_report(replace(demo, orders=orders)), "materials-needed")
    money = f"<bdi>CA${bought.loc[dark, 'packs_ordered'].sum() * 14.5:,.2f}</bdi>"
    assert priced.count(money) == 2
    assert "Total of priced items" in priced
    assert priced.count("no price set") == 2


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
