"""Pairs of limits: the lower never above the higher, wherever both apply."""

import pytest

from pipeline.audit.limit_pairs import crossed_limits, pilot_hole_without_room
from pipeline.programme.catalogue import load_catalogue
from pipeline.programme.thresholds import ThresholdSetting


def _setting(name, written, **scope):
    return ThresholdSetting("rule", name, written, "test", "programme", scope), float(written.split()[0])


_RANGE = [_setting("min_depth", "25 mm"), _setting("max_depth", "1000 mm")]


def test_limits_in_order_and_equal_ones_are_sound():
    assert crossed_limits(_RANGE) == []
    assert crossed_limits([*_RANGE, _setting("min_depth", "1000 mm")]) == []


def test_a_least_value_above_the_largest_is_named_with_both():
    assert crossed_limits([*_RANGE, _setting("min_depth", "1001 mm")]) == [
        "found min_depth = '1001 mm' with max_depth = '1000 mm', expected min_depth at most max_depth"
    ]


def test_only_the_settings_in_force_count():
    assert crossed_limits([_setting("min_depth", "2000 mm"), *_RANGE]) == []


def test_a_limit_for_certain_roads_is_held_against_the_one_in_force_there():
    crossed = crossed_limits([*_RANGE, _setting("max_depth", "20 mm", road_class="footway")])
    assert crossed == [
        "found min_depth = '25 mm' with max_depth = '20 mm' for road class footway, expected min_depth at most max_depth"
    ]
    both = [
        *_RANGE,
        _setting("max_depth", "20 mm", road_class="footway"),
        _setting("min_depth", "10 mm", road_class="Footway "),
    ]
    assert crossed_limits(both) == []


def test_limits_of_two_scopes_meet_where_both_apply():
    here = [
        *_RANGE,
        _setting("max_depth", "300 mm", road_class="footway"),
        _setting("min_depth", "400 mm", surface="concrete"),
    ]
    (crossed,) = crossed_limits(here)
    assert "for surface concrete and road class footway, expected" in crossed
    apart = [
        *_RANGE,
        _setting("max_depth", "300 mm", road_class="footway"),
        _setting("min_depth", "400 mm", road_class="main"),
    ]
    assert crossed_limits(apart) == []


@pytest.mark.parametrize(("supplier", "is_sound"), [("1 degC", True), ("0 degC", False), ("-5 degC", False)])
def test_the_suppliers_temperature_lies_above_that_at_which_nothing_hardens(supplier, is_sound):
    pair = [_setting("supplier_temperature", supplier), _setting("datum_temperature", "0 degC")]
    assert (crossed_limits(pair) == []) == is_sound


def test_a_limit_without_a_partner_crosses_nothing():
    assert crossed_limits([_setting("min_clear", "300 mm"), _setting("max_cores", "2")]) == []


@pytest.mark.parametrize(
    ("least", "pilot", "is_sound"),
    [
        # 100 mm - 2 x 9 mm = 82 mm
        ("100 mm", "38.1 mm", True),
        ("100 mm", "81.9 mm", True),
        ("100 mm", "82 mm", False),
        ("50 mm", "38.1 mm", False),
        ("0 mm", "38.1 mm", False),
    ],
)
def test_the_smallest_plausible_core_has_room_for_the_pilot_hole(least, pilot, is_sound):
    geometry = load_catalogue({"materials": {"geometry": {"pilot_hole": pilot}}}, "p").materials.geometry
    assert (pilot_hole_without_room([_setting("min_diameter", least)], geometry) is None) == is_sound


def test_a_least_diameter_that_is_replaced_needs_no_room():
    geometry = load_catalogue({}, "p").materials.geometry
    replaced = [_setting("min_diameter", "20 mm"), _setting("min_diameter", "100 mm")]
    assert pilot_hole_without_room(replaced, geometry) is None
    assert pilot_hole_without_room(replaced[::-1], geometry) == (
        "found min_diameter = '20 mm', which leaves a core of 2 mm within a kerf of 9 mm, expected one wider than the "
        "pilot hole of 38.1 mm"
    )
