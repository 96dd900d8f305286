"""The step of each crew, by its digits, and the litres that a record stands for."""

import pandas as pd
import pytest

from pipeline.calibrate.steps import NO_CREW, SMALL_CREWS, interval_l, recorded_steps


def _written(**crews):
    """Crews with their bags, in one register."""
    names = [name for name, bags in crews.items() for _ in bags]
    bags = [one for bags in crews.values() for one in bags]
    return recorded_steps(pd.Series(bags, dtype=float), pd.Series(names, dtype="str"))


def test_each_crew_has_its_own_step():
    found = _written(Ann=[0.5, 0.75, 1.0, 1.25] * 5, Tom=[0.6, 0.7, 0.9, 1.0] * 5)
    assert found.groupby("group")["crew_step"].unique().explode().to_dict() == {"Ann": 0.25, "Tom": 0.1}
    assert found.groupby("group")["is_portion"].all().to_dict() == {"Ann": True, "Tom": False}


def test_a_record_between_the_steps_of_its_crew_was_read_off_a_scale():
    found = _written(Ann=[0.5, 0.75, 1.0, 1.25] * 5 + [0.83])
    assert found["step"].tolist() == [0.25] * 20 + [0.01]
    assert not found["is_portion"].iloc[-1]


def test_crews_with_fewer_than_twenty_records_are_taken_together():
    found = _written(Ann=[0.5] * 20, Tom=[0.5] * 19, Eve=[0.6, 0.7] * 9)
    assert found["group"].value_counts().to_dict() == {"Ann": 20, SMALL_CREWS: 37}
    assert found.loc[found["group"].eq(SMALL_CREWS), "crew_step"].unique().tolist() == [0.1]
    # a single crew is itself, however few its records
    assert set(_written(Tom=[0.5] * 3)["group"]) == {"Tom"}


def test_spellings_of_one_crew_are_one_crew_and_none_is_none():
    bags = pd.Series([0.5] * 60)
    crew = pd.Series(["crew  a", "Crew A", "Crew A"] * 10 + ["", None, "  "] * 10, dtype="str")
    assert recorded_steps(bags, crew)["group"].tolist() == ["Crew A"] * 30 + [NO_CREW] * 30


@pytest.mark.parametrize(("habit", "ends"), [("up", (5.5, 8.0)), ("nearest", (6.75, 9.25)), ("down", (8.0, 10.5))])
def test_a_record_of_8_litres_in_steps_of_2_and_a_half_stands_for(habit, ends):
    least, most = interval_l(pd.Series([8.0]), pd.Series([2.5]), pd.Series([habit]))
    assert (least[0], most[0]) == ends
