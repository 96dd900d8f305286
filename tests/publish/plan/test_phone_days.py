"""Tests of the days of crews on a phone."""

from pipeline.publish.plan.phone_days import phone_days
from pipeline.publish.words import words_of
from tests.publish.plan.small_plan import small_plan


def test_each_stop_has_its_task_its_mix_and_its_cautions():
    result = small_plan()
    days = list(phone_days(result, words_of("en")))
    stops = [stop for _, day in days for stop in day.stops]
    assert len(stops) == 3
    assert sorted(stop.name.split(". ")[1] for stop in stops) == ["HV-0", "HV-2", "HV-4"]
    assert all(stop.lines[0] == "Reinstate" for stop in stops)
    assert stops[0].lines[1].startswith("Mix ")
    assert "dark grout" in stops[0].lines[1]
    assert stops[0].place == "Quay Road, Quayside"
    assert days[0][1].title.startswith("Quayside crew, ")


def test_no_two_stops_have_the_same_key():
    stops = [stop for _, day in phone_days(small_plan(), words_of("en")) for stop in day.stops]
    assert len({stop.key for stop in stops}) == 3
