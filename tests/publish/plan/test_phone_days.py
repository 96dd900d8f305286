"""Tests of the days of crews on a phone."""

from dataclasses import replace

from pipeline.publish.plan.phone_days import phone_days
from pipeline.publish.words import words_of
from tests.publish.plan.small_plan import planned, small_plan


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


def _keys(result):
    stops = [stop for _, day in phone_days(result, words_of("en")) for stop in day.stops]
    return {stop.name.split(". ")[1]: stop.key for stop in stops}


def test_a_key_outlives_the_row_of_its_core():
    result = small_plan()
    cores, stops = (table.assign(row=table["row"] + 7) for table in (result.cores, result.plan.stops))
    moved = replace(result, cores=cores, plan=result.plan._replace(stops=stops))
    assert _keys(moved) == _keys(result)


def test_cores_of_one_id_have_keys_of_their_own():
    stops = [
        stop.key for _, day in phone_days(planned(small_plan(), core_id="HV-0"), words_of("en")) for stop in day.stops
    ]
    assert len(set(stops)) == 3


def test_no_two_stops_have_the_same_key():
    stops = [stop for _, day in phone_days(small_plan(), words_of("en")) for stop in day.stops]
    assert len({stop.key for stop in stops}) == 3
