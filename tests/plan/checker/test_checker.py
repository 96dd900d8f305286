import pandas as pd
import pytest

from pipeline.contracts import PLAN_TABLES, names_of
from pipeline.plan.checker import CHECKS, faults_of
from tests.plan.checker.good_plan import MONDAY, good_plan


def _found(tables, given):
    return set(faults_of(tables, given)["check"])


def test_a_plan_that_keeps_to_everything_has_no_faults():
    assert faults_of(*good_plan()).empty


def test_faults_are_a_table_of_the_plan_with_what_was_found_in_words():
    tables, given = good_plan()
    tables.crews["carries_kg"] = 97.0
    found = faults_of(tables, given)
    assert [*found] == [*names_of(PLAN_TABLES["faults"])]
    assert found.index.tolist() == [0]
    assert found["fault"].tolist() == ["The load of 98 kg is more than the truck carries (97 kg)."]
    assert (found.loc[0, "crew"], found.loc[0, "day"], found.loc[0, "check"]) == ("A", MONDAY, "load")


def test_a_plan_without_stops_has_no_faults():
    tables, given = good_plan()
    empty = tables._replace(stops=tables.stops[:0], mixes=tables.mixes[:0], days=tables.days[:0])
    assert faults_of(empty, given).empty


# what is spoiled: table, row, column, value; and the checks that have to see it, no more and no fewer
_SPOILED = [
    ("stops", 14, "task", "make safe", {"only what is needed", "times of the stops"}),
    ("stops", 12, "core_id", "c9", {"only what is needed"}),
    ("stops", 14, "stop", 5, {"numbers of the stops"}),
    ("stops", 11, "arrival_min", 429.0, {"times of the stops"}),
    ("stops", 13, "arrival_min", 519.0, {"times of the stops"}),
    ("stops", 14, "leave_min", 599.0, {"times of the stops"}),
    ("days", 0, "start_min", 419.0, {"shift"}),
    ("crews", 0, "shift_end_min", 639.0, {"shift"}),
    ("crews", 0, "break_min", 31.0, {"shift"}),
    ("days", 0, "end_min", 599.0, {"shift"}),
    ("days", 0, "stops", 3, {"shift"}),
    ("crews", 0, "carries_kg", 97.0, {"load"}),
    ("days", 0, "load_kg", 97.0, {"load"}),
    ("crews", 0, "districts", "South", {"districts of the crew"}),
    ("crews", 0, "districts", "North End; South", {"districts of the crew"}),
    ("crews", 0, "surfaces", "asphalt; unknown", {"surfaces of the crew"}),
    ("stops", 12, "shade", "pale", {"one shade per mix"}),
    ("mixes", 1, "shade", "grey", {"one shade per mix"}),
    ("mixes", 0, "crew", "B", {"cores of a mix follow each other"}),
    ("mixes", 0, "cores", 3, {"cores of a mix follow each other"}),
    ("mixes", 0, "span_min", 7.0, {"working time of a mix"}),
    ("stops", 11, "pour_min", 474.9, {"steps of a mix"}),
    ("stops", 12, "pour_min", 481.9, {"steps of a mix"}),
    ("stops", 12, "arrival_min", 451.0, {"steps of a mix"}),
    ("stops", 11, "leave_min", 479.0, {"steps of a mix"}),
    ("stops", 13, "traffic_min", 548.0, {"steps of a mix"}),
    ("stops", 13, "pour_min", None, {"steps of a mix", "temperature of a pour"}),
    ("stops", 13, "net_bags", 1.1, {"bags of a mix"}),
    ("mixes", 0, "bags", 2.0, {"bags of a mix", "bags of the stops"}),
    ("days", 0, "bags", 2.0, {"bags of the stops"}),
    ("given", MONDAY, "first_min", 478.0, {"temperature of a pour"}),
    ("given", MONDAY, "last_min", 545.0, {"temperature of a pour"}),
]


@pytest.mark.parametrize(("table", "row", "column", "value", "checks"), _SPOILED)
def test_what_is_spoiled_is_found_by_its_own_check(table, row, column, value, checks):
    tables, given = good_plan()
    (given.pour_hours if table == "given" else getattr(tables, table)).loc[row, column] = value
    assert _found(tables, given) == checks


def test_a_day_on_which_nothing_is_poured_is_a_fault():
    tables, given = good_plan()
    assert _found(tables, given._replace(pour_hours=given.pour_hours.drop(index=MONDAY))) == {"temperature of a pour"}


def test_a_core_that_is_planned_twice_is_a_fault():
    tables, given = good_plan()
    again = tables.stops.loc[[14]].assign(stop=5, arrival_min=606.0, leave_min=621.0)
    tables.days[["stops", "end_min", "work_min", "travel_min"]] = [5, 661.0, 174.0, 37.0]
    assert _found(tables._replace(stops=pd.concat([tables.stops, again])), given) == {"each core once"}


def test_a_stop_where_nothing_has_to_be_done_is_a_fault():
    tables, given = good_plan()
    assert _found(tables, given._replace(jobs=given.jobs.drop(index=14))) == {"only what is needed"}


def test_a_core_without_an_id_is_planned_without_one():
    tables, given = good_plan()
    given.jobs.loc[12, "core_id"] = None
    assert _found(tables, given) == {"only what is needed"}
    tables.stops.loc[12, "core_id"] = None
    assert _found(tables, given) == set()


def test_a_day_on_which_the_crew_does_not_work_is_a_fault():
    tables, given = good_plan()
    given.works.loc["A", MONDAY] = False
    assert _found(tables, given) == {"working days"}


def test_a_day_beyond_the_horizon_is_a_fault():
    tables, given = good_plan()
    later = pd.Timestamp("2026-12-07")
    moved = tables._replace(
        stops=tables.stops.assign(day=later), mixes=tables.mixes.assign(day=later), days=tables.days.assign(day=later)
    )
    assert _found(moved, given) == {"working days", "days on which work may be done", "temperature of a pour"}


def test_a_day_on_which_a_core_may_not_be_worked_at_is_a_fault():
    tables, given = good_plan()
    given.allowed.loc[13, MONDAY] = False
    found = faults_of(tables, given)
    assert found["check"].tolist() == ["days on which work may be done"]
    assert found["core_id"].tolist() == ["c3"]


def test_cores_of_a_mix_with_another_stop_between_them_are_a_fault():
    tables, given = good_plan()
    tables.stops.loc[[12, 13], "stop"] = [3, 2]
    assert "cores of a mix follow each other" in _found(tables, given)


def test_a_mix_that_takes_longer_than_its_working_time_is_a_fault():
    tables, given = good_plan()
    assert _found(tables, given._replace(working_min=8.0)) == set()
    found = faults_of(tables, given._replace(working_min=7.9))
    assert set(found["check"]) == {"working time of a mix"}
    assert "Mix 1 takes 8.0 min to pour and press." in found["fault"].tolist()


def test_grout_that_waits_for_the_next_bag_is_as_old_as_its_first_pour():
    # 1.3 and 0.5 bags: half a bag is left after 2 + 1 min, carried 2 min, 0 opened: 8 min old at the last press.
    # 1.3 and 1.3 bags: 2 opened, then 1 more, whose 3 minutes of mixing the rest waits as well: 11 min
    tables, given = good_plan()
    nets = [1.3, 1.3]
    given.jobs.loc[[11, 12], "net_bags"] = nets
    tables.stops.loc[[11, 12], "net_bags"] = nets
    tables.stops.loc[[11, 12], "bags"] = [2.0, 1.0]
    later = ["pour_min", "traffic_min", "leave_min"]
    tables.stops.loc[11, later] += 3.0
    tables.stops.loc[12, later] += 6.0
    tables.stops.loc[[13, 14], ["arrival_min", *later]] += 6.0
    tables.mixes.loc[0, ["net_bags", "bags"]] = [2.6, 3.0]
    tables.days[["end_min", "work_min", "bags", "load_kg"]] = [646.0, 165.0, 5.0, 154.0]
    assert _found(tables, given._replace(working_min=11.0)) == set()
    found = faults_of(tables, given)
    assert found["fault"].tolist() == ["Grout of mix 1 is 11.0 min old once the core is pressed."]


def test_a_mix_of_one_core_may_take_as_long_as_its_core_needs():
    tables, given = good_plan()
    given.jobs.loc[13, "pour_min"] = 12.0
    tables.mixes.loc[1, "span_min"] = 13.0
    assert _found(tables, given) == set()


@pytest.mark.parametrize(("off", "found"), [(5e-7, set()), (5e-6, {"times of the stops"})])
def test_rounding_alone_is_no_fault_and_ten_times_as_much_is(off, found):
    tables, given = good_plan()
    tables.stops.loc[11, "arrival_min"] -= off
    assert _found(tables, given) == found


def test_a_mix_without_enough_bags_is_a_fault():
    tables, given = good_plan()
    given.jobs.loc[12, "net_bags"] = tables.stops.loc[12, "net_bags"] = 0.5
    assert _found(tables, given) == {"bags of a mix", "bags of the stops"}


def test_a_bag_that_is_opened_after_its_core_is_poured_is_a_fault():
    tables, given = good_plan()
    tables.stops.loc[[11, 12], "bags"] = [0.0, 1.0]
    assert _found(tables, given) == {"bags of the stops", "steps of a mix"}


def test_a_core_that_needs_grout_has_a_mix():
    tables, given = good_plan()
    tables.stops.loc[13, "mix"] = None
    assert "bags of a mix" in _found(tables, given)


def test_half_bags_add_up():
    tables, given = good_plan()
    tables.stops.loc[13, "bags"] = 1.5
    tables.mixes.loc[1, "bags"] = 1.5
    tables.days["bags"] = 2.5
    assert _found(tables, given._replace(smallest=0.5)) == set()
    assert _found(tables, given) == {"bags of a mix", "bags of the stops"}


def test_every_check_has_a_case():
    seen = set().union(*(checks for *_, checks in _SPOILED))
    assert set(CHECKS) - seen == {"each core once", "working days", "days on which work may be done"}


def test_a_district_with_a_semicolon_in_its_name_is_one_district():
    tables, given = good_plan()
    given.jobs["district"] = "North; Upper"
    crews = tables.crews.assign(districts=["South; North; Upper", "South"])
    assert not _found(tables._replace(crews=crews), given)
    other = crews.assign(districts=["South; Upper", "South"])
    assert _found(tables._replace(crews=other), given) == {"districts of the crew"}
