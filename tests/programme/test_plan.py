"""The sections of the plan: what they accept, and what they refuse in words."""

import datetime as dt

import pytest
from pydantic import ValidationError

from pipeline.programme.plan import Crew, NoWork, Planning, Weather
from pipeline.programme.setting_errors import sentences
from pipeline.programme.settings import Settings


def _errors(**sections):
    written = {"programme": {"name": "V"}, "cores": {"path": "a"}, "roads": {"path": "b"}, **sections}
    with pytest.raises(ValidationError) as error:
        Settings.model_validate(written)
    return sentences(error.value, Settings, remedy="Correct it.", written=written)


def test_a_crew_has_the_stated_defaults():
    crew = Crew(name="A")
    assert crew.shift == (420, 930)
    assert crew.carries_kg == 1000
    assert crew.days_off == ["Saturday", "Sunday"]
    assert crew.break_min is None


@pytest.mark.parametrize(
    ("crew", "words"),
    [
        ({"shift": ["07:00"]}, "crews \"A\".shift: found ['07:00'], expected start and end, such as"),
        ({"shift": ["7 o'clock", "15:00"]}, 'expected a time of day such as "07:30"'),
        ({"shift": ["15:00", "07:00"]}, "found a shift that does not end after it starts"),
        ({"days_off": ["Caturday"]}, "expected a day of the week such as"),
        ({"carries": "1000"}, 'crews "A".carries'),
        ({"shift": ["07:00+02:00", "15:00"]}, "expected hours and minutes of local time"),
        ({"shift": ["07:00", "15:00:30"]}, "expected hours and minutes of local time"),
        ({"days_off": [dt.datetime(2026, 10, 1, 7)]}, "expected a date without a time"),
        ({"days_off": ["2026-10-01"]}, "without quotation marks"),
        ({"shift": ["07:00", "08:00"], "break": "1 h"}, "found a break of 60 min in a shift of 60 min"),
        ({"truck": "red"}, 'crews "A".truck: unknown key.'),
    ],
)
def test_a_wrong_crew_is_refused_in_words(crew, words):
    assert words in _errors(crews=[{"name": "A", **crew}])[0]


def test_a_shift_may_end_at_midnight():
    assert Crew(name="A", shift=["16:00", "24:00"]).shift == (960, 1440)


def test_two_crews_of_one_name_are_refused():
    assert "found two crews named 'a'" in _errors(crews=[{"name": "A"}, {"name": "a"}])[0]


@pytest.mark.parametrize(
    ("plan", "words"),
    [
        ({"no_work": [{"weekdays": ["Monday"]}]}, "expected one or more of street, road_class, road_authority and district"),
        ({"no_work": [{"street": "Mill Street"}]}, "found no days, expected from, to or weekdays"),
        ({"no_work": [{"street": "M", "from": dt.date(2026, 10, 9), "to": dt.date(2026, 10, 1)}]}, "expected a day after it"),
        ({"keep": " "}, "plan.keep: found ' ', expected text, at least 1 long"),
        ({"horizon": "23 h"}, "plan.horizon: found '23 h', expected at least 1 day and at most 3650 day"),
        ({"weights": {"hazard": "4"}}, "plan.weights.hazard"),
        ({"weights": {"road_class": {"main": 0}}}, "expected a number from 0.1 to 100"),
        ({"yards": {"North": [200, 44]}}, "plan.yards.North: found 200, expected a number from -180 to 180"),
        ({"yards": {"North": "44, -82"}}, "expected longitude and latitude in degrees"),
    ],
)  # fmt: skip
def test_a_wrong_plan_is_refused_in_words(plan, words):
    assert words in _errors(plan=plan)[0]


def test_a_wrong_column_of_the_weather_is_refused_with_the_nearest():
    (line,) = _errors(weather={"path": "w.csv", "columns": {"temprature": "T"}})
    assert "found the key 'temprature', expected one of: date, hour, month, temperature, low, high." in line
    assert 'Did you mean "temperature"?' in line


def test_weights_minutes_and_weather_are_read_with_their_units():
    plan = Planning.model_validate({"weights": {"hazard": "4 h"}, "minutes": {"set_up": "0.25 h"}})
    assert (plan.weights.hazard, plan.minutes.set_up) == (240, 15)
    assert Weather.model_validate({"path": "w.csv", "frost_free": "12 h"}).frost_free_min == 720


def test_no_work_keeps_weekdays_and_dates():
    closed = NoWork.model_validate({"road_class": "main", "weekdays": ["monday", dt.date(2026, 12, 24)]})
    assert closed.weekdays == ["Monday", dt.date(2026, 12, 24)]
    assert closed.scope == {"road_class": "main"}
