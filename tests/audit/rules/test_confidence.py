"""Rules on how certain street, surface and district are."""

import pytest

from tests.audit.rules.cases import Case, sentence

CASES = {
    "road-uncertain": Case(
        breach={
            "segment_confidence": 0.79,
            "runner_up_id": "S2",
            "runner_up_street": "Back Lane",
            "runner_up_confidence": 0.21,
        },
        says="Road segment uncertain: most likely Quay (S1, 79%), possibly Back Lane (S2, 21%); at least 80% is required. Confirm the road segment before ordering or mixing grout.",
        passes={"segment_confidence": 0.99},
        on_limit={"segment_confidence": 0.8},
        missing={"segment_confidence": None},
    ),
    "street-differs": Case(
        breach={"name_match": 0.1, "street": "Mill Road", "street_matched": "Quay", "segment_confidence": 0.99},
        says='The register gives the street as "Mill Road", but the position is on Quay (at least 95% certain). Correct the one that is wrong.',
        passes={"name_match": 0.1, "segment_confidence": 0.9},
        on_limit={"name_match": 0.5},
        missing={"name_match": None},
    ),
    "surface-uncertain": Case(
        breach={
            "surface_confidence": 0.7,
            "surface_next": "concrete",
            "surface_next_confidence": 0.3,
            "surface_edge_m": 1.0,
        },
        says="Surface uncertain: most likely asphalt (70%), possibly concrete (30%), whose edge is 1.0 m away; at least 80% is required. Look at the road before choosing the shade.",
        passes={"surface_confidence": 0.9},
        on_limit={"surface_confidence": 0.8},
        missing={"surface_confidence": None},
    ),
    "district-uncertain": Case(
        breach={"district_confidence": 0.7, "district_next": "West", "district_next_confidence": 0.3},
        says="District uncertain: most likely Mill Bank (70%), possibly West (30%); at least 80% is required. Confirm which district the materials are for.",
        passes={"district_confidence": 0.9},
        on_limit={"district_confidence": 0.8},
        missing={"district_confidence": None},
    ),
}


_ROAD = CASES["road-uncertain"].breach
_REINSTATED = {"reinstated_at": "2026-09-12", "is_open": False}
_UNKNOWN = {"is_open": False, "reinstated_at_problem": "unreadable"}


@pytest.mark.parametrize(
    ("slug", "state", "remedy"),
    [
        ("road-uncertain", {}, "Confirm the road segment before ordering or mixing grout."),
        ("road-uncertain", _REINSTATED, "Confirm the road segment, and correct the record."),
        ("road-uncertain", _UNKNOWN, "Confirm the road segment."),
        ("surface-uncertain", {}, "Look at the road before choosing the shade."),
        ("surface-uncertain", _REINSTATED, "Look at the road, and check that the shade used matches it."),
        ("surface-uncertain", _UNKNOWN, "Look at the road, and record the surface."),
        ("district-uncertain", {}, "Confirm which district the materials are for."),
        ("district-uncertain", _REINSTATED, "No action needed."),
        ("district-uncertain", _UNKNOWN, "Confirm the district if the core is still open."),
    ],
)
def test_what_to_do_follows_from_the_state_of_the_core(slug, state, remedy):
    assert sentence(slug, {**CASES[slug].breach, **state}).endswith(f"is required. {remedy}")


@pytest.mark.parametrize(
    ("cells", "said"),
    [
        ({"street_matched": None}, "most likely an unnamed road (S1, 79%), possibly Back Lane (S2, 21%);"),
        ({"runner_up_street": None}, "most likely Quay (S1, 79%), possibly an unnamed road (S2, 21%);"),
        (
            {"street_matched": None, "runner_up_street": None},
            "most likely an unnamed road (S1, 79%), possibly an unnamed road (S2, 21%);",
        ),
        ({"runner_up_id": None, "runner_up_street": None, "runner_up_confidence": None}, "most likely Quay (S1, 79%);"),
    ],
)
def test_a_road_without_a_name_and_a_missing_second_road_read_well(cells, said):
    assert f"Road segment uncertain: {said} at least 80% is required." in sentence("road-uncertain", {**_ROAD, **cells})


def test_a_confidence_just_below_the_limit_does_not_read_as_the_limit():
    cells = {**_ROAD, "segment_confidence": 0.7996, "runner_up_confidence": 0.2004}
    assert "most likely Quay (S1, 79.96%), possibly Back Lane (S2, 20%)" in sentence("road-uncertain", cells)


def test_a_second_surface_of_another_segment_has_no_edge():
    said = sentence("surface-uncertain", {**CASES["surface-uncertain"].breach, "surface_edge_m": None})
    assert "possibly concrete (30%), as the road segments within reach differ;" in said


def test_a_core_that_may_lie_outside_every_district_says_so():
    cells = {"district_confidence": 0.7, "district_next": None, "district_next_confidence": None}
    assert "most likely Mill Bank (70%), possibly outside every district (30%);" in sentence(
        "district-uncertain", cells
    )


def test_the_street_of_an_uncertain_position_is_not_compared():
    differs = CASES["street-differs"].breach
    assert sentence("street-differs", {**differs, "segment_confidence": 0.96}) is not None
    assert sentence("street-differs", {**differs, "segment_confidence": 0.94}) is None
