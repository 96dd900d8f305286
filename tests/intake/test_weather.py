"""The tables of temperatures: as people write them, read or refused in words."""

import pandas as pd
import pytest

from pipeline.errors import InputError
from pipeline.intake.weather import read_weather
from pipeline.programme.plan import Weather


def _read(folder, text, season=None, day_first=None, timezone="America/Toronto", **keys):
    (folder / "weather.csv").write_text(text, encoding="utf-8")
    if season is not None:
        (folder / "season.csv").write_text(season, encoding="utf-8")
        keys["seasonal"] = "season.csv"
    weather = Weather.model_validate({"path": "weather.csv", **keys})
    return read_weather(weather, folder, timezone, day_first=day_first)


def _hours(found):
    frame = found[0].hours
    return [(f"{at:%d %H:%M}", round(air, 2)) for at, air in zip(frame["at"], frame["air_c"], strict=True)]


def test_a_forecast_by_date_and_hour_is_read(tmp_path):
    found = _read(tmp_path, "date,hour,temperature\n2026-10-14,6,-1.5\n2026-10-14,9:30,4\n2026-10-14,1 pm,7\n")
    assert _hours(found) == [("14 06:00", -1.5), ("14 09:30", 4), ("14 13:00", 7)]
    assert found[0].days.empty
    assert found[0].months.empty
    assert found[1][0].rows == 3
    assert found[1][0].notices == []


@pytest.mark.parametrize(
    "text",
    [
        "Date/Time,Temp (°C)\n2026-10-14 06:00,4.5\n",
        "time,Air temp\n14/10/2026 06:00,4.5 °C\n",
        "date;time;Temp °F\n14.10.2026;6:00;40,1\n",
        "date,time,temp_f\n2026-10-14,06:00,40.1\n",
        "date,time,air\n14 Oct 2026,6am,40.1F\n",
        # an offset is brought to the programme's time: Toronto is four hours behind in October
        "datetime,temperature\n2026-10-14T10:00Z,4.5\n2026-10-14T10:00Z,4.5\n",
    ],
)
def test_headers_units_and_times_are_understood_as_people_write_them(tmp_path, text):
    assert _hours(_read(tmp_path, text, day_first=True)) == [("14 06:00", 4.5)]


def test_the_unit_of_the_programme_is_used_where_neither_cell_nor_header_has_one(tmp_path):
    assert _hours(_read(tmp_path, "date,hour,t\n2026-10-14,6,50\n", unit="degF", columns={"temperature": "t"})) == [
        ("14 06:00", 10)
    ]


def test_a_forecast_by_day_has_lows_and_highs(tmp_path):
    days = _read(tmp_path, "date,low,high\n2026-10-14,-2,8\n2026-10-15,1,9\n")[0].days
    assert days[["low_c", "high_c"]].to_numpy().tolist() == [[-2, 8], [1, 9]]
    assert days["day"].tolist() == [pd.Timestamp("2026-10-14"), pd.Timestamp("2026-10-15")]


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("date,hour,low,high\n2026-10-14,6,2,5\n2026-10-14,7,4,5\n", [("14 06:00", 3.5), ("14 07:00", 4.5)]),
        ("datetime,low,high\n2026-10-14 06:00,2,5\n", [("14 06:00", 3.5)]),
        ("datetime,temp,min,max\n2026-10-14 06:00,4,2,5\n", [("14 06:00", 4)]),
        ("datetime,min,temp\n2026-10-14 06:00,2,4\n", [("14 06:00", 4)]),
    ],
)
def test_an_hour_has_its_temperature_else_the_mean_of_its_low_and_high(tmp_path, text, expected):
    assert _hours(_read(tmp_path, text)) == expected


@pytest.mark.parametrize(
    ("timezone", "day"),
    [("America/Santiago", "2026-09-06"), ("Africa/Cairo", "2026-04-24"), ("Asia/Beirut", "2026-03-29")],
)
def test_a_day_on_which_clocks_skip_midnight_is_a_day(tmp_path, timezone, day):
    found = _read(tmp_path, f"date,temperature\n{day},6\n2026-10-14,5\n", timezone=timezone)[0]
    assert found.hours.empty
    assert found.days["day"].tolist() == [pd.Timestamp(day), pd.Timestamp("2026-10-14")]


def test_a_day_with_one_temperature_has_it_all_day(tmp_path):
    days = _read(tmp_path, "date,temperature\n2026-10-14,6\n")[0].days
    assert days[["low_c", "high_c"]].to_numpy().tolist() == [[6, 6]]


def test_a_seasonal_table_names_months_in_words_or_numbers(tmp_path):
    months = _read(tmp_path, "Month,Min (C),Max (C)\n10,4,13\nNov,0,7\nDecember,-5,1\nSept.,9,18\n")[0].months
    assert months.to_numpy().tolist() == [[9, 9, 18], [10, 4, 13], [11, 0, 7], [12, -5, 1]]


def test_a_seasonal_table_goes_on_where_the_forecast_ends(tmp_path):
    found, tables = _read(tmp_path, "date,hour,temperature\n2026-10-14,6,4\n", "month,temperature\n11,3\n")
    assert len(found.hours) == 1
    assert found.months.to_numpy().tolist() == [[11, 3, 3]]
    assert [table.label for table in tables] == ["weather.csv", "season.csv"]


def test_rows_that_cannot_be_read_are_set_aside_and_counted(tmp_path):
    text = "date,hour,temperature\n2026-10-14,6,4\n2026-10-14,25,5\nsoon,9,5\n2026-10-14,12,n/a\n2026-10-14,15,400\n"
    found, (table,) = _read(tmp_path, text)
    assert len(found.hours) == 1
    assert len(table.notices) == 1
    assert table.notices[0].startswith(
        "weather.csv: 4 rows set aside; the first is row 2, with '2026-10-14' for `date`"
    )


def test_a_day_colder_at_its_highest_than_at_its_lowest_is_set_aside(tmp_path):
    found, (table,) = _read(tmp_path, "date,low,high\n2026-10-14,8,-2\n2026-10-15,1,9\n")
    assert len(found.days) == 1
    assert table.notices[0].startswith("weather.csv: 1 row set aside")


def test_of_a_time_that_occurs_twice_the_lowest_is_used(tmp_path):
    found, (table,) = _read(tmp_path, "date,hour,temperature\n2026-10-14,6,4\n2026-10-14,6,2\n")
    assert _hours((found, None)) == [("14 06:00", 2)]
    assert table.notices == ["weather.csv: 1 time that occurs more than once; the lowest temperature is used."]


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("a,b\n1,2\n", ["found the columns a, b", "expected date or month, and temperature", "weather.columns"]),
        ("date,low\n2026-10-14,2\n", ["expected date or month, and temperature or both low and high"]),
        ("date,hour,temperature\nsoon,6,warm\n", ["no row", "'soon' for `date`", "weather.columns"]),
        ("date,temperature\n03/04/2026,4\n", ["'03/04/2026'", "day and month", "weather.day_first"]),
    ],
)
def test_a_table_that_cannot_be_used_is_refused_in_words(tmp_path, text, words):
    with pytest.raises(InputError) as error:
        _read(tmp_path, text)
    for word in ("weather.csv", *words):
        assert word in str(error.value)


@pytest.mark.parametrize(
    ("text", "season", "wrong"),
    [
        ("date,temperature\n2026-10-14,6\n", "date,temperature\n2026-10-14,6\n", "season.csv: found dates"),
        ("month,temperature\n10,6\n", "month,temperature\n10,6\n", "weather.csv: found months"),
    ],
)
def test_a_forecast_and_a_seasonal_table_are_not_mistaken_for_each_other(tmp_path, text, season, wrong):
    with pytest.raises(InputError, match=wrong):
        _read(tmp_path, text, season)


def test_a_column_that_is_named_and_not_there_is_refused(tmp_path):
    with pytest.raises(InputError, match=r"no column 'air' for `temperature`"):
        _read(tmp_path, "date,temperature\n2026-10-14,6\n", columns={"temperature": "air"})


def test_of_two_tables_each_has_its_own_columns(tmp_path):
    found, _ = _read(
        tmp_path, "when,t\n2026-10-14,6\n", "month,mean\n11,3\n", columns={"date": "when", "temperature": "t"}
    )
    assert len(found.days) == 1
    assert len(found.months) == 1


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("", "weather.csv: cannot be read as a table"),
        ("date,temperature\n", r"weather.csv: the table has no rows. Give one that has in weather\.path or"),
    ],
)
def test_a_table_with_nothing_in_it_is_refused_as_a_table(tmp_path, text, words):
    with pytest.raises(InputError, match=words):
        _read(tmp_path, text)


def test_a_table_that_is_not_there_is_refused_by_the_key_that_names_it(tmp_path):
    with pytest.raises(InputError, match=r"no such file .* Correct weather\.seasonal\."):
        _read(tmp_path, "date,temperature\n2026-10-14,5\n", seasonal="seasons.csv")
    with pytest.raises(InputError, match=r"no such file .* Correct weather\.path\."):
        read_weather(Weather(path="none.csv"), tmp_path, "UTC", day_first=None)
