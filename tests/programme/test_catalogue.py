"""Surfaces and shades as registers and map layers write them."""

import pandas as pd
import pytest

from pipeline.errors import SettingsError
from pipeline.programme.catalogue import load_catalogue

_CATALOGUE = load_catalogue({}, "test")


@pytest.mark.parametrize(
    ("written", "surface"),
    [
        ("Asphalt", "asphalt"),
        (" ASPH. ", "asphalt"),
        ("Hot-Mix  Asphalt", "asphalt"),
        ("chipseal", "asphalt"),
        ("Conc.", "concrete"),
        ("concrete:plates", "concrete"),
        ("AC/PCC", "composite"),
        ("Asphalt over concrete", "composite"),
        ("sidewalk", "concrete footway"),
        ("paving_stones", "block paving"),
        ("unhewn_cobblestone", "block paving"),
        ("sett", "block paving"),
        ("fine_gravel", "unbound"),
        ("Unpaved", "unbound"),
        ("paved", "unknown"),
        ("n/a", "unknown"),
        # several parts count if all that name a surface name one
        ("paved;cobblestone", "block paving"),
        ("asphalt;tarmac", "asphalt"),
    ],
)
def test_a_surface_is_known_by_its_aliases(written, surface):
    assert _CATALOGUE.surface_names(pd.Series([written], dtype="str"))[0] == surface


@pytest.mark.parametrize("written", ["sett;asphalt", "marble", "marble;asphalt", None, "asphaltish"])
def test_what_names_no_surface_or_two_has_no_name(written):
    assert _CATALOGUE.surface_names(pd.Series([written], dtype="str")).isna()[0]


def test_openstreetmap_values_of_paved_and_unpaved_roads_are_all_known():
    # the values that its wiki documents for key surface=*, from memory
    values = [
        "paved",
        "asphalt",
        "chipseal",
        "concrete",
        "concrete:lanes",
        "concrete:plates",
        "paving_stones",
        "paving_stones:lanes",
        "grass_paver",
        "sett",
        "unhewn_cobblestone",
        "cobblestone",
        "bricks",
        "unpaved",
        "compacted",
        "fine_gravel",
        "gravel",
        "shells",
        "rock",
        "pebblestone",
        "ground",
        "dirt",
        "earth",
        "grass",
        "mud",
        "sand",
        "woodchips",
        "clay",
    ]
    assert _CATALOGUE.surface_names(pd.Series(values, dtype="str")).notna().all()


def test_shades_are_known_by_what_crews_write():
    shades = _CATALOGUE.shade_names(pd.Series(["Dark", "charcoal", "light-grey", "PALE", "medium", None], dtype="str"))
    assert shades.fillna("").tolist() == ["dark", "dark", "pale", "pale", "", ""]


def _kerf(written):
    return load_catalogue({"materials": {"geometry": {"kerf": written}}}, "p.toml").materials.geometry.kerf


def test_the_uncertain_values_have_the_ranges_that_are_shipped():
    geometry, grout = _CATALOGUE.materials.geometry, _CATALOGUE.materials.grout
    found = {
        name: (one.least, one.most)
        for name, one in (
            ("kerf", geometry.kerf),
            ("pilot hole", geometry.pilot_hole),
            ("gap", geometry.gap),
            ("bed fill", geometry.bed_fill),
            ("overfill", grout.overfill),
            ("wet density", grout.wet_density),
        )
    }
    assert found == {
        "kerf": (5, 10),
        "pilot hole": (25, 50),
        "gap": (6, 19),
        "bed fill": (0, 1),
        "overfill": (0, 0.3),
        "wet density": (2.0, 2.3),
    }


def test_a_value_without_a_range_has_none_but_itself():
    voids = _CATALOGUE.materials.bedding["pea gravel"].voids
    assert (voids.least, voids.most) == (voids.value, voids.value)


@pytest.mark.parametrize(
    ("written", "least", "value", "most"),
    [
        ("8 mm", 5, 8, 10),
        ({"value": "8 mm"}, 5, 8, 10),
        # a value beyond the shipped range widens it, on its side alone
        ("12 mm", 5, 12, 12),
        ({"value": "4 mm"}, 4, 4, 10),
        ({"value": "12 mm", "low": "11 mm"}, 11, 12, 12),
        ({"value": "12 mm", "low": "11 mm", "high": "13 mm"}, 11, 12, 13),
        ({"low": "8.5 mm"}, 8.5, 9, 10),
    ],
)
def test_a_programmes_own_value_lies_in_its_range(written, least, value, most):
    kerf = _kerf(written)
    assert (kerf.least, kerf.value, kerf.most) == (least, value, most)


@pytest.mark.parametrize(
    ("written", "said"),
    [
        # 9 mm, as shipped, is above 8 mm
        ({"high": "8 mm"}, "found a value of 9 mm in a range from 5 mm to 8 mm"),
        ({"value": "8 mm", "low": "8.5 mm"}, "found a value of 8 mm in a range from 8.5 mm to 10 mm"),
        ({"value": "8 mm", "low": "7 kg"}, "catalogue.materials.geometry.kerf.low: found '7 kg'"),
        ({"value": "8 mm", "low": {"far": "7 mm"}}, "catalogue.materials.geometry.kerf.low: found None"),
        ({"value": "8 mm", "hihg": "9 mm"}, 'unknown key. Did you mean "high"?'),
    ],
)
def test_a_range_that_does_not_hold_its_value_or_cannot_be_read_is_refused(written, said):
    with pytest.raises(SettingsError) as error:
        _kerf(written)
    assert said in str(error.value)


def test_a_value_that_cannot_be_read_is_said_once():
    with pytest.raises(SettingsError) as error:
        _kerf("8 kg")
    assert str(error.value).count("\n") == 0
