"""Rules on where a core lies."""

import pandas as pd
import pytest

from pipeline.audit.registry import AuditContext
from tests.audit.frames import AS_OF
from tests.audit.rules.cases import Case, bound_rule, cores_like, sentence

CASES = {
    "position-missing": Case(
        breach={"position_problem": "missing", "x_m": None},
        says="No coordinates are recorded, so the core cannot be shown on the map. Measure its position on site.",
        passes={"position_problem": "zero"},
    ),
    "position-unreadable": Case(
        breach={"position_problem": "unreadable"},
        says='Coordinates "-82.2", "44.8" are not numbers. Correct the coordinates in the register.',
        passes={"position_problem": "missing"},
        missing={"x_text": None},
    ),
    "position-zero": Case(
        breach={"position_problem": "zero"},
        says="The coordinates are 0, 0: the device had no fix. Take the position again on site.",
        passes={"position_problem": "missing"},
        missing={"x_text": None},
    ),
    "position-out-of-range": Case(
        breach={"position_problem": "out of range"},
        says='Coordinates "-82.2", "44.8" are outside the range of the register\'s coordinate system. Correct the coordinates in the register.',
        passes={"position_problem": "missing"},
        missing={"x_text": None},
    ),
    "position-projected": Case(
        breach={"position_problem": "projected"},
        says='Coordinates "-82.2", "44.8" are in metres or feet, but the register\'s columns are in degrees. Convert them to degrees in the register.',
        passes={"position_problem": "missing"},
        missing={"x_text": None},
    ),
    "position-sign-lost": Case(
        breach={"position_problem": "sign lost"},
        says='Coordinates "-82.2", "44.8" would lie on the network if one sign were changed. Check them, and correct the sign in the register.',
        passes={"position_problem": "missing"},
        missing={"x_text": None},
    ),
    "position-swapped": Case(
        breach={"position_repair": "swapped"},
        says='Coordinates "-82.2", "44.8" were in each other\'s columns and have been swapped. Confirm the position, and correct the register.',
        passes={"position_repair": "dms"},
        missing={"x_text": None},
    ),
    "position-decimal-comma": Case(
        breach={"position_repair": "decimal comma"},
        says='Coordinates "-82.2", "44.8" were read with the comma as the decimal mark. No action needed if that is right.',
        passes={"position_repair": "dms"},
        missing={"x_text": None},
    ),
    "position-dms": Case(
        breach={"position_repair": "dms"},
        says='Coordinates "-82.2", "44.8" were converted to decimal degrees. No action needed.',
        passes={"position_repair": "swapped"},
        missing={"x_text": None},
    ),
    "position-rounded": Case(
        breach={"position_step_m": 8429.0},
        says='Coordinates "-82.2", "44.8" are only written to the nearest 8,400 m (limit 5 m). Measure its position on site before the core is reinstated.',
        passes={"position_step_m": 1.1},
        on_limit={"position_step_m": 5.0},
        missing={"position_step_m": None},
    ),
    "off-network": Case(
        breach={"segment_id": None, "nearest_id": "S1", "nearest_m": 15.2},
        says="No road segment within 15 m; the nearest, S1, is 15.2 m away. Check the position and the road layer.",
        passes={},
        missing={"x_m": None},
    ),
    "district-gap": Case(
        breach={"district_how": "gap", "district_distance_m": 3.0},
        says="Outside every district; assigned to the nearest, Mill Bank, 3.0 m away. Check the position, or close the gap in the district layer.",
        passes={},
        missing={"district_how": None},
    ),
    "district-outside": Case(
        breach={"district_how": "outside", "district_distance_m": 80.0},
        says="Outside every district; the nearest is 80 m away. Check whether the core belongs to this programme.",
        passes={},
        missing={"district_how": None},
    ),
    "district-overlap": Case(
        breach={"district_how": "several", "district_others": "West"},
        says="In Mill Bank and also in West; assigned to Mill Bank. Correct the boundaries in the district layer.",
        passes={},
        missing={"district_how": None},
    ),
}


def test_coordinates_are_quoted_as_they_are_written():
    cells = {"position_problem": "unreadable", "x_text": "-82.2O1", "y_text": "see sketch"}
    assert sentence("position-unreadable", cells).startswith('Coordinates "-82.2O1", "see sketch" are not numbers.')


def _in_one_cell(slug, **cells):
    return sentence(slug, {"x_text": "44.8, -82.2", "y_text": None, **cells})


@pytest.mark.parametrize(
    ("slug", "cells", "says"),
    [
        ("position-unreadable", {"position_problem": "unreadable"}, 'Position "44.8, -82.2" cannot be read.'),
        (
            "position-out-of-range",
            {"position_problem": "out of range"},
            'Position "44.8, -82.2" is outside the range of the register\'s coordinate system.',
        ),
        (
            "position-projected",
            {"position_problem": "projected"},
            'Position "44.8, -82.2" is in metres or feet, but the register\'s column is in degrees.',
        ),
        (
            "position-sign-lost",
            {"position_problem": "sign lost"},
            'Position "44.8, -82.2" would lie on the network if one sign were changed.',
        ),
        (
            "position-swapped",
            {"position_repair": "swapped"},
            'Position "44.8, -82.2" has its coordinates in the opposite order to the rest of the register; they have been swapped.',
        ),
        (
            "position-decimal-comma",
            {"position_repair": "decimal comma"},
            'Position "44.8, -82.2" was read with the comma as the decimal mark.',
        ),
        ("position-dms", {"position_repair": "dms"}, 'Position "44.8, -82.2" was converted to decimal degrees.'),
        (
            "position-rounded",
            {"position_step_m": 11.12},
            'Position "44.8, -82.2" is only written to the nearest 11 m (limit 5 m).',
        ),
    ],
)
def test_a_position_in_one_cell_is_quoted_whole(slug, cells, says):
    assert _in_one_cell(slug, **cells).startswith(f"{says} ")


def test_a_grid_reference_with_letters_is_named_as_one():
    assert sentence("position-unreadable", {"position_problem": "grid letters", "x_text": "SU 1234 5678"}) == (
        'Position "SU 1234 5678" is a grid reference with letters, which is not read. '
        "Write it as easting and northing in the register."
    )


def test_digits_in_groups_are_not_called_decimal_commas():
    cells = {"position_repair": "grouped digits", "x_text": "405,166.28", "y_text": "4,961,389.5"}
    assert sentence("position-decimal-comma", cells).startswith(
        'Coordinates "405,166.28", "4,961,389.5" were read with the digits in groups of three.'
    )


def test_a_step_just_beyond_the_limit_does_not_read_as_the_limit():
    assert "to the nearest 5.04 m (limit 5 m)" in sentence("position-rounded", {"position_step_m": 5.04})


def test_a_core_off_the_network_without_any_road_near_names_none():
    cells = {"segment_id": None, "nearest_id": None, "nearest_m": None}
    assert sentence("off-network", cells) == "No road segment within 15 m. Check the position and the road layer."


def test_a_distance_just_beyond_reach_does_not_read_as_the_reach():
    cells = {"segment_id": None, "nearest_id": "S1", "nearest_m": 15.004}
    assert "the nearest, S1, is 15.004 m away" in sentence("off-network", cells)


def test_a_core_off_the_network_says_how_far_its_own_segment_was_looked_for():
    cores = cores_like({"segment_id": None, "nearest_id": "S1", "nearest_m": 41.0})
    reach_m = pd.Series(15.0, cores.index)
    reach_m.iloc[0] = 39.0
    bound = bound_rule("off-network")
    found = bound.find(cores, bound.assessed(cores), AuditContext(pd.Timestamp(AS_OF), reach_m))
    assert found.values["reach_m"].tolist() == [39.0]


def test_each_problem_of_a_position_is_found_by_one_rule_only():
    problems = {
        slug: case.breach["position_problem"] for slug, case in CASES.items() if "position_problem" in case.breach
    }
    assert len(set(problems.values())) == len(problems) == 6
    for slug, own in problems.items():
        for problem in problems.values():
            found = sentence(slug, {"position_problem": problem, "x_m": None})
            assert (found is not None) == (problem == own), (slug, problem)


def test_a_repaired_position_keeps_the_core_on_the_map():
    for slug in ("position-swapped", "position-decimal-comma", "position-dms"):
        assert cores_like(CASES[slug].breach)["x_m"].notna().all()
