"""Tests of quantities on the sheets of crews."""

import pytest

from pipeline.publish.plan.sheet_units import SheetUnits, in_us_unit
from pipeline.publish.words import words_of

_METRIC, _US = (SheetUnits(words_of("en"), units) for units in ("metric", "us"))


@pytest.mark.parametrize(
    ("value", "unit", "us", "expected"),
    [
        (457.2, "mm", "in", 18),  # an inch is 25.4 mm
        (100, "m", "ft", 328.084),  # a foot is 0.3048 m
        (3.785411784, "L", "gal", 1),  # a US gallon is 231 cubic inches
        (45.359237, "kg", "lb", 100),  # a pound is 0.45359237 kg
        (-40, "degC", "degF", -40),
        (100, "degC", "degF", 212),
    ],
)
def test_units_of_the_united_states_follow_their_definitions(value, unit, us, expected):
    assert in_us_unit(value, unit, us) == pytest.approx(expected, rel=1e-6)


def test_a_quantity_is_in_the_units_of_the_programme():
    assert _METRIC.one(450, "mm", "in") == "450 mm"
    assert _US.one(450, "mm", "in") == "17.7 in"
    assert _US.one(118.2, "kg", "lb") == "261 lb"
    assert _METRIC.air(8) == "8 °C"
    assert _US.air(8) == "46 °F"
