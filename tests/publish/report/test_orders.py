"""Orders in the report: by period and district, with order-by dates and what is not ordered."""

from dataclasses import replace

import pandas as pd
import pytest

from pipeline.contracts import NO_DATE
from pipeline.publish.report.orders import orders
from pipeline.publish.words import words_of
from tests.publish.report.pages import text_of

_WORDS = words_of("en")


@pytest.fixture(scope="module")
def shown(demo):
    return orders(demo, _WORDS)


def test_periods_have_their_cores_and_add_up(demo, shown):
    rows = {text_of(row["period"]): int(row["cores"]) for row in shown["plan_rows"]}
    assert rows == demo.orders.plan.groupby("period").size().to_dict()
    assert sum(rows.values()) == demo.orders.cores


def test_districts_have_their_bags_and_the_cores_that_are_not_ordered(demo, shown):
    lines = demo.orders.lines[demo.orders.lines["packs"].notna()]
    items = [text_of(item) for item in shown["items"]]
    for row in shown["ordered"]:
        name = text_of(row["district"])
        for item, bags in zip(items, row["packs"], strict=True):
            mine = lines[lines["district"].eq(name) & lines["item"].eq(item)]["packs"].sum()
            assert bags == (f"{int(mine):,}" if mine else "")
    assert sum(int(row["left"]) for row in shown["ordered"]) == demo.orders.left_out["cores"].sum()


def test_the_chart_is_cumulative_and_names_five_districts_and_all(demo, shown):
    description = str(shown["plan_chart"]).split("<desc")[1].split("</desc>")[0]
    lines = description.split(">")[1].split("; ")
    assert len(lines) == min(demo.orders.sharing["district"].nunique(), 5) + 1
    total = demo.orders.sharing["shared"].sum()
    assert lines[-1].startswith("All districts: ")
    assert f", {total:,.0f} (" in lines[-1]


def test_a_single_period_has_no_chart(demo):
    sharing = demo.orders.sharing.assign(period="all")
    assert orders(replace(demo, orders=demo.orders._replace(sharing=sharing)), _WORDS)["plan_chart"] is None


def test_without_a_date_the_period_has_a_sentence(demo):
    plan = pd.DataFrame({"period": [NO_DATE, "2026-W41"]})
    lines = demo.orders.lines.iloc[:2].assign(period=[NO_DATE, "2026-W41"], packs=1.0, item="grout dark")
    rows = orders(replace(demo, orders=demo.orders._replace(plan=plan, lines=lines)), _WORDS)["plan_rows"]
    assert {text_of(row["period"]) for row in rows} == {"no date", "2026-W41"}


def test_without_orders_there_is_nothing_to_show(demo):
    empty = demo.orders._replace(sharing=demo.orders.sharing.iloc[:0])
    shown = orders(replace(demo, orders=empty), _WORDS)
    assert (shown["plan_chart"], shown["plan_rows"], shown["ordered"]) == (None, [], [])
