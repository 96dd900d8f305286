"""Rules on sizes and other cells that cannot be read."""

import pytest

from tests.audit.rules.cases import Case, sentence

CASES = {
    "diameter-missing": Case(
        breach={"diameter_mm": None},
        says="No diameter is recorded. Measure the core: without it no materials can be ordered.",
        passes={"diameter_mm": None, "diameter_mm_problem": "unreadable"},
    ),
    "diameter-unreadable": Case(
        breach={"diameter_mm_problem": "no unit", "diameter_mm_text": "18"},
        says='Diameter "18" has no unit. Correct it: without it no materials can be ordered.',
        passes={"diameter_mm": None},
        missing={"diameter_mm_text": None},
    ),
    "diameter-implausible": Case(
        breach={"diameter_mm": 1000.5},
        says='Diameter 1,000.5 mm (written "18 in") is outside the plausible range of 100 to 1,000 mm and is not used. Check the figure and its unit.',
        passes={"diameter_mm": 600.0},
        on_limit={"diameter_mm": 1000.0},
        missing={"diameter_mm": None},
        cannot_tell={"diameter_mm": 990.6, "diameter_step_mm": 25.4},
    ),
    "depth-missing": Case(
        breach={"depth_mm": None},
        says="No depth is recorded. Measure the core: without it no materials can be ordered.",
        passes={"depth_mm": None, "depth_mm_problem": "unreadable"},
    ),
    "depth-unreadable": Case(
        breach={"depth_mm_problem": "unreadable", "depth_mm_text": "deep"},
        says='Depth "deep" is not a size. Correct it: without it no materials can be ordered.',
        passes={"depth_mm": None},
        missing={"depth_mm_text": None},
    ),
    "depth-implausible": Case(
        breach={"depth_mm": 24.9},
        says='Depth 24.9 mm (written "200 mm") is outside the plausible range of 25 to 1,000 mm and is not used. Check the figure and its unit.',
        passes={"depth_mm": 300.0},
        on_limit={"depth_mm": 25.0},
        missing={"depth_mm": None},
        cannot_tell={"depth_mm": 25.4, "depth_step_mm": 12.7},
    ),
    "pavement-thin": Case(
        breach={"depth_mm": 99.9, "depth_believed_mm": 99.9},
        says="The bound pavement is 99.9 mm thick (minimum 100 mm). Do not reuse the core: reinstate the opening as the road authority specifies.",
        passes={},
        on_limit={"depth_mm": 100.0, "depth_believed_mm": 100.0},
        missing={"depth_mm": 10.0, "depth_believed_mm": None},
        cannot_tell={"depth_mm": 100.0, "depth_believed_mm": 100.0, "depth_step_mm": 1.0},
    ),
    "core-unsound": Case(
        breach={"core_condition": "Open cracks", "core_fault": "cracked"},
        says="The core was recorded as cracked when it was inspected. Do not reuse the core: reinstate the opening as the road authority specifies.",
        passes={"core_condition": "ok", "core_fault": "none"},
        missing={"core_condition": "see photo", "core_fault": None},
    ),
    "core-condition-unreadable": Case(
        breach={"core_condition": "see photo", "core_fault": None},
        says='Core condition "see photo" is not in the catalogue. Inspect the core before reinstating it, and correct the register.',
        passes={"core_condition": "ok", "core_fault": "none"},
        missing={"core_condition": None},
    ),
    "value-unreadable": Case(
        breach={"flush_mm_problem": "unreadable", "flush_mm_text": "ok"},
        says='Ignored as unreadable: Largest step "ok". Correct the register.',
        passes={"flush_mm": 2.0},
        missing={"surface_recorded": None},
    ),
}


_REINSTATED = {"reinstated_at": "2026-09-12", "is_open": False}
_UNKNOWN = {"is_open": False, "reinstated_at_problem": "unreadable"}


@pytest.mark.parametrize(
    ("slug", "state", "remedy"),
    [
        ("diameter-missing", _REINSTATED, "Add it from the work record: without it the grout used cannot be checked."),
        ("depth-missing", _UNKNOWN, "Add it to the register, and correct the date of reinstatement."),
        ("depth-unreadable", _REINSTATED, "Correct it: without it the grout used cannot be checked."),
        ("diameter-unreadable", _UNKNOWN, "Correct it, and the date of reinstatement too."),
        ("pavement-thin", _REINSTATED, "Agree with the road authority whether the core may stay."),
        (
            "pavement-thin",
            _UNKNOWN,
            "Find out whether the core has been reinstated; if it has not, do not reuse it.",
        ),
    ],
)
def test_what_to_do_follows_from_the_state_of_the_core(slug, state, remedy):
    assert sentence(slug, {**CASES[slug].breach, **state}).endswith(f". {remedy}")


@pytest.mark.parametrize(
    ("problem", "reason"),
    [
        ("unreadable", "is not a size"),
        ("no unit", "has no unit"),
        ("thousands or decimals", "has a comma that may mean thousands or decimals"),
        ("some new problem", "is not a size"),
    ],
)
@pytest.mark.parametrize(("name", "label"), [("diameter", "Diameter"), ("depth", "Depth")])
def test_an_unreadable_size_is_quoted_with_the_reason(name, label, problem, reason):
    cells = {f"{name}_mm_problem": problem, f"{name}_mm_text": "1,200"}
    assert sentence(f"{name}-unreadable", cells).startswith(f'{label} "1,200" {reason}.')


@pytest.mark.parametrize(
    ("slug", "cells", "shown"),
    [
        ("diameter-implausible", {"diameter_mm": 99.96}, "Diameter 99.96 mm"),
        ("diameter-implausible", {"diameter_mm": 1000.4}, "Diameter 1,000.4 mm"),
        ("depth-implausible", {"depth_mm": 24.99}, "Depth 24.99 mm"),
        ("depth-implausible", {"depth_mm": 6.0}, "Depth 6 mm"),
        ("pavement-thin", {"depth_mm": 76.2, "depth_believed_mm": 76.2}, "The bound pavement is 76.2 mm thick"),
    ],
)
def test_a_size_is_shown_so_that_it_breaks_the_limit_as_shown(slug, cells, shown):
    assert sentence(slug, cells).startswith(shown)


def test_all_cells_that_are_not_understood_are_listed_with_what_people_call_them():
    cells = {
        "water_l_problem": "unreadable",
        "water_l_text": "full bucket",
        "bags_used_problem": "unreadable",
        "bags_used_text": "half",
        "surface_recorded": "lava",
        "surface_recorded_name": None,
    }
    assert sentence("value-unreadable", cells) == (
        'Ignored as unreadable: Bags used "half", Water used "full bucket" and Surface recorded "lava". '
        "Correct the register."
    )


def test_a_cell_in_gallons_without_a_country_is_named_as_such():
    below = {
        "bags_used_problem": "negative",
        "bags_used_text": "-3",
        "water_l_problem": "unreadable",
        "water_l_text": "?",
    }
    assert sentence("value-unreadable", below) == (
        'Ignored as unreadable: Bags used "-3" (cannot be below zero) and Water used "?". Correct the register.'
    )
    assert sentence("value-unreadable", {"water_l_problem": "which gallon", "water_l_text": "2 gal"}) == (
        'Ignored as unreadable: Water used "2 gal" (US or imperial gallons). Correct the register.'
    )


@pytest.mark.parametrize("said", ["n/a", "unknown", "-"])
def test_a_surface_that_says_nothing_is_no_finding(said):
    assert sentence("value-unreadable", {"surface_recorded": said, "surface_recorded_name": None}) is None


def test_a_surface_known_to_say_nothing_is_no_finding():
    cells = {"surface_recorded": "paved", "surface_recorded_name": None, "surface_says_nothing": True}
    assert sentence("value-unreadable", cells) is None
