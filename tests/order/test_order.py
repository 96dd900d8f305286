"""Orders: sums by district, rounded up to whole packs once."""

import datetime as dt

import numpy as np
import pandas as pd
import pytest

from pipeline.contracts import NO_DISTRICT
from pipeline.order import order as order_stage
from pipeline.programme.catalogue import load_catalogue
from pipeline.programme.orders import Item, Ordering

_CATALOGUE = load_catalogue({}, "test")
_AS_OF = dt.date(2026, 9, 30)


def order(cores, catalogue, ordering=None, stock=None):
    return order_stage(cores, catalogue, ordering, _AS_OF, stock)


def _cores(*rows):
    frame = pd.DataFrame(rows, columns=["district", "shade", "bags", "is_open"])
    return frame.assign(
        district=frame["district"].astype("str"),
        shade=frame["shade"].astype("str"),
        bedding=pd.Series(np.where(frame["shade"].notna(), "pea gravel", None), dtype="str"),
        grout_kg=frame["bags"] * 20,
        water_l_needed=frame["bags"] * 2,
        gravel_kg=frame["bags"] * 0 + 6.5,
        core_kg=80.0,
        state="open",
        urgency=None,
        surface="asphalt",
        reinstatable=True,
        is_copy=False,
        is_thin=False,
        # all planned for one Monday, by one crew, in one place
        planned_on=pd.Series(pd.Timestamp("2026-10-05", tz="UTC"), frame.index).astype("datetime64[us, UTC]"),
        opened_on=pd.Series(pd.NaT, frame.index, dtype="datetime64[us, UTC]"),
        allowed_days=30.0,
        crew="Crew A",
        core_id=[f"A-{place}" for place in frame.index],
        row=range(1, len(frame) + 1),
        segment_id="S1",
        chainage_m=0.0,
        x_m=0.0,
        y_m=0.0,
        hole_mm=457.2,
        depth_believed_mm=200.0,
    )


def test_a_district_orders_whole_bags_of_the_sum_and_not_of_each_core():
    # 0.5 + 0.6 + 0.7 = 1.8 bags: 2 bags, 40 kg, 4 kg beyond the need
    lines = order(
        _cores(("A", "dark", 0.5, True), ("A", "dark", 0.6, True), ("A", "dark", 0.7, True)), _CATALOGUE
    ).lines
    grout = lines[lines["item"].eq("grout dark")].iloc[0]
    assert grout["needed"] == pytest.approx(36)
    assert (grout["order"], grout["packs"], grout["unit"], grout["period"]) == (40, 2, "kg", "2026-W41")
    assert grout["reserve"] == pytest.approx(4)
    gravel = lines[lines["item"].eq("pea gravel")].iloc[0]
    assert (gravel["needed"], gravel["order"], gravel["packs"]) == (pytest.approx(19.5), 25, 1)
    water = lines[lines["item"].eq("water")].iloc[0]
    assert (water["needed"], water["order"], water["unit"]) == (pytest.approx(3.6), 4, "L")


def test_shades_and_districts_are_kept_apart_and_closed_cores_are_not_ordered_for():
    lines = order(
        _cores(("A", "dark", 0.5, True), ("A", "pale", 0.5, True), ("B", "dark", 0.5, True), ("B", "dark", 9.0, False)),
        _CATALOGUE,
    ).lines
    packs = lines[lines["item"].str.startswith("grout")].set_index(["district", "item"])["packs"]
    assert packs.to_dict() == {("A", "grout dark"): 1, ("A", "grout pale"): 1, ("B", "grout dark"): 1}


def test_ten_tenths_of_a_bag_are_one_bag_in_any_order():
    rows = [("A", "dark", tenth, True) for tenth in (0.1, 0.2, 0.3, 0.15, 0.25)]
    forward = order(_cores(*rows), _CATALOGUE).lines
    backward = order(_cores(*rows[::-1]), _CATALOGUE).lines
    assert forward["packs"].iloc[0] == 1
    pd.testing.assert_frame_equal(forward, backward, check_exact=True)


def test_cores_left_out_are_counted_with_their_reason():
    cores = _cores(
        (None, None, np.nan, True), ("A", None, np.nan, True), ("A", "dark", np.nan, True), ("A", "dark", 0.5, True)
    )
    cores["surface"] = ["unknown", "block paving", "asphalt", "asphalt"]
    cores["reinstatable"] = [False, False, True, True]
    orders = order(cores, _CATALOGUE)
    assert orders.cores == 1
    left = orders.left_out.set_index(["district", "reason"])["cores"].to_dict()
    assert left == {
        (NO_DISTRICT, "surface unknown"): 1,
        ("A", "surface not suitable for core reinstatement"): 1,
        ("A", "diameter or depth missing or implausible"): 1,
    }


def test_bags_without_sharing_are_one_mix_a_core():
    orders = order(_cores(("A", "dark", 0.5, True), ("A", "dark", 1.2, True), ("B", "pale", 0.5, True)), _CATALOGUE)
    assert orders.unshared_bags == {"dark": 3, "pale": 1}


def test_nothing_open_is_an_order_of_nothing():
    orders = order(_cores(("A", "dark", 0.5, False)), _CATALOGUE)
    assert orders.lines.empty
    assert orders.left_out.empty


def test_a_sum_over_a_whole_bag_by_a_rounding_error_is_that_whole_bag():
    # 29 equal parts of three bags add up to 60.00000000000001 kg
    cores = _cores(*[("A", "dark", 3 / 29, True)] * 29).assign(grout_kg=60 / 29)
    grout = order(cores, _CATALOGUE).lines.iloc[0]
    assert grout["needed"] > 60
    assert grout["packs"] == 3


def test_cores_of_another_day_crew_or_place_take_mixes_of_their_own():
    rows = [("A", "dark", 0.5, True)] * 2
    both = _cores(*rows)
    assert order(both, _CATALOGUE).lines["packs"].iloc[0] == 1
    later = both["planned_on"] + pd.to_timedelta([0, 1], unit="D")
    for change in ({"planned_on": later}, {"crew": ["Crew A", "Crew B"]}, {"x_m": [0.0, 5000.0]}):
        orders = order(both.assign(**change), _CATALOGUE)
        assert orders.lines["packs"].iloc[0] == 2, change
        assert orders.sharing[["alone", "shared", "bound"]].to_numpy().tolist() == [[2.0, 2.0, 2.0]]


def test_half_bags_are_mixed_where_they_are_weighed_and_whole_ones_bought():
    cores = _cores(("A", "dark", 0.4, True), ("A", "dark", 1.3, True)).assign(x_m=[0.0, 5000.0])
    orders = order(cores, _CATALOGUE, Ordering(half_bags=True))
    assert orders.sharing["shared"].tolist() == [2.0]
    assert order(cores, _CATALOGUE).sharing["shared"].tolist() == [3.0]
    grout = orders.lines[orders.lines["item"].eq("grout dark")].iloc[0]
    assert (grout["packs"], grout["order"]) == (2, 40)


def test_orders_add_up_to_the_needs_whatever_the_period():
    cores = _cores(*[("A", "dark", 0.1 + place / 97, True) for place in range(40)])
    cores["planned_on"] = cores["planned_on"] + pd.to_timedelta(np.arange(40) * 3, unit="D")
    sums = [
        order(cores, _CATALOGUE, Ordering(period=period)).lines.groupby("item")["needed"].sum()
        for period in ("week", "month", "all")
    ]
    assert len(order(cores, _CATALOGUE).lines["period"].unique()) > 10
    for one in sums:
        assert one["grout dark"] == pytest.approx(cores["grout_kg"].sum(), abs=1e-9)
        assert one["pea gravel"] == pytest.approx(cores["gravel_kg"].sum(), abs=1e-9)


def test_loads_are_what_a_crew_carries_in_the_next_seven_days():
    cores = _cores(
        ("A", "dark", 0.5, True), ("A", "dark", 0.7, True), ("A", "pale", 0.5, True), ("A", "dark", 0.5, True)
    )
    cores.loc[3, "planned_on"] = pd.Timestamp("2026-10-07", tz="UTC")  # the eighth day
    loads = order(cores, _CATALOGUE).loads
    assert loads["day"].unique().tolist() == ["2026-10-05"]
    carry = loads.set_index("item")[["carry", "packs"]].T.to_dict("list")
    # 1.2 bags of dark are two, and each of the three bags takes its two litres
    assert carry["grout dark"] == [40, 2]
    assert carry["grout pale"] == [20, 1]
    assert carry["water"][0] == 6
    assert loads["core_ids"].unique().tolist() == ["A-0; A-1; A-2"]
    assert loads["cautions"].str.contains("live gas or water main").all()


def test_the_safety_stock_is_bought_beside_the_plan_and_the_yard_of_a_district_buys():
    cores = _cores(*[("A", "dark", 1.0, True)] * 60, *[("B", "dark", 1.0, True)] * 40)
    packing = {"grout dark": Item(price=10.0)}
    ordering = Ordering(yards={"A": "North", "B": "North"}, items=packing, currency="CAD")
    orders = order(cores, _CATALOGUE, ordering)
    grout = orders.purchases[orders.purchases["item"].eq("grout dark")].iloc[0]
    share = (
        orders.safety_stock.set_index("district")["safety_stock"]
        / orders.safety_stock.set_index("district")["expected"]
    )
    assert (share > 0.02).all()
    assert (grout["yard"], grout["packs_planned"]) == ("North", 100)
    assert grout["packs_safety_stock"] == pytest.approx(60 * share["A"] + 40 * share["B"])
    assert grout["packs_ordered"] == np.ceil(100 + grout["packs_safety_stock"])
    assert (grout["cost"], grout["currency"]) == (10 * grout["packs_ordered"], "CAD")


def test_a_higher_level_of_service_asks_for_more():
    levels = order(_cores(*[("A", "dark", 1.0, True)] * 20), _CATALOGUE).service_levels
    enough = levels[levels["shade"].isna()].set_index("level")["enough"]
    assert enough.index.tolist() == [0.9, 0.95, 0.99]
    assert enough.is_monotonic_increasing
