"""Orders: sums by district, rounded up to whole packs once."""

import numpy as np
import pandas as pd
import pytest

from pipeline.catalogue import load_catalogue
from pipeline.order import NO_DISTRICT, order

_CATALOGUE = load_catalogue({}, "test")


def _cores(*rows):
    frame = pd.DataFrame(rows, columns=["district", "shade", "bags", "is_open"])
    return frame.assign(
        district=frame["district"].astype("str"),
        shade=frame["shade"].astype("str"),
        bedding=pd.Series(np.where(frame["shade"].notna(), "pea gravel", None), dtype="str"),
        grout_kg=frame["bags"] * 20,
        water_l_needed=frame["bags"] * 2,
        gravel_kg=frame["bags"] * 0 + 6.5,
        surface="asphalt",
        reinstatable=True,
        is_copy=False,
        is_thin=False,
    )


def test_a_district_orders_whole_bags_of_the_sum_and_not_of_each_core():
    # 0.5 + 0.6 + 0.7 = 1.8 bags: 2 bags, 40 kg, 4 kg beyond the need
    lines = order(
        _cores(("A", "dark", 0.5, True), ("A", "dark", 0.6, True), ("A", "dark", 0.7, True)), _CATALOGUE
    ).lines
    grout = lines[lines["item"].eq("grout dark")].iloc[0]
    assert grout["needed"] == pytest.approx(36)
    assert (grout["order"], grout["packs"], grout["unit"], grout["period"]) == (40, 2, "kg", "all")
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
        (NO_DISTRICT, "surface not known"): 1,
        ("A", "surface takes no core back"): 1,
        ("A", "diameter or depth not known or not to be believed"): 1,
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
