"""What each yard needs by item and period: planned packs, and the safety stock spread over them."""

import numpy as np
import pandas as pd
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from pipeline.contracts import ORDER_COLUMNS
from pipeline.order.demand import demand_of, yards_asked_for
from pipeline.programme.orders import Item, Ordering

_STARTS = pd.Series(pd.date_range("2026-10-05", periods=4, freq="7D"), index=["W41", "W42", "W43", "W44"])
_YARDS = Ordering(yards={"East": "North yard", "West": "North yard"})


def _lines(*rows):
    frame = pd.DataFrame(rows, columns=["district", "period", "item", "packs"])
    return frame.reindex(columns=list(ORDER_COLUMNS)).astype({"packs": "Int64"})


def _safety(*rows):
    return pd.DataFrame(rows, columns=["district", "shade", "safety_stock"])


def test_the_districts_of_a_yard_are_added_up_and_water_is_not_bought():
    lines = _lines(("East", "W41", "grout dark", 3), ("West", "W41", "grout dark", 4), ("East", "W41", "water", None))
    demand = demand_of(lines, _STARTS, _safety(), _YARDS)
    assert demand[["yard", "item", "period", "packs", "safety_stock"]].to_numpy().tolist() == [
        ["North yard", "grout dark", "W41", 7, 0]
    ]
    assert demand["period_start"].tolist() == [pd.Timestamp("2026-10-05")]


def test_the_safety_stock_is_whole_and_follows_the_planned_bags():
    # five for ten bags: 1 of the first 2, 2 and a half of the first 5, which is 3, then 5
    lines = _lines(*[("East", period, "grout dark", packs) for period, packs in [("W41", 2), ("W42", 3), ("W43", 5)]])
    demand = demand_of(lines, _STARTS, _safety(("East", "dark", 5.0), ("East", "pale", 0.0)), _YARDS)
    assert demand["safety_stock"].tolist() == [1, 2, 2]
    assert demand["packs"].tolist() == [2, 3, 5]


def test_a_shade_without_planned_bags_has_its_safety_stock_in_the_first_period():
    demand = demand_of(_lines(("East", "W42", "grout dark", 2)), _STARTS, _safety(("West", "pale", 1.2)), _YARDS)
    assert demand[["item", "period", "packs", "safety_stock"]].to_numpy().tolist() == [
        ["grout dark", "W42", 2, 0],
        ["grout pale", "W41", 0, 2],
    ]


@settings(max_examples=15, deadline=None)
@given(st.lists(st.integers(0, 20), min_size=1, max_size=4), st.integers(0, 300))
def test_no_safety_stock_is_lost_and_none_is_added(packs, tenths):
    lines = _lines(*[("East", period, "grout dark", one) for period, one in zip(_STARTS.index, packs, strict=False)])
    demand = demand_of(lines, _STARTS, _safety(("East", "dark", tenths / 10)), _YARDS)
    assert demand["safety_stock"].sum() == -(-tenths // 10)
    assert (demand["safety_stock"] >= 0).all()


def test_a_district_without_a_yard_is_asked_for_by_name():
    ordering = Ordering(yards={"East": "North yard", "West": "South yard"})
    lines = _lines(("East", "W41", "grout dark", 3), ("Quay", "W41", "grout dark", 4))
    demand = demand_of(lines, _STARTS, _safety(), ordering)
    assert demand["yard"].tolist() == ["(no yard)", "North yard"]
    (notice,) = yards_asked_for(["Quay", "East", "Quay"], ordering, [])
    assert notice == (
        '[orders.yards] names no yard for "Quay", so what it needs is listed under the yard "(no yard)", in packs '
        'without pallets. Add a line such as "Quay" = "North yard".'
    )


@pytest.mark.parametrize(
    ("ordering", "with_stock"), [(Ordering(yards={"East": "North yard"}), []), (Ordering(), ["Quay"])]
)
def test_with_one_yard_or_with_stock_of_its_own_a_district_is_not_asked_for(ordering, with_stock):
    assert yards_asked_for(["Quay"], ordering, with_stock) == []


def test_a_programme_that_names_no_yard_is_asked_for_one_only_where_it_has_pallets():
    assert yards_asked_for(["Quay"], Ordering(), []) == []
    (notice,) = yards_asked_for(["Quay"], Ordering(items={"grout dark": Item(pallet=10)}), [])
    assert notice.startswith('[orders.yards] names no yard for "Quay"')


def _one_by_one(lines, safety):
    """Return the safety stock of each district, item and period, one district and shade after the other."""
    found = {}
    for district, shade, bags in safety.itertuples(index=False):
        item, whole = f"grout {shade}", -(-int(bags * 10) // 10)
        mine = lines[lines["district"].eq(district) & lines["item"].eq(item)].sort_values("period")
        if mine.empty and whole:
            found[district, item, "W41"] = whole
        begun = 0
        for number, period in enumerate(mine["period"]):
            until = -(-whole * int(mine["packs"].iloc[: number + 1].sum()) // int(mine["packs"].sum()))
            found[district, item, period] = until - begun
            begun = until
    return {key: value for key, value in found.items() if value}


@pytest.mark.parametrize("seed", range(10))
def test_the_safety_stock_of_many_districts_is_that_of_each_by_itself(seed):
    random = np.random.default_rng(seed)
    names, shades = [f"D{at}" for at in range(8)], ["dark", "pale"]
    rows = [
        (name, period, f"grout {shade}", int(random.integers(1, 30)))
        for name in names
        for shade in shades
        for period in _STARTS.index
        if random.random() < 0.4
    ]
    lines = _lines(*[rows[at] for at in random.permutation(len(rows))])
    safety = _safety(*[(name, shade, int(random.integers(0, 90)) / 10) for name in names for shade in shades])
    apart = Ordering(yards={name: name for name in names})
    demand = demand_of(lines, _STARTS, safety, apart)
    found = demand[demand["safety_stock"].gt(0)].set_index(["yard", "item", "period"])["safety_stock"]
    assert found.to_dict() == _one_by_one(lines, safety)


def test_rows_are_by_yard_item_and_period_however_the_lines_are_sorted():
    rows = [
        ("West", "W42", "pea gravel"),
        ("West", "W41", "grout dark"),
        ("East", "W42", "grout dark"),
        ("East", "W41", "grout dark"),
    ]
    ordering = Ordering(yards={"East": "North yard", "West": "South yard"})
    demand = demand_of(_lines(*[(*row, 1) for row in rows]), _STARTS, _safety(), ordering)
    assert demand[["yard", "item", "period"]].to_numpy().tolist() == [
        ["North yard", "grout dark", "W41"],
        ["North yard", "grout dark", "W42"],
        ["South yard", "grout dark", "W41"],
        ["South yard", "pea gravel", "W42"],
    ]
