"""When grout may be poured, and how long it cures: by hand."""

import numpy as np
import pandas as pd
import pytest

from pipeline.contracts import Temperatures
from pipeline.maturity import return_to_service_min
from pipeline.plan.weather import ALL_DAY_MIN, Supplier, air_by_hour, cure_minutes, curing_of

_SUPPLIER = Supplier(30.0, 20.0, 0.0, 5.0)
_DAYS = np.array(["2026-10-05", "2026-10-06"], dtype="datetime64[D]")
_SHIFT = (7 * 60.0, 15.5 * 60.0)
_NONE = pd.DataFrame({"day": pd.to_datetime([]), "low_c": [], "high_c": []})
_NO_MONTHS = pd.DataFrame({"month": [], "low_c": [], "high_c": []})


def _forecast(*rows):
    return pd.DataFrame({"at": pd.to_datetime([at for at, _ in rows]), "air_c": [float(air) for _, air in rows]})


def _hourly(air_of_hour):
    """Return a forecast that has, on both days, the given temperature at each hour."""
    hours = _forecast(*[(f"2026-10-0{day} {hour:02}:00", air_of_hour(hour)) for day in (5, 6) for hour in range(24)])
    return Temperatures(hours, _NONE, _NO_MONTHS)


def test_without_temperatures_every_day_pours_and_the_suppliers_time_is_used():
    curing = curing_of(_DAYS, None, _SUPPLIER, _SHIFT)
    assert np.isnan(curing.air_c).all()
    assert curing.pours.all()
    assert curing.cure_min.tolist() == [30, 30]
    assert curing.first_min.tolist() == [0, 0]
    assert curing.last_min.tolist() == [ALL_DAY_MIN, ALL_DAY_MIN]
    assert curing.air_from == ("not known", "not known")


def test_on_a_cool_day_the_time_before_traffic_is_that_of_maturity():
    """30 min x 20 degC = 600 degree-minutes; at 10 degC they take 60 min."""
    curing = curing_of(_DAYS, _hourly(lambda _: 10), _SUPPLIER, _SHIFT)
    assert curing.cure_min == pytest.approx([60, 60])
    assert curing.air_c.tolist() == [10, 10]
    assert curing.air_from == ("forecast", "forecast")


def test_a_cold_morning_leaves_the_hours_after_it():
    """4 degC until 09:00, then 8 degC: the hour from 09:00 begins cold, so pours begin from 10:00."""
    curing = curing_of(_DAYS[:1], _hourly(lambda hour: 4 if hour <= 9 else 8), _SUPPLIER, _SHIFT)
    assert curing.pours.tolist() == [True]
    assert curing.first_min.tolist() == [10 * 60]
    assert curing.last_min.tolist() == [ALL_DAY_MIN]


def test_no_pour_is_planned_that_would_cure_in_the_cold():
    """8 degC to 14:00, 4 degC from 15:00: 600 degree-minutes at 8 degC are 75 min.

    The hour from 14:00 ends cold. A pour in the hour from 13:00 can begin at 13:59 and cures until after 15:00, and one
    in the hour from 12:00 at 12:59, until 14:14, in the hour that ends cold. So the last hour is that from 11:00.
    """
    curing = curing_of(_DAYS[:1], _hourly(lambda hour: 8 if hour <= 14 else 4), _SUPPLIER, _SHIFT)
    assert curing.first_min.tolist() == [0]
    assert curing.last_min.tolist() == [12 * 60]
    assert curing.cure_min == pytest.approx([75])


def test_on_a_day_of_frost_nothing_is_poured():
    curing = curing_of(_DAYS[:1], _hourly(lambda _: -2), _SUPPLIER, _SHIFT)
    assert curing.pours.tolist() == [False]
    assert curing.cure_min.tolist() == [30]
    assert curing.air_c.tolist() == [-2]


def test_above_the_suppliers_range_nothing_is_poured():
    curing = curing_of(_DAYS[:1], _hourly(lambda _: 33), _SUPPLIER._replace(most_c=32.0), _SHIFT)
    assert curing.pours.tolist() == [False]


def test_the_limits_themselves_are_allowed():
    for air in (5, 32):
        assert curing_of(_DAYS[:1], _hourly(lambda _, air=air: air), _SUPPLIER._replace(most_c=32.0), _SHIFT).pours[0]


def test_grout_that_must_not_freeze_overnight_is_not_poured_before_a_frost():
    """6 degC all day and -1 degC from 22:00: free of frost for 12 hours only if poured before 09:00 and a whole hour."""
    frost = _hourly(lambda hour: 6 if hour < 22 else -1)
    assert curing_of(_DAYS[:1], frost, _SUPPLIER, _SHIFT).last_min.tolist() == [ALL_DAY_MIN]
    longer = curing_of(_DAYS[:1], frost, _SUPPLIER._replace(frost_free_min=12 * 60.0), _SHIFT)
    # the hour from 21:00 ends in frost; 12 hours before it is 09:00, so pours begin before 09:00
    assert longer.last_min.tolist() == [9 * 60]


@pytest.mark.parametrize("air", [6.0, 12.5, 20.0, 27.0])
@pytest.mark.parametrize("datum", [0.0, -10.0])
def test_at_one_temperature_adding_up_hour_by_hour_is_the_formula(air, datum):
    supplier = Supplier(45.0, 21.0, datum, 5.0)
    by_formula = return_to_service_min(pd.Series([air]), 45.0, 21.0, datum).iloc[0]
    assert cure_minutes(np.full(48, air), supplier) == pytest.approx(by_formula)


def test_maturity_is_added_up_through_a_change_of_temperature():
    """600 degree-minutes: an hour at 5 degC gives 300, the rest at 10 degC takes 30 min."""
    assert cure_minutes(np.array([5.0, 10.0, 10.0]), _SUPPLIER)[0] == pytest.approx(90)


def test_nothing_hardens_at_the_datum():
    assert np.isinf(cure_minutes(np.zeros(5), _SUPPLIER)).all()


def test_a_forecast_every_three_hours_is_read_on_a_straight_line_and_not_beyond_its_ends():
    table = Temperatures(_forecast(("2026-10-05 06:00", 4), ("2026-10-05 09:00", 10)), _NONE, _NO_MONTHS)
    air, origin = air_by_hour(_DAYS[:1], table)
    assert air[6:10] == pytest.approx([4, 6, 8, 10])
    assert np.isnan(air[[5, 10]]).all()
    assert [*origin[5:7]] == ["not known", "forecast"]


def test_a_wide_gap_in_a_forecast_is_not_bridged():
    table = Temperatures(_forecast(("2026-10-05 06:00", 4), ("2026-10-05 13:00", 10)), _NONE, _NO_MONTHS)
    assert np.isfinite(air_by_hour(_DAYS[:1], table)[0]).sum() == 2


def test_the_seasonal_table_goes_on_where_the_forecast_ends():
    months = pd.DataFrame({"month": [10], "low_c": [4.0], "high_c": [12.0]})
    table = Temperatures(_forecast(("2026-10-05 06:00", 4), ("2026-10-05 09:00", 10)), _NONE, months)
    air, origin = air_by_hour(_DAYS, table)
    # coldest at 05:00, warmest at 15:00, the middle at 10:00 and at 22:00
    assert air[24 + np.array([5, 10, 15, 22])] == pytest.approx([4, 8, 12, 8])
    assert origin[24] == "seasonal table"
    assert origin[7] == "forecast"
    assert air[7] == pytest.approx(6)


def test_a_day_known_by_its_lowest_and_highest_has_its_course():
    days = pd.DataFrame({"day": pd.to_datetime(["2026-10-06"]), "low_c": [-2.0], "high_c": [10.0]})
    air, origin = air_by_hour(_DAYS, Temperatures(_forecast(), days, _NO_MONTHS))
    assert np.isnan(air[:24]).all()
    assert air[24 + np.array([5, 10, 15])] == pytest.approx([-2, 4, 10])
    assert {*origin[24:]} == {"forecast"}


def test_a_pour_at_the_end_of_its_hour_cures_in_the_hour_after_it():
    """20 degC until 10:00, 8 degC from 11:00: a pour at 09:59 cures as if it were 8 degC, 600 / 8 = 75 min."""
    curing = curing_of(_DAYS[:1], _hourly(lambda hour: 20 if hour <= 10 else 8), _SUPPLIER, (7 * 60.0, 10 * 60.0))
    assert curing.cure_min == pytest.approx([75])
