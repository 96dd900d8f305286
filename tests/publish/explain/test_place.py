"""Where a core is and why: error, candidates, chances, district; and what is said where nothing was weighed."""

import pytest

from pipeline.publish.explain.place import position_section, segment_section, surface_section
from tests.publish.explain.rows import SHOW, row, texts

_WEIGHED = {"choose": "likeliest", "name_right": 0.9, "names_near": 5}
_QUAY = {
    "segment_id": "S1", "street": "Quay Road", "distance_m": 2.0, "lines": 1, "half_width_m": 3.5,
    "position_likelihood": 0.1194831, "is_beyond_error": False, "name_match": 1.0, "name_likelihood": 0.92,
    "level_likelihood": 1.0, "chance": 0.98,
}  # fmt: skip
_LANE = _QUAY | {
    "segment_id": "S2",
    "street": None,
    "position_likelihood": 1.234e-9,
    "name_match": None,
    "chance": 0.02,
}


@pytest.mark.parametrize(
    ("source", "words"),
    [
        ("core", "(the core's own accuracy in the register)"),
        ("method", "(set by the programme for the method rtk)"),
        ("register", "(set by the programme for the register cores)"),
        ("programme", "(set by the programme for all positions without an accuracy)"),
        ("default", "(our default, as nobody stated one and no error was learnt)"),
    ],
)
def test_the_accuracy_is_shown_with_where_it_is_from(source, words):
    one = row(accuracy_from=source, position_method="rtk")
    error, metres = texts(position_section(one, "EPSG:32617", SHOW))
    assert error.startswith(f"95% of errors are within 5 m {words}. With the rounding")
    assert (
        metres == "In EPSG:32617: 400,000.00 m east, 4,950,000.00 m north. Road segments were looked for within 15 m."
    )


def test_a_learnt_error_is_explained_and_gives_no_radius():
    """The standard deviation of 2.04 m of the row is not shown either: it is no more certain than a radius."""
    learnt = row([_QUAY], accuracy_from="learnt", accuracy_used_m=None, street="Quay Rd")
    error, metres = texts(position_section(learnt, "EPSG:32617", SHOW))
    assert error.startswith(
        "Nobody stated an accuracy. The error of this position was learnt from the cores of cores without a stated accuracy: "
    )
    assert "2.04" not in error
    assert "95%" not in error
    assert metres.endswith("Road segments were looked for within 15 m.")
    said = texts(segment_section(learnt, _WEIGHED, SHOW))[-1]
    assert said.startswith("The register writes “Quay Rd”. The share of such names that are right was learnt")
    assert "90%" not in said


@pytest.mark.parametrize(
    ("by", "words"),
    [
        ("register", "from the cores of cores without a stated accuracy: from how"),
        ("crew", "from the cores of cores (crew: Crew South): from how"),
        ("contractor", "from the cores of cores (contractor: 42): from how"),
        ("position_method", "from the cores of cores (position method: none): from how"),
    ],
)
def test_a_learnt_error_is_that_of_the_crew_contractor_or_method_where_they_differ(by, words):
    learnt = row([_QUAY], accuracy_from="learnt", learnt_by=by, crew="Crew South", contractor="42")
    assert words in texts(position_section(learnt, "EPSG:32617", SHOW))[0]


@pytest.mark.parametrize("reason", ["few", "no better", "snapped", "equal", "beside", "widths"])
def test_the_default_is_explained_by_why_no_error_was_learnt(reason):
    _, why, _ = texts(position_section(row(accuracy_from="default", not_learnt=reason), "EPSG:32617", SHOW))
    assert why.startswith("No error was learnt: ")
    assert " cores " in why


def test_a_core_without_a_position_says_what_that_leaves_open():
    lost = row(x_m=None, segment_id=None)
    assert texts(position_section(lost, "EPSG:32617", SHOW))[0].startswith("The position cannot be used")
    assert texts(segment_section(lost, _WEIGHED, SHOW)) == ["Without a position there is no road segment."]


def test_candidates_come_by_chance_with_each_part_of_their_likelihood():
    said = texts(segment_section(row([_LANE, _QUAY], street="Quay Rd"), _WEIGHED, SHOW))
    assert said[0].startswith("On segment S1, Quay Road: 12.5 m along it, 2 m from its centreline, left of")
    assert said[1:9] == ["S1", "Quay Road", "2 m", "7 m", "0.1195", "100.0%: 0.92", "1", "98.0%"]
    assert said[9:17] == ["S2", "none", "2 m", "7 m", "1.234e-09", "no name to compare: 0.92", "1", "2.0%"]
    assert "The register writes “Quay Rd”. The programme assumes that 90% of such names are right" in said[-1]


def test_a_programme_that_takes_the_nearest_says_that_nothing_was_weighed():
    plain = dict.fromkeys(_QUAY) | {"segment_id": "S1", "street": "Quay Road", "distance_m": 2.0, "lines": 1}
    said = texts(segment_section(row([plain]), {"choose": "nearest"}, SHOW))
    assert said[1:4] == ["S1", "Quay Road", "2 m"]
    assert said[4].startswith("The programme assigns the nearest segment without weighing others")
    assert len(said) == 5


def test_a_core_out_of_reach_names_the_nearest_segment():
    said = texts(segment_section(row(segment_id=None, nearest_id="S9", nearest_m=20.5), _WEIGHED, SHOW))
    assert said == ["No road segment within reach. The nearest is S9, 20.5 m away."]


def test_what_is_beyond_the_error_and_what_has_several_lines_is_said():
    said = texts(segment_section(row([_QUAY | {"is_beyond_error": True, "lines": 3}]), _WEIGHED, SHOW))
    assert any(text.startswith("Every road lies further from the position") for text in said)
    assert any(text.startswith("A segment with several lines") for text in said)


def test_the_chances_of_each_surface_are_shown_with_their_source():
    chances = [
        {"surface": "concrete", "source": "segment", "chance": 0.25},
        {"surface": "asphalt", "source": "polygon", "chance": 0.75},
    ]
    said = texts(surface_section(row(surfaces=chances), SHOW))
    assert said[0] == "Surface: asphalt, from the road segment."
    assert said[1:7] == ["asphalt", "a surface polygon", "75.0%", "concrete", "the road segment", "25.0%"]
    assert said[7] == "Specified for this surface: grout of shade dark, bed of pea gravel."
    assert said[8] == "Outside every district."


def test_one_surface_alone_needs_no_table():
    said = texts(surface_section(row(surfaces=[{"surface": "asphalt", "source": "segment", "chance": 1.0}]), SHOW))
    assert said[1] == "No other surface lies within the error of the position."


def test_a_district_has_its_chance_or_the_distance_to_it():
    sure = row(district="Mill Bank", district_how="inside", district_confidence=0.9, district_next="Old Market")
    assert texts(surface_section(sure, SHOW))[-1] == (
        "District: Mill Bank, with a chance of 90.0%. Next likely: Old Market."
    )
    near = row(district="Mill Bank", district_how="gap", district_distance_m=4.0)
    assert texts(surface_section(near, SHOW))[-1] == (
        "Outside every district; assigned to the nearest, Mill Bank, 4 m away."
    )
