"""Orders: sums by district, rounded up to whole packs once."""

import datetime as dt

import numpy as np
import pandas as pd
import pytest

from pipeline.contracts import NO_DISTRICT
from pipeline.order import _sharing
from pipeline.order import order as order_stage
from pipeline.programme.catalogue import load_catalogue
from pipeline.programme.orders import Item, Ordering

_CATALOGUE = load_catalogue({}, "test")
_AS_OF = dt.date(2026, 9, 30)


_DAY = pd.Timestamp("2026-10-05")


def order(cores, catalogue, ordering=None, stock=None, **plan):
    return order_stage(cores, _stops(cores, **plan), catalogue, ordering, _AS_OF, stock)


def _stops(cores, day=_DAY, crew="Crew A", bags=None, task="reinstate"):
    """Return a plan of all open cores whose need is known: by default each has a mix of its own, on one Monday."""
    known = cores[cores["is_open"] & cores["bags"].notna()]
    number = range(1, len(known) + 1)
    stops = pd.DataFrame({"crew": crew, "day": day, "stop": number, "mix": number, "task": task}, index=known.index)
    opened = np.ceil(known["bags"]) if bags is None else bags
    return stops.assign(bags=opened, net_bags=known["bags"]).astype({"mix": "Int64", "bags": float})


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
        core_id=[f"A-{place}" for place in frame.index],
        row=range(1, len(frame) + 1),
        hole_mm=457.2,
        depth_believed_mm=200.0,
        register="North list",
        plated_on=pd.Series(pd.NaT, frame.index, dtype="datetime64[us, UTC]"),
        permit_expires_on=pd.Series(pd.NaT, frame.index, dtype="datetime64[us, UTC]"),
    )


def test_a_district_orders_the_bags_that_the_plan_opens():
    # 0.5 + 0.6 + 0.7 = 1.8 bags in a mix of 2 bags: 40 kg, 4 kg beyond the need
    cores = _cores(("A", "dark", 0.5, True), ("A", "dark", 0.6, True), ("A", "dark", 0.7, True))
    lines = order(cores, _CATALOGUE, bags=[1.0, 1.0, 0.0]).lines
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


def test_the_order_of_the_rows_changes_nothing():
    cores = _cores(*[("A", "dark", tenth, True) for tenth in (0.1, 0.2, 0.3, 0.15, 0.25)])
    stops = _stops(cores)
    one, other = (order_stage(rows, stops, _CATALOGUE, None, _AS_OF, None).lines for rows in (cores, cores.iloc[::-1]))
    pd.testing.assert_frame_equal(one, other, check_exact=True)


def test_cores_left_out_are_counted_with_their_reason():
    cores = _cores(
        (None, None, np.nan, True), ("A", None, np.nan, True), ("A", "dark", np.nan, True), ("A", "dark", 0.5, True)
    )
    cores["surface"] = ["unknown", "block paving", "asphalt", "asphalt"]
    cores["reinstatable"] = [False, False, True, True]
    orders = order(cores, _CATALOGUE)
    assert orders.cores == 1
    left = orders.left_out.set_index(["district", "reason"])[["cores", "core_ids"]].T.to_dict("list")
    assert left == {
        (NO_DISTRICT, "surface unknown"): [1, "A-0"],
        ("A", "surface not suitable for core reinstatement"): [1, "A-1"],
        ("A", "diameter or depth missing or implausible"): [1, "A-2"],
    }


def test_each_core_left_out_keeps_its_own_id_by_reason_and_district():
    cores = _cores(*[(district, "dark", np.nan, True) for district in "BAAB"])
    cores["core_id"] = ["N; 1", None, "N; 2", "N3"]
    cores["surface"] = ["unknown", "unknown", "unknown", "asphalt"]
    left = order(cores, _CATALOGUE).cores_left_out
    assert left["reason"].tolist() == ["diameter or depth missing or implausible"] + ["surface unknown"] * 3
    assert left["core_id"].fillna("").tolist() == ["N3", "", "N; 2", "N; 1"]


def test_an_open_core_that_the_plan_has_no_room_for_is_left_out_with_its_id():
    cores = _cores(("A", "dark", 0.5, True), ("A", "dark", 0.7, True))
    orders = order_stage(cores, _stops(cores.head(1)), _CATALOGUE, None, _AS_OF, None)
    assert orders.cores == 1
    assert orders.left_out.to_numpy().tolist() == [["A", "not planned", 1, "A-1"]]


def test_bags_without_sharing_are_one_mix_a_core():
    orders = order(_cores(("A", "dark", 0.5, True), ("A", "dark", 1.2, True), ("B", "pale", 0.5, True)), _CATALOGUE)
    assert orders.unshared_bags == {"dark": 3, "pale": 1}


def test_nothing_open_is_an_order_of_nothing():
    orders = order(_cores(("A", "dark", 0.5, False)), _CATALOGUE)
    assert orders.lines.empty
    assert orders.left_out.empty


def test_only_what_the_plan_reinstates_is_ordered_for():
    cores = _cores(("A", "dark", 0.5, True), ("A", "dark", 0.5, True), ("A", "dark", 0.5, True))
    stops = _stops(cores, task=["reinstate", "survey", "make safe"]).iloc[:2]
    orders = order_stage(cores, stops, _CATALOGUE, None, _AS_OF, None)
    assert orders.cores == 1
    assert orders.lines["needed"].tolist() == [10, 6.5, 1]
    assert orders.plan.index.tolist() == [0]


def test_a_core_belongs_to_the_period_of_its_day_and_to_the_visit_of_its_crew():
    cores = _cores(("A", "dark", 0.5, True), ("A", "dark", 0.5, True))
    later = [_DAY, _DAY + pd.Timedelta(days=7)]
    plan = order(cores, _CATALOGUE, day=later, crew=["Crew A", "Crew B"]).plan
    assert plan["period"].tolist() == ["2026-W41", "2026-W42"]
    assert plan["visit"].tolist() == ["2026-10-05, Crew A", "2026-10-12, Crew B"]


def test_half_bags_are_mixed_where_they_are_weighed_and_whole_ones_bought():
    cores = _cores(("A", "dark", 0.4, True), ("A", "dark", 1.3, True))
    orders = order(cores, _CATALOGUE, Ordering(half_bags=True), bags=[0.5, 1.5])
    assert orders.sharing[["alone", "shared"]].to_numpy().tolist() == [[2.0, 2.0]]
    grout = orders.lines[orders.lines["item"].eq("grout dark")].iloc[0]
    assert (grout["packs"], grout["order"]) == (2, 40)


def test_orders_add_up_to_the_needs_whatever_the_period():
    cores = _cores(*[("A", "dark", 0.1 + place / 97, True) for place in range(40)])
    day = _DAY + pd.to_timedelta(np.arange(40) * 3, unit="D")
    sums = [
        order(cores, _CATALOGUE, Ordering(period=period), day=day).lines.groupby("item")["needed"].sum()
        for period in ("week", "month", "all")
    ]
    assert len(order(cores, _CATALOGUE, day=day).lines["period"].unique()) > 10
    for one in sums:
        assert one["grout dark"] == pytest.approx(cores["grout_kg"].sum(), abs=1e-9)
        assert one["pea gravel"] == pytest.approx(cores["gravel_kg"].sum(), abs=1e-9)


def test_loads_are_what_a_crew_carries_in_the_first_seven_days_of_the_plan():
    cores = _cores(*[("A", "dark", 0.5, True)] * 3)
    days = _DAY + pd.to_timedelta([0, 6, 7], unit="D")
    loads = order(cores, _CATALOGUE, day=days).loads
    assert loads["day"].unique().tolist() == ["2026-10-05", "2026-10-11"]
    assert loads["cautions"].str.contains("live gas or water main").all()


def test_the_safety_stock_is_bought_beside_the_plan_and_the_yard_of_a_district_buys():
    cores = _cores(*[("A", "dark", 1.0, True)] * 60, *[("B", "dark", 1.0, True)] * 40)
    packing = {"grout dark": Item(price=10.0)}
    ordering = Ordering(yards={"A": "North", "B": "North"}, items=packing, currency="CAD")
    orders = order(cores, _CATALOGUE, ordering)
    grout = orders.purchases[orders.purchases["item"].eq("grout dark")].iloc[0]
    # each district's is rounded up to whole bags once
    beyond = np.ceil(orders.safety_stock["safety_stock"]).sum()
    assert beyond > 2
    assert grout[["yard", "packs_planned", "packs_safety_stock"]].tolist() == ["North", 100, beyond]
    assert grout["packs_ordered"] == 100 + beyond
    assert (grout["cost"], grout["currency"]) == (10 * grout["packs_ordered"], "CAD")
    total = orders.purchase_totals.set_index("item").loc["grout dark"]
    assert total["packs_ordered"] == total["packs_planned"] + total["packs_safety_stock"]
    assert orders.notices == []


def test_a_programme_that_names_no_yard_buys_for_one_place_and_is_asked_for_none():
    orders = order(_cores(("A", "dark", 1.0, True)), _CATALOGUE)
    assert orders.notices == []
    assert set(orders.purchases["yard"]) == {"(no yard)"}


def test_a_higher_level_of_service_asks_for_more():
    levels = order(_cores(*[("A", "dark", 1.0, True)] * 20), _CATALOGUE).service_levels
    enough = levels[levels["shade"].isna()].set_index("level")["enough"]
    assert enough.index.tolist() == [0.9, 0.95, 0.99]
    assert enough.is_monotonic_increasing


def test_a_need_that_is_a_mix_but_for_a_rounding_error_is_that_mix():
    """A hair more than 1.5 bags is three half bags and not four; 1.6 is four."""
    hair = np.nextafter(1.5, 2)
    cores = pd.DataFrame(
        {"district": "East", "shade": ["dark", "pale"], "bags": [hair, 1.6], "bags_opened": 2.0, "row": 1}
    )
    assert _sharing(cores, 0.5, ["district"])["alone"].tolist() == [1.5, 2.0]
