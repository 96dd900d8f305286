"""Surfaces and shades as registers and map layers write them."""

import pandas as pd
import pytest

from pipeline.catalogue import load_catalogue

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
