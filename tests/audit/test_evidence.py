"""Inputs that are missing, by the number of cores that each would make it possible to assess."""

from pipeline.audit import audit, bind_rules
from pipeline.programme.catalogue import load_catalogue
from tests.audit.frames import AS_OF, REINSTATED, SOUND, frame

_RULES = {one.rule.slug: one for one in bind_rules(load_catalogue({}, "test"), "test")}


def _evidence(cores, *slugs):
    found = audit(cores, [_RULES[slug] for slug in slugs], AS_OF, 15.0).evidence
    return found.set_index("input")[["cores", "assessments", "cores_with_others"]].T.to_dict("list")


def _cores(*changes):
    return frame(*({**SOUND, **REINSTATED, "x_m": 100.0 * place, **change} for place, change in enumerate(changes)))


def test_an_input_counts_the_cores_that_it_alone_would_bring_in():
    cores = _cores({"flush_mm": None}, {"flush_mm": None}, {"flush_mm": 1.0})
    assert _evidence(cores, "flush-out-of-tolerance") == {"flush_mm": [2, 2, 0]}


def test_a_core_that_two_rules_would_assess_counts_once_as_a_core_and_twice_as_checks():
    cores = _cores({"depression_mm": None, "flush_mm": 1.0})
    assert _evidence(cores, "surface-depression", "depression-with-step") == {"depression_mm": [1, 2, 0]}


def test_two_inputs_that_are_both_missing_bring_in_nothing_alone():
    cores = _cores({"bags_used": None, "water_l": None, "water_ratio": None})
    assert _evidence(cores, "water-ratio-off") == {"bags_used": [0, 0, 1], "water_l": [0, 0, 1]}


def test_of_two_inputs_of_one_figure_the_missing_one_is_named():
    cores = _cores({"bags_used": 1.0, "water_l": None, "water_ratio": None})
    assert _evidence(cores, "water-ratio-off") == {"water_l": [1, 1, 0]}


def test_a_core_to_which_the_rule_does_not_apply_is_not_counted():
    cores = frame({**SOUND, "flush_mm": None})
    assert _evidence(cores, "flush-out-of-tolerance") == {}


def test_a_layer_is_named_where_the_core_has_a_position_and_the_position_where_it_has_none():
    cores = _cores({"joint_m": None}, {"joint_m": None, "x_m": None})
    assert _evidence(cores, "joint-near") == {"layer [joints]": [1, 1, 0], "position": [1, 1, 0]}


def test_what_no_record_can_supply_is_not_asked_for():
    # no segment within reach: no confidence, whatever is recorded
    cores = _cores({"segment_confidence": None})
    assert _evidence(cores, "road-uncertain") == {}


def test_an_unreadable_reinstatement_date_is_an_input_that_is_missing():
    cores = frame({**SOUND, "is_open": False, "reinstated_at_problem": "unreadable", "flush_mm": 1.0})
    assert _evidence(cores, "flush-out-of-tolerance") == {"reinstated_at": [1, 1, 0]}


def _why_missing(kept):
    """Flushness is missing on two cores of north, one of south and a copy of that one."""
    south = {"flush_mm": None, "register": "south"}
    cores = _cores({"flush_mm": None}, {"flush_mm": None}, south, {**south, "is_copy": True}, {"flush_mm": 1.0})
    found = audit(cores, [_RULES["flush-out-of-tolerance"]], AS_OF, 15.0, None, kept).evidence
    return found[["cores", "not_kept", "left_empty", "registers"]].values.tolist()


def test_a_column_that_a_register_does_not_keep_is_told_from_cells_left_empty():
    assert _why_missing({"flush_mm": frozenset({"north"})}) == [[3, 1, 2, "south"]]
    assert _why_missing({"flush_mm": frozenset({"north", "south"})}) == [[3, 0, 3, ""]]
    assert _why_missing({}) == [[3, 3, 0, "north, south"]]


def test_a_position_is_never_a_column_that_is_not_kept_and_a_layer_is_neither():
    cores = _cores({"joint_m": None}, {"joint_m": None, "x_m": None})
    found = audit(cores, [_RULES["joint-near"]], AS_OF, 15.0).evidence.set_index("input")
    assert found.loc["position", ["not_kept", "left_empty"]].tolist() == [0, 1]
    assert found.loc["layer [joints]", ["not_kept", "left_empty"]].tolist() == [0, 0]
