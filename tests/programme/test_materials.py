"""Materials: values, ranges, and what contradicts itself."""

import pytest
from pydantic import ValidationError

from pipeline.programme.materials import Bedding, Geometry, Grout

_SOURCE = {"source": "test"}


def _kerf(**keys):
    entry = {"value": "9 mm", **_SOURCE}
    geometry = dict.fromkeys(("pilot_hole", "gap"), entry) | {
        "kerf": entry | keys,
        "bed_fill": {"value": "10 %", **_SOURCE},
    }
    return Geometry.model_validate(geometry).kerf


def _said(make, *arguments, **keys):
    with pytest.raises(ValidationError) as error:
        make(*arguments, **keys)
    return [details["msg"].removeprefix("Value error, ") for details in error.value.errors()]


def test_a_value_without_a_range_is_its_own_range():
    kerf = _kerf()
    assert (kerf.least, kerf.value, kerf.most) == (9, 9, 9)


@pytest.mark.parametrize(
    ("keys", "ends"),
    [({"low": "5 mm"}, (5, 9)), ({"high": "1 cm"}, (9, 10)), ({"low": "9 mm", "high": "9 mm"}, (9, 9))],
)
def test_a_range_may_have_either_end(keys, ends):
    kerf = _kerf(**keys)
    assert (kerf.least, kerf.most) == ends


@pytest.mark.parametrize("keys", [{"low": "9.1 mm"}, {"high": "8.9 mm"}, {"low": "12 mm", "high": "5 mm"}])
def test_a_value_outside_its_range_is_refused_in_the_unit_people_write(keys):
    (said,) = _said(_kerf, **keys)
    low, high = keys.get("low", "9 mm"), keys.get("high", "9 mm")
    assert said == f"found a value of 9 mm in a range from {low} to {high}, expected it within the range"


def test_a_share_outside_its_range_is_told_in_percent():
    grout = {
        "bag": {"value": "20 kg", **_SOURCE}, "water_per_bag": {"value": "2 L", **_SOURCE}, "firm_after": {"value": "20 min", **_SOURCE},
        "wet_density": {"value": "2.15 kg/L", **_SOURCE}, "overfill": {"value": "40 %", "low": "0 %", "high": "30 %", **_SOURCE},
        "most_waste": {"value": "10 %", **_SOURCE},
    }  # fmt: skip
    assert _said(Grout.model_validate, grout) == [
        "found a value of 40 % in a range from 0 % to 30 %, expected it within the range"
    ]


@pytest.mark.parametrize(
    ("shipped", "written", "least"), [("5 mm", "9 mm", 5), ("5 mm", "4 mm", 4), ("5 mm", "5 mm", 5)]
)
def test_a_shipped_lower_end_widens_to_the_value_of_a_programme(shipped, written, least):
    assert _kerf(value=written, low={"shipped": shipped}).least == least


def test_a_shipped_upper_end_widens_to_the_value_of_a_programme():
    assert _kerf(value="12 mm", high={"shipped": "10 mm"}).most == 12
    assert _kerf(value="9 mm", high={"shipped": "10 mm"}).most == 10


@pytest.mark.parametrize(("key", "written"), [("value", "-1 mm"), ("value", "9 kg"), ("low", "9"), ("high", 10)])
def test_a_dimension_below_zero_or_without_its_unit_is_refused(key, written):
    with pytest.raises(ValidationError):
        _kerf(**{key: written})


def test_a_value_needs_a_source_and_nothing_but_its_keys():
    with pytest.raises(ValidationError, match="source"):
        _kerf(source="")
    with pytest.raises(ValidationError, match="colour"):
        _kerf(colour="red")


def _bed(bulk="1590 kg/m^3", particle="2650 kg/m^3", voids="40 %"):
    values = {"thickness": "25 mm", "bulk_density": bulk, "particle_density": particle, "voids": voids, "pack": "25 kg"}
    return Bedding.model_validate({name: {"value": value, **_SOURCE} for name, value in values.items()})


def test_a_bed_comes_in_kilograms_per_litre_and_fractions_of_one():
    bed = _bed()
    # 2.65 kg/L x (1 - 0.40) = 1.59 kg/L
    assert (bed.bulk_density.value, bed.particle_density.value, bed.voids.value) == pytest.approx((1.59, 2.65, 0.4))


@pytest.mark.parametrize(
    ("bulk", "is_refused"),
    [("1637 kg/m^3", False), ("1545 kg/m^3", False), ("1640 kg/m^3", True), ("1543 kg/m^3", True)],
)
def test_densities_and_voids_may_differ_by_three_percent(bulk, is_refused):
    """1.59 / 1.03 = 1.5437 and 1.59 / 0.97 = 1.6392 are the ends."""
    if is_refused:
        (said,) = _said(_bed, bulk)
        assert said.startswith("found a bulk_density of ")
        assert said.endswith("particle_density and voids give 1.59 kg/L, expected a difference of at most 3 %")
    else:
        _bed(bulk)
