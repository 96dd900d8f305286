"""Purchases against stock, lead time, shelf life and packing; every figure by hand."""

import datetime as dt

import pandas as pd
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from pipeline.contracts import ORDER_TABLES, check_frame
from pipeline.order.purchases import STOCK_COLUMNS, plan_purchases
from pipeline.programme.orders import Item, Ordering

_AS_OF = dt.date(2026, 9, 30)


def _demand(*packs, safety_stock=0.0, item="grout dark"):
    """So many packs in each week from Monday 5 October on."""
    starts = pd.date_range("2026-10-05", periods=len(packs), freq="7D")
    return pd.DataFrame(
        {"yard": "North", "item": item, "period": starts.strftime("%G-W%V"), "period_start": starts, "packs": [float(p) for p in packs], "safety_stock": safety_stock}
    )  # fmt: skip


def _stock(*rows):
    frame = pd.DataFrame(rows, columns=list(STOCK_COLUMNS))
    return frame.assign(arrives_on=pd.to_datetime(frame["arrives_on"]), expires_on=pd.to_datetime(frame["expires_on"]))


def _both(demand, *stock, keeps=(), transfer=None, **settings):
    return plan_purchases(demand, _stock(*stock), keeps, Ordering(**settings), _AS_OF, transfer)


def _plan(demand, *stock, **settings):
    return _both(demand, *stock, **settings).lines


def _two_yards(north, south):
    return pd.concat([_demand(*north), _demand(*south).assign(yard="South")], ignore_index=True)


def test_each_period_orders_what_it_lacks_a_lead_time_ahead():
    plan = _plan(_demand(3, 4), lead_time="3 day")
    assert plan["packs_ordered"].tolist() == [3, 4]
    assert plan["order_by"].dt.strftime("%Y-%m-%d").tolist() == ["2026-10-02", "2026-10-09"]
    assert plan["late_days"].tolist() == [0, 0]


def test_an_order_that_should_have_gone_out_says_how_many_days_ago():
    # Monday the 5th less 7 days is the 28th, two days before the audit
    assert _plan(_demand(3), lead_time="7 day")["late_days"].tolist() == [2]


def test_a_lead_time_of_part_of_a_day_takes_the_whole_day():
    assert _plan(_demand(3), lead_time="36 h")["order_by"].dt.strftime("%Y-%m-%d").tolist() == ["2026-10-03"]


def test_stock_on_hand_and_on_its_way_serves_first_and_only_once_it_is_there():
    plan = _plan(_demand(3, 4), ("North", "grout dark", 2, None, None), ("North", "grout dark", 9, "2026-10-12", None))
    assert plan["packs_from_stock"].tolist() == [2, 4]
    assert plan["packs_ordered"].tolist() == [1, 0]
    assert plan["packs_left"].tolist() == [9, 5]


def test_a_plan_that_buys_nothing_keeps_the_kinds_of_its_columns():
    """Ten packs on hand serve all three: nothing is ordered, so nothing is left of an order."""
    bought = _both(_demand(3), ("North", "grout dark", 10, None, None), keeps={"grout dark"})
    check_frame(bought.lines, ORDER_TABLES["purchases"], None, "order")
    check_frame(bought.totals, ORDER_TABLES["purchase_totals"], None, "order")
    assert bought.lines["rounding_packs"].tolist() == [0.0]


def test_the_stock_of_another_yard_or_item_serves_nobody_here():
    plan = _plan(_demand(3), ("South", "grout dark", 9, None, None), ("North", "grout pale", 9, None, None))
    assert plan["packs_ordered"].tolist() == [3]


def test_whole_pallets_leave_packs_for_later_periods():
    plan = _plan(_demand(3, 4, 5), items={"grout dark": Item(pallet=10)})
    assert plan["packs_ordered"].tolist() == [10, 0, 10]
    assert plan["pallets"].tolist() == [1, 0, 1]
    assert plan["packs_left"].tolist() == [7, 3, 8]


def test_the_fewest_packs_of_an_order_hold_before_pallets():
    plan = _plan(_demand(3), items={"grout dark": Item(pallet=4, minimum=10)})
    assert plan["packs_ordered"].tolist() == [12]


def test_what_expires_is_not_used_and_is_said():
    # ten packs that are good until Friday the 9th: three go, seven are lost before the 12th
    plan = _plan(_demand(3, 4), ("North", "grout dark", 10, None, "2026-10-09"))
    assert plan["packs_from_stock"].tolist() == [3, 0]
    assert plan["packs_expiring"].tolist() == [0, 7]
    assert plan["packs_ordered"].tolist() == [0, 4]


def test_leftovers_of_a_pallet_expire_too_and_gravel_never():
    expiring = _plan(_demand(3, 4), items={"grout dark": Item(pallet=10)}, shelf_life="6 day")
    assert expiring["packs_ordered"].tolist() == [10, 10]
    assert expiring["packs_expiring"].tolist() == [0, 7]
    gravel = _demand(3, 4, item="pea gravel")
    kept = _plan(gravel, items={"pea gravel": Item(pallet=10)}, shelf_life="6 day", keeps=["pea gravel"])
    assert kept["packs_ordered"].tolist() == [10, 0]
    assert kept["use_by"].isna().all()


def test_of_two_batches_the_first_to_expire_goes_first():
    stock = (("North", "grout dark", 5, None, "2026-12-01"), ("North", "grout dark", 5, None, "2026-10-20"))
    plan = _plan(_demand(5, 5, 5), *stock)
    assert plan["packs_from_stock"].tolist() == [5, 5, 0]
    assert plan["packs_expiring"].tolist() == [0, 0, 0]


def test_without_a_price_there_is_no_cost_column():
    assert "cost" not in _plan(_demand(3))
    priced = _plan(_demand(3), items={"grout dark": Item(price=12.5)}, currency="EUR")
    assert priced[["cost", "currency", "price"]].to_numpy().tolist() == [[37.5, "EUR", 12.5]]


def test_an_item_without_pallets_has_none_and_no_rounding():
    plan = _plan(_demand(28))
    assert plan["pallets"].isna().all()
    assert plan["rounding_packs"].tolist() == [0]


def test_what_rounding_to_pallets_costs_is_on_its_line():
    # ten of which three are used in the first week and four in the second: three are left over
    plan = _plan(_demand(3, 4), items={"grout dark": Item(pallet=10, price=12.5)})
    assert plan["rounding_packs"].tolist() == [3, 0]
    assert plan["rounding_cost"].tolist() == [37.5, 0]


def test_a_price_break_is_taken_where_it_pays():
    # 9 at 10.00 are 90.00, and 10 at 8.50 are 85.00
    breaks = [{"from": 10, "price": 8.5}]
    plan = _plan(_demand(9), items={"grout dark": Item(price=10, price_breaks=breaks)})
    assert plan[["packs_ordered", "price", "cost"]].to_numpy().tolist() == [[10, 8.5, 85.0]]
    # 8 at 10.00 are 80.00
    plan = _plan(_demand(8), items={"grout dark": Item(price=10, price_breaks=breaks)})
    assert plan[["packs_ordered", "price", "cost"]].to_numpy().tolist() == [[8, 10.0, 80.0]]


def test_yards_that_are_not_pooled_buy_for_themselves_and_the_saving_is_stated():
    # a pallet each, where one would do for both
    found = _both(_two_yards([3], [4]), items={"grout dark": Item(pallet=10, price=2)}, transfer=5)
    assert found.lines["packs_ordered"].tolist() == [10, 10]
    total = found.totals.iloc[0]
    assert (total["packs_apart"], total["packs_pooled"]) == (20, 10)
    # three packs are moved, for three tenths of a pallet
    assert (total["cost_apart"], total["cost_pooled"]) == (40, 21.5)


def test_pooled_yards_supply_each_other_at_a_cost():
    found = _both(_two_yards([3], [4]), items={"grout dark": Item(pallet=10, price=2)}, transfer=5, pool=True)
    north, south = found.lines.to_dict("records")
    assert (south["packs_ordered"], south["transferred_out"]) == (10, 3)
    assert (north["packs_ordered"], north["transferred_in"], north["transfer_cost"]) == (0, 3, 1.5)
    total = found.totals.iloc[0]
    assert (total["value"], total["bound"], total["gap"]) == (pytest.approx(21.5), pytest.approx(21.5), 0)


def test_nothing_is_moved_where_moving_costs_more_than_a_pallet():
    found = _both(_two_yards([3], [4]), items={"grout dark": Item(pallet=10, price=2)}, transfer=100, pool=True)
    assert found.lines["packs_ordered"].tolist() == [10, 10]
    assert found.lines["transferred_in"].tolist() == [0, 0]


def test_a_district_without_a_yard_gets_packs_and_no_pallets():
    demand = pd.concat([_demand(3), _demand(4).assign(yard="(no yard)")], ignore_index=True)
    found = _both(demand, items={"grout dark": Item(pallet=10, minimum=10)})
    lines = found.lines.set_index("yard")
    assert lines.loc["(no yard)", "packs_ordered"] == 4
    assert pd.isna(lines.loc["(no yard)", "pallets"])
    assert lines.loc["North", "packs_ordered"] == 10


def test_the_totals_say_what_was_bought_beside_what_was_planned():
    found = _both(
        _demand(3, 4, safety_stock=1.0),
        ("North", "grout dark", 2, None, None),
        items={"grout dark": Item(pallet=5, price=2)}, currency="CAD",
    )  # fmt: skip
    total = found.totals.iloc[0]
    # 7 planned and 2 beyond less 2 in stock are 7: two pallets of 5
    assert total[["packs_planned", "packs_safety_stock", "stock_used", "packs_ordered", "rounding_packs"]].tolist() == [
        7, 2, 2, 10, 3,
    ]  # fmt: skip
    assert total[["cost", "rounding_cost", "currency", "measure"]].tolist() == [20, 6, "CAD", "cost"]


def test_without_a_price_the_packs_are_kept_few():
    total = _both(_demand(3), items={"grout dark": Item(pallet=10)}).totals.iloc[0]
    assert (total["measure"], total["value"], total["bound"]) == ("packs", 10, 10)
    assert pd.isna(total["cost"])


def test_nothing_needed_is_nothing_bought():
    found = _both(_demand())
    assert found.lines.empty
    assert found.totals.empty


@settings(max_examples=40, deadline=None)
@given(st.lists(st.integers(0, 30), min_size=1, max_size=8), st.integers(1, 12), st.integers(0, 40), st.integers(1, 60))
def test_nothing_is_lost_between_yard_order_and_need(packs, pallet, on_hand, life):
    """What was there and what was bought is used, left or expired; and every period gets what it needs."""
    plan = _plan(
        _demand(*packs),
        ("North", "grout dark", on_hand, None, None),
        items={"grout dark": Item(pallet=pallet)},
        shelf_life=f"{life} day",
    )
    used, bought, expired = sum(packs), plan["packs_ordered"].sum(), plan["packs_expiring"].sum()
    assert on_hand + bought == pytest.approx(used + expired + plan["packs_left"].iloc[-1])
    assert (plan["packs_ordered"] % pallet == 0).all()
    # what was never used is said to come from rounding, or was there before
    unused_stock = on_hand + bought - used - plan["rounding_packs"].sum()
    assert 0 <= unused_stock <= on_hand


def test_periods_are_served_in_the_order_of_their_days_however_the_demand_is_sorted():
    """Ten packs until Friday the 9th: the first week takes them, and nothing is left for the second."""
    stock = ("North", "grout dark", 10, None, "2026-10-09")
    forward, backward = (_plan(demand, stock) for demand in (_demand(3, 4), _demand(3, 4).iloc[::-1]))
    assert backward["packs_from_stock"].tolist() == [3, 0]
    pd.testing.assert_frame_equal(forward, backward)


def test_without_pallets_a_transfer_is_paid_by_the_pack():
    """South needs three packs at 10, North has three too many: three transfers at 2 are 6, and nothing is bought."""
    stock = ("North", "grout dark", 4, None, None)
    bought = _both(_two_yards((1,), (3,)), stock, transfer=2.0, pool=True, items={"grout dark": Item(price=10)})
    lines = bought.lines.set_index("yard")
    assert lines["packs_ordered"].to_dict() == {"North": 0, "South": 0}
    assert lines["transferred_in"].to_dict() == {"North": 0, "South": 3}
    assert lines["transfer_cost"].to_dict() == {"North": 0, "South": 6}
    assert bought.totals["transfer_cost"].tolist() == [6]


def test_an_order_of_exactly_as_many_has_the_price_from_there_on_even_a_higher_one():
    """10 up to four packs, 12 from five on, as for a second delivery: five packs are 60."""
    packing = Item(price=10, price_breaks=[{"from": 5, "price": 12}])
    bought = _both(_demand(5), items={"grout dark": packing})
    assert bought.lines["cost"].tolist() == [60]
    assert bought.totals["value"].tolist() == [60]
