"""The section ``[orders]``: defaults, quantities with units, and what is derived from them."""

import pytest
from pydantic import ValidationError

from pipeline.programme.orders import NO_YARD, Item, Ordering


def test_an_empty_section_has_the_defaults():
    ordering = Ordering()
    assert (ordering.period, ordering.units) == ("week", "metric")
    assert (ordering.lead_time_days, ordering.shelf_life_days) == (7, 180)
    assert (ordering.waste, ordering.service_level) == (0.02, 0.95)
    assert ordering.items == {}


@pytest.mark.parametrize(("half_bags", "smallest"), [(False, 1.0), (True, 0.5)])
def test_the_smallest_mix_is_a_whole_bag_unless_half_bags_are_weighed(half_bags, smallest):
    assert Ordering(half_bags=half_bags).smallest_mix == smallest


@pytest.mark.parametrize(
    "wrong",
    [
        {"period": "day"},
        {"units": "imperial"},
        {"lead_time": "7 km"},
        {"lead_time": "7"},
        {"lead_time": "-1 day"},
        {"shelf_life": "0 day"},
        {"working_time": "0 min"},
        {"speed": "5 kg"},
        {"waste": "100 %"},
        {"service_level": "0 %"},
        {"service_level": "100 %"},
        {"waste": "51 %"},
        {"waste": "-1 %"},
        {"lead_time": "3000000 day"},
        {"yards": {"Mill Bank": " "}},
        {"yards": {"Mill Bank": "North yard", "mill bank": "South yard"}},
        {"items": {"grout dark": {}, "Grout  dark": {}}},
        {"resrve": "5 %"},
    ],
)
def test_a_value_that_cannot_be_is_refused(wrong):
    with pytest.raises(ValidationError):
        Ordering(**wrong)


@pytest.mark.parametrize(
    "wrong",
    [
        {"pallet": 0},
        {"minimum": 0},
        {"price": -1},
        {"price": float("nan")},
        {"pallet": True},
        {"pallet": "10"},
        {"pack": 3},
        {"price_breaks": [{"from": 100, "price": 13}]},
        {"price": 14, "price_breaks": [{"from": 100, "price": 13}, {"from": 50, "price": 12}]},
        {"price": 14, "price_breaks": [{"from": 1, "price": 13}]},
        {"price": 14, "price_breaks": [{"price": 13}]},
    ],
)
def test_an_item_that_cannot_be_sold_so_is_refused(wrong):
    with pytest.raises(ValidationError):
        Item(**wrong)


def test_nothing_can_be_changed_afterwards():
    with pytest.raises(ValidationError):
        Ordering().period = "month"


_ORDERING = Ordering(
    yards={"Mill Bank": "North yard", "Old Market": " north  YARD"},
    items={"Grout dark": {"pallet": 10}},
)


@pytest.mark.parametrize(
    ("district", "yard"),
    [("Mill Bank", "North yard"), ("MILL BANK ", "North yard"), ("Old Market", "North yard"), ("Quay", "Quay")],
)
def test_a_district_has_the_yard_named_for_it_else_its_own(district, yard):
    assert _ORDERING.yard_of(district) == yard


@pytest.mark.parametrize(
    ("yards", "with_stock", "buyer"),
    [
        ({"Mill Bank": "North yard", "Harbourside": "South yard", "quay": "West yard"}, (), "West yard"),
        ({"Mill Bank": "North yard", "Harbourside": "South yard"}, (), NO_YARD),
        ({"Mill Bank": "North yard", "Harbourside": "north YARD"}, (), "North yard"),
        ({}, (), NO_YARD),
        ({}, ("QUAY",), "QUAY"),
    ],
)
def test_a_district_is_bought_for_by_its_yard_or_by_the_only_one(yards, with_stock, buyer):
    assert Ordering(yards=yards).supplier_of("Quay", with_stock) == buyer


def test_an_item_without_a_stated_pallet_has_none():
    assert Item().pallet is None


def test_an_item_is_sold_as_named_for_it_else_singly():
    assert _ORDERING.packing_of("grout dark").pallet == 10
    assert _ORDERING.packing_of("grout pale") == Item()


@pytest.mark.parametrize(
    ("key", "value", "instead"),
    [
        ("cores_per_week", 10, "[[crews]]"),
        ("cores_per_week_by_district", {"Quay": 3}, "[[crews]]"),
        ("share_within", "300 m", "working_time and speed"),
        ("detour", 1.3, "[plan] detour"),
    ],
)
def test_a_key_of_earlier_versions_is_refused_with_what_replaces_it(key, value, instead):
    with pytest.raises(ValidationError) as error:
        Ordering(**{key: value})
    assert f"found the key {key}, which is no longer used, expected" in str(error.value)
    assert instead in str(error.value)
