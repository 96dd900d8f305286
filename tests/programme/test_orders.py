"""The section ``[orders]``: defaults, quantities with units, and what is derived from them."""

import pytest
from pydantic import ValidationError

from pipeline.programme.orders import Item, Ordering


def test_an_empty_section_has_the_defaults():
    ordering = Ordering()
    assert (ordering.period, ordering.units) == ("week", "metric")
    assert (ordering.lead_time_days, ordering.shelf_life_days) == (7, 180)
    assert (ordering.waste, ordering.service_level) == (0.02, 0.95)
    assert ordering.items == {}


def test_the_reach_is_working_time_times_speed_over_the_detour():
    # 10 min at 5 km/h are 833 m by road, and 641 m in a straight line
    assert Ordering().reach_m == pytest.approx(10 / 60 * 5000 / 1.3)
    assert Ordering(working_time="6 min", speed="10 km/h", detour=1).reach_m == pytest.approx(1000)


@pytest.mark.parametrize(("share_within", "reach_m"), [("250 m", 250), ("0.5 km", 500), ("0 m", 0), ("100 ft", 30.48)])
def test_a_stated_reach_goes_before_the_working_time(share_within, reach_m):
    assert Ordering(share_within=share_within).reach_m == pytest.approx(reach_m)


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
        {"detour": 0.9},
        {"share_within": "-1 m"},
        {"waste": "100 %"},
        {"service_level": "0 %"},
        {"service_level": "100 %"},
        {"waste": "51 %"},
        {"waste": "-1 %"},
        {"cores_per_week": 0},
        {"cores_per_week": -1},
        {"cores_per_week": float("nan")},
        {"cores_per_week_by_district": {"Mill Bank": -1}},
        {"detour": float("inf")},
        {"lead_time": "3000000 day"},
        {"share_within": "1e99 m"},
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
    cores_per_week=10,
    cores_per_week_by_district={"Mill Bank": 2.5},
    items={"Grout dark": {"pallet": 10}},
)


@pytest.mark.parametrize(
    ("district", "yard"),
    [("Mill Bank", "North yard"), ("MILL BANK ", "North yard"), ("Old Market", "North yard"), ("Quay", "Quay")],
)
def test_a_district_has_the_yard_named_for_it_else_its_own(district, yard):
    assert _ORDERING.yard_of(district) == yard


@pytest.mark.parametrize(("district", "rate"), [("mill bank", 2.5), ("Quay", 10)])
def test_a_district_has_the_rate_named_for_it_else_the_one_for_all(district, rate):
    assert _ORDERING.cores_per_week_in(district) == rate
    assert Ordering().cores_per_week_in(district) is None


def test_an_item_is_sold_as_named_for_it_else_singly():
    assert _ORDERING.packing_of("grout dark").pallet == 10
    assert _ORDERING.packing_of("grout pale") == Item()
