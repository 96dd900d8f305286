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


def _said(overrides):
    with pytest.raises(SettingsError) as error:
        load_catalogue(overrides, "p.toml")
    return str(error.value).splitlines()


@pytest.mark.parametrize(
    ("overrides", "said"),
    [
        (
            {"surfaces": {"asphalt": {"shade": "blue"}}},
            ("p.toml: catalogue.surfaces.asphalt.shade: found 'blue', expected one of: dark, pale. "
             "Correct it, or add it as a table to [catalogue.shades]."),
        ),
        (
            {"surfaces": {"asphalt": {"bedding": "sand"}}},
            ("p.toml: catalogue.surfaces.asphalt.bedding: found 'sand', expected one of: pea gravel. "
             "Correct it, or add it as a table to [catalogue.materials.bedding]."),
        ),
        (
            {"surfaces": {"unbound": {"reinstate": True, "shade": "dark"}}},
            ("p.toml: catalogue.surfaces.unbound: found reinstate = true without bedding, expected a shade and a bedding. "
             "Set them, or set reinstate = false."),
        ),
        (
            {"shades": {"pale": {"aliases": ["Charcoal"]}}},
            ("p.toml: catalogue.shades: found the alias 'charcoal' under 'dark' and 'pale', expected it under one of them. "
             "Remove it from the other."),
        ),
        (
            {"roads": {"local": {"aliases": ["alley"]}}},
            ("p.toml: catalogue.roads: found the alias 'alley' under 'local' and 'service', expected it under one of them. "
             "Remove it from the other."),
        ),
        (
            {"roads": {"local": {"width": "0 m"}}},
            "p.toml: catalogue.roads.local.width: found '0 m', expected at least 0.5 m and at most 200 m. Correct it.",
        ),
        (
            {"surfaces": {"asphalt": {"colour": "red"}}},
            ("p.toml: catalogue.surfaces.asphalt.colour: unknown key. Known here: source, aliases, reinstate, shade, "
             "bedding, is_rigid, kind_of, cautions. Correct it."),
        ),
        (
            {"tools": {}},
            "p.toml: catalogue.tools: unknown key. Known here: surfaces, shades, conditions, materials, roads, rules, street_words. Correct it.",
        ),
        (
            {"rules": {"pavement-thick": {}}},
            'p.toml: catalogue.rules.pavement-thick: no such rule. Did you mean "pavement-thin"? `kerfbook rules` lists them.',
        ),
        (
            {"materials": {"bedding": {"pea gravel": {"voids": "10 %"}}}},
            ("p.toml: catalogue.materials.bedding.pea gravel: found a bulk_density of 1.59 kg/L where particle_density and "
             "voids give 2.39 kg/L, expected a difference of at most 3 %. Correct it."),
        ),
    ],
)  # fmt: skip
def test_an_error_names_the_key_the_find_the_expectation_and_the_remedy(overrides, said):
    assert _said(overrides) == [said]


def test_every_contradiction_is_named_at_once():
    lines = _said({"surfaces": {"asphalt": {"shade": "blue", "bedding": "sand"}, "concrete": {"aliases": ["tarmac"]}}})
    assert len(lines) == 3
    assert all(line.startswith("p.toml: catalogue.surfaces") for line in lines)


def test_a_programme_may_add_a_shade_a_surface_and_a_class_of_road():
    catalogue = load_catalogue(
        {
            "shades": {"red": {"aliases": ["brick red"], "source": "own"}},
            "surfaces": {"coloured": {"aliases": ["red asphalt"], "reinstate": True, "shade": "red", "bedding": "pea gravel", "source": "own"}},
            "roads": {"quay": {"aliases": ["wharf"], "width": "18 m", "source": "own"}},
        },
        "p.toml",
    )  # fmt: skip
    assert catalogue.items == ["grout dark", "grout pale", "grout red", "pea gravel"]
    assert catalogue.surface_names(pd.Series(["Red Asphalt"], dtype="str"))[0] == "coloured"
    assert catalogue.road_widths_m(pd.Series(["wharf"], dtype="str"))[0] == 18


@pytest.mark.parametrize(
    ("written", "name", "width"),
    [("Residential", "local", 7), ("a road", "main", 12), ("trunk", "motorway", 14), ("cycleway", "footway", 2.5), ("lane_link", "", 7), (None, "", 7)],
)  # fmt: skip
def test_a_class_of_road_has_a_name_and_a_usual_width_and_an_unknown_one_that_of_other(written, name, width):
    cells = pd.Series([written], dtype="str")
    assert _CATALOGUE.road_classes(cells).fillna("")[0] == name
    assert _CATALOGUE.road_widths_m(cells)[0] == width


def test_a_changed_value_keeps_a_source_only_if_the_programme_gives_one():
    own = load_catalogue({"surfaces": {"asphalt": {"shade": "pale", "source": "Town specification"}}}, "p.toml")
    assert own.surfaces["asphalt"].source == "set by the programme: Town specification"
    named = load_catalogue({"surfaces": {"asphalt": {"shade": "pale"}}}, "p.toml", programme="Quay 2026")
    assert named.surfaces["asphalt"].source == "set by Quay 2026"


def test_what_a_programme_overrides_is_listed_by_its_dotted_key():
    overrides = {
        "surfaces": {"asphalt": {"aliases": ["flex"], "shade": "pale"}},
        "materials": {"grout": {"bag": "25 kg"}},
    }
    assert load_catalogue(overrides, "p.toml").overridden == {
        "catalogue.surfaces.asphalt.aliases": ["flex"],
        "catalogue.surfaces.asphalt.shade": "pale",
        "catalogue.materials.grout.bag": "25 kg",
    }
    assert load_catalogue({}, "p.toml").overridden == {}


def test_one_programme_leaves_the_catalogue_of_the_next_alone():
    load_catalogue({"surfaces": {"asphalt": {"shade": "pale", "aliases": ["flex"]}}}, "p.toml")
    again = load_catalogue({}, "p.toml").surfaces["asphalt"]
    assert again.shade == "dark"
    assert "flex" not in again.aliases


@pytest.mark.parametrize("written", [5, {"severity": "fail", "source": "ours"}, {}])
def test_a_rule_that_does_not_exist_is_refused_whatever_is_written_for_it(written):
    assert _said({"rules": {"open-to-long": written}}) == [
        'p.toml: catalogue.rules.open-to-long: no such rule. Did you mean "open-too-long"? `kerfbook rules` lists them.'
    ]


def _water_ratios(overrides):
    settings = load_catalogue(overrides, "p.toml", programme="Quay 2026").threshold_settings
    return [(one.written, one.source) for one in settings if one.name == "specified_ratio"][1:]


def test_a_programmes_own_bag_or_water_gives_the_ratio_that_the_rule_on_water_asks_for():
    """2.4 L for a bag of 20 kg is 0.12 L/kg; for one of 25 kg 0.096 L/kg."""
    source = "set by Quay 2026: its water per bag, by its bag"
    water = {"water_per_bag": {"value": "2.4 L", "source": "data sheet"}}
    assert _water_ratios({"materials": {"grout": water}}) == [("0.12 L/kg", source)]
    assert _water_ratios({"materials": {"grout": water | {"bag": "25 kg"}}}) == [("0.096 L/kg", source)]
    assert _water_ratios({"materials": {"grout": {"overfill": "10 %"}}}) == []
    assert "a table of thresholds" in _said({"materials": {"grout": water}, "rules": {"water-ratio-off": "off"}})[0]
    own = {"water-ratio-off": {"specified_ratio": "0.11 L/kg"}}
    assert _water_ratios({"materials": {"grout": water}, "rules": own}) == [("0.11 L/kg", "set by Quay 2026")]
