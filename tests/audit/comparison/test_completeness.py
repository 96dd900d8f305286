"""What registers and crews record."""

import math

import pytest

from pipeline.audit.comparison.completeness import needed_columns, record_completeness
from pipeline.audit.registry import RULES
from tests.audit.frames import REINSTATED, SOUND, frame

_RULES = [RULES["air-temperature-outside"], RULES["permit-expired"], RULES["depth-implausible"], RULES["notice-late"]]


def _table(cores, kept):
    return record_completeness(cores, _RULES, kept).set_index(["by", "group", "column"])


def _kept(*names, registers=("north",)):
    return {name: frozenset(registers) for name in names}


def test_a_column_is_needed_of_the_cores_that_its_rules_apply_to():
    needed = needed_columns(RULES.values())
    assert needed["water_l"] == "reinstated"
    assert needed["planned_on"] == "open"
    assert needed["opened_on"] == "all"
    assert needed["position"] == "all"
    assert "remarks" not in needed


def test_water_and_air_temperature_are_only_missing_of_reinstated_cores():
    """Three reinstated cores, one without a temperature and one with an unreadable one, and an open core."""
    done = {**SOUND, **REINSTATED}
    cores = frame({**done, "air_temperature_c": 12.0}, done, done, SOUND).assign(
        air_temperature_c_problem=[None, None, "no number", None]
    )
    row = _table(cores, _kept("air_temperature_c")).loc[("register", "north", "air_temperature_c")]
    assert row[["cores", "filled", "unreadable", "empty"]].tolist() == [3, 1, 1, 1]
    assert (row["kept"], row["applies_to"], row["share_filled"]) == ("yes", "reinstated", pytest.approx(1 / 3))


def test_a_column_that_is_not_kept_has_no_share():
    row = _table(frame({**SOUND, **REINSTATED}), {}).loc[("register", "north", "air_temperature_c")]
    assert (row["kept"], row["filled"], row["empty"]) == ("no", 0, 0)
    assert math.isnan(row["share_filled"])


def test_an_empty_date_of_what_need_not_have_happened_is_an_answer():
    row = _table(frame({**SOUND, **REINSTATED}), _kept("notice_sent_on")).loc[("register", "north", "notice_sent_on")]
    assert (row["kept"], row["empty"]) == ("yes", 1)
    assert math.isnan(row["share_filled"])


def test_a_crew_in_two_registers_may_keep_a_column_in_part():
    done = {**SOUND, **REINSTATED, "crew": "Crew A", "air_temperature_c": 12.0}
    cores = frame(done, {**done, "register": "south", "air_temperature_c": None})
    row = _table(cores, _kept("air_temperature_c")).loc[("crew", "Crew A", "air_temperature_c")]
    assert (row["kept"], row["cores"], row["filled"], row["share_filled"]) == ("partly", 2, 1, 1.0)


def test_a_copy_is_not_counted():
    cores = frame(SOUND, {**SOUND, "is_copy": True})
    assert _table(cores, _kept("depth_mm")).loc[("register", "north", "depth_mm"), "cores"] == 1
