"""Rules on surface and shade."""

import pytest

from tests.audit.frames import REINSTATED, reinstated
from tests.audit.rules.cases import Case, sentence

CASES = {
    "surface-unknown": Case(
        breach={"surface": "unknown"},
        says="Neither the map nor the register gives the surface. Look at the road: without the surface no shade can be chosen and no materials ordered.",
        passes={},
        missing={"surface": "unknown", "x_m": None},
    ),
    "surface-differs": Case(
        breach={"surface_recorded_name": "concrete"},
        says='The register gives the surface as "asph", the surface layer as asphalt; the layer is used. Look at the road, and correct the one that is wrong.',
        passes={},
        missing={"surface_recorded_name": None},
    ),
    "surface-overlap": Case(
        breach={"surface_others": "concrete"},
        says="The surface layer shows both asphalt and concrete here; the smaller polygon, asphalt, is used. Look at the road, and correct the surface layer.",
        passes={},
        missing={"x_m": None},
    ),
    "surface-not-allowed": Case(
        breach={"surface": "block paving", "reinstatable": False},
        says="The surface, block paving, is not suitable for core reinstatement. Do not reuse the core: reinstate as the road authority specifies for this surface.",
        passes={},
        missing={"surface": None},
    ),
    "shade-differs": Case(
        breach=reinstated(shade_used="Grey", shade_used_name="pale"),
        says='Shade "Grey" was used on asphalt; the shade specified is dark. Agree the remedy with the road authority. If the core is to be reset, lift it by machine.',
        passes=reinstated(shade_used_name="dark"),
        missing=reinstated(shade_used_name="pale", shade=None),
    ),
    "shade-unreadable": Case(
        breach=reinstated(shade_used="as last time"),
        says='Shade "as last time" is not in the catalogue. Look at the core, and correct the register.',
        passes=reinstated(shade_used="n/a"),
        missing=reinstated(shade_used=None),
    ),
}


_UNKNOWN = {"is_open": False, "reinstated_at_problem": "unreadable"}


@pytest.mark.parametrize(
    ("slug", "state", "remedy"),
    [
        (
            "surface-unknown",
            REINSTATED,
            "Look at the road and record the surface: without it the shade used cannot be checked.",
        ),
        ("surface-unknown", _UNKNOWN, "Look at the road and record the surface."),
        (
            "surface-not-allowed",
            REINSTATED,
            "If the surface is right, agree the remedy with the road authority; lift by machine.",
        ),
        (
            "surface-not-allowed",
            _UNKNOWN,
            "Find out whether the core has been reinstated; if it has not, do not reuse it.",
        ),
    ],
)
def test_what_to_do_follows_from_the_state_of_the_core(slug, state, remedy):
    assert sentence(slug, {**CASES[slug].breach, **state}).endswith(f". {remedy}")


def test_the_layer_that_gives_the_surface_is_named():
    cells = {"surface_recorded": "Conc.", "surface_recorded_name": "concrete"}
    by_polygon = sentence("surface-differs", {**cells, "surface_from": "polygon"})
    by_segment = sentence("surface-differs", {**cells, "surface_from": "segment"})
    assert by_polygon.startswith('The register gives the surface as "Conc.", the surface layer as asphalt; the layer')
    assert by_segment.startswith('The register gives the surface as "Conc.", the road layer as asphalt; the layer')


def test_a_register_that_is_followed_since_it_knows_more_than_the_map_does_not_differ_from_it():
    cells = {"surface_recorded_name": "reinforced concrete", "surface_on_map": "concrete"}
    assert sentence("surface-differs", {**cells, "surface": "reinforced concrete"}) is None
    assert sentence("surface-differs", {**cells, "surface": "concrete"}) is not None


def test_a_surface_that_is_not_known_is_not_called_unsuitable():
    assert sentence("surface-not-allowed", {"surface": "unknown", "reinstatable": False}) is None


@pytest.mark.parametrize("said", ["n/a", "unknown", "-"])
def test_a_shade_that_says_nothing_is_no_finding(said):
    assert sentence("shade-unreadable", reinstated(shade_used=said)) is None


def test_an_open_core_has_no_wrong_shade():
    cells = CASES["shade-differs"].breach
    assert sentence("shade-differs", {**cells, "reinstated_at": None, "is_open": True}) is None
