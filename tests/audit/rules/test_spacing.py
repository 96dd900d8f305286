"""Rules on neighbouring cores. Both cores are 457.2 mm wide."""

import pytest

from pipeline.audit import audit
from tests.audit.frames import AS_OF, REINSTATED, SOUND, frame
from tests.audit.rules.cases import Case, bound_rule, cores_like, sentence

CASES = {
    "cores-overlap": Case(
        breach={"x_m": 99.5429},
        says='Overlaps core "A-2": the centres are 457 mm apart. Check on site whether this is one core recorded twice, or two cores that overlap.',
        passes={"x_m": 99.5},
        on_limit={"x_m": 99.5428},
        missing={"x_m": None},
    ),
    "cores-too-close": Case(
        breach={"x_m": 99.2429},
        says='299.9 mm clear of core "A-2" by the recorded positions (minimum 300 mm). Measure on site before reinstating.',
        passes={"x_m": 99.0},
        on_limit={"x_m": 99.2427},
        missing={"x_m": None},
    ),
    # three cores less than 300 mm from each other
    "cores-clustered": Case(
        breach={"x_m": 99.5, "third": 98.9},
        says="One of 3 cores that lie less than 300 mm from the next by the recorded positions; at most 2 may be reinstated. Measure on site, and ask the road authority before reinstating.",
        passes={"x_m": 99.5, "third": 90.0},
        on_limit={"x_m": 99.2428, "third": 98.4856},
        missing={"x_m": None},
    ),
}


def _found(slug, *cores):
    return audit(frame(*({**SOUND, **cells} for cells in cores)), [bound_rule(slug)], AS_OF, 15.0).findings


def test_both_cores_of_a_pair_are_found():
    assert _found("cores-overlap", {"x_m": 0.0}, {"x_m": 0.3, "core_id": "A-2"})["row"].tolist() == [1, 2]


@pytest.mark.parametrize("slug", ["cores-overlap", "cores-too-close", "cores-clustered"])
def test_a_core_whose_position_is_written_too_coarsely_is_neither_assessed_nor_a_neighbour(slug):
    """Three cores 700 mm apart, written to three decimals of a degree, beside one that is known to the centimetre."""
    coarse = [{**SOUND, "x_m": 0.7 * place, "spacing_x_m": None, "core_id": f"C-{place}"} for place in range(3)]
    result = audit(frame(*coarse, {**SOUND, "x_m": 0.2}), [bound_rule(slug)], AS_OF, 15.0)
    assert result.findings.empty
    assert result.rules[["assessed", "not_assessed"]].to_numpy().tolist() == [[1, 3]]


def test_a_row_recorded_twice_is_no_pair():
    twice = {"same_row": 5}
    assert _found("cores-overlap", twice, twice).empty
    assert _found("cores-too-close", twice, twice).empty


@pytest.mark.parametrize(("core_id", "name"), [("B-1", 'core "B-1"'), (None, "a core without an id")])
def test_the_nearest_core_is_named_as_far_as_it_has_an_id(core_id, name):
    cores = frame({**SOUND, "x_m": 0.0}, {**SOUND, "x_m": 0.3, "core_id": core_id})
    assert sentence("cores-overlap", cores).startswith(f"Overlaps {name}: the centres are 300 mm apart.")


def test_the_others_are_counted_and_the_nearest_is_named():
    # 299.9 mm clear of A-2 at x = 100 and overlapping A-3 at x = 99
    assert sentence("cores-overlap", {"x_m": 99.3, "third": 99.0}).startswith(
        'Overlaps core "A-3": the centres are 300'
    )
    both = sentence("cores-overlap", {"x_m": 99.6, "third": 99.3})
    assert both.startswith('Overlaps core "A-3" (and 1 more): the centres are 300 mm apart.')


def test_a_core_whose_size_is_not_known_counts_with_the_nominal_diameter():
    # 757.1 mm between centres leaves 299.9 mm between two cores of 457.2 mm
    near = {"x_m": 99.2429, "hole_mm": None}
    assert sentence("cores-too-close", near).startswith('299.9 mm clear of core "A-2"')


def test_a_smaller_core_may_be_nearer():
    # 757.1 mm between centres, and one core is 450 mm wide: 303.5 mm clear
    assert sentence("cores-too-close", {"x_m": 99.2429, "hole_mm": 450.0}) is None


@pytest.mark.parametrize("slug", ["cores-too-close", "cores-clustered"])
def test_a_reinstated_core_is_not_to_be_measured_before_reinstating(slug):
    remedy = "Measure on site, and ask the road authority whether the core may stay."
    assert sentence(slug, {**CASES[slug].breach, **REINSTATED}).endswith(remedy)


def test_cores_in_a_chain_form_one_cluster():
    """o o o o, each 600 mm from the next: four cores, though the ends are 1.8 m apart."""
    chain = [{"x_m": 0.6 * place, "core_id": f"C-{place}"} for place in range(4)]
    assert _found("cores-clustered", *chain)["row"].tolist() == [1, 2, 3, 4]


def test_a_copy_of_a_row_makes_no_cluster():
    pair = {"x_m": 0.0, "same_row": 1}, {"x_m": 0.6, "same_row": 2}
    assert _found("cores-clustered", *pair, pair[0]).empty


def test_a_core_in_two_registers_is_no_pair_and_a_neighbour_only_where_it_is_counted():
    """Counted at x = 0; its other row, at 5 m, overlaps a third core there only by that register's position."""
    counted, copy = {"x_m": 0.0, "same_core": 4}, {"x_m": 5.0, "same_core": 4, "is_copy": True}
    third = {"x_m": 5.2, "core_id": "A-3"}
    assert _found("cores-overlap", counted, copy)["row"].tolist() == []
    assert _found("cores-overlap", counted, copy, third)["row"].tolist() == [2]


def test_cores_without_a_position_have_no_neighbours():
    assert _found("cores-overlap", {"x_m": None}, {"x_m": None}).empty
    assert len(cores_like({})) == 2
