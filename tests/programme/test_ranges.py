"""Ranges: what lies within comes in the unit wanted, what lies outside is refused with the range in words."""

import datetime as dt

import pytest

from pipeline.programme.ranges import Range, day_within, number_within, shortened

_GAP = Range("m", least="0 m", most="1 km")
_KERF = Range("mm", above="0 mm", below="50 mm")


@pytest.mark.parametrize(("written", "metres"), [("0 m", 0), ("1 km", 1000), ("50 ft", 15.24), ("1e2 cm", 1)])
def test_both_ends_of_a_closed_range_belong_to_it(written, metres):
    assert _GAP.read(written) == pytest.approx(metres)


@pytest.mark.parametrize(
    ("within", "written", "words"),
    [
        (_GAP, "-1 mm", "found '-1 mm', expected at least 0 m and at most 1 km"),
        (_GAP, "1000.1 m", "found '1000.1 m', expected at least 0 m and at most 1 km"),
        (_GAP, "1e99 m", "found '1e99 m', expected at least 0 m and at most 1 km"),
        # too large for a floating-point number, which makes it infinite
        (_GAP, "1e400 m", "found '1e400 m', expected at least 0 m and at most 1 km"),
        (_KERF, "0 mm", "found '0 mm', expected above 0 mm and below 50 mm"),
        (_KERF, "5 cm", "found '5 cm', expected above 0 mm and below 50 mm"),
    ],
)
def test_beyond_an_end_the_quantity_is_refused_as_it_was_written(within, written, words):
    with pytest.raises(ValueError, match="expected") as error:
        within.read(written)
    assert str(error.value) == words


@pytest.mark.parametrize("written", ["nan m", "inf m", "5", 5, None, "5 kg"])
def test_what_is_no_length_is_refused_as_such(written):
    with pytest.raises(ValueError, match="expected a length with its unit"):
        _GAP.read(written)


def test_a_text_too_long_for_a_quantity_is_shortened_in_the_error():
    with pytest.raises(ValueError, match=r"^found '1{20,60}\.\.\.1{20,60} m', expected at least 0 m"):
        _GAP.read("1" * 5000 + " m")


@pytest.mark.parametrize("written", [1, 1.0, 10, 9.5])
def test_a_number_within_its_ends_is_returned_as_it_is(written):
    assert number_within(written, 1, 10) == written


@pytest.mark.parametrize(
    ("written", "found"),
    [
        (0.9, "0.9"),
        (10_001, "10001"),
        (float("nan"), "nan"),
        (float("inf"), "inf"),
        (float("-inf"), "-inf"),
        (True, "True"),
        ("5", "'5'"),
        (None, "None"),
    ],
)
def test_a_number_that_is_none_or_outside_is_refused(written, found):
    with pytest.raises(ValueError, match="expected") as error:
        number_within(written, 1, 10_000)
    assert str(error.value) == f"found {found}, expected a number from 1 to 10,000"


@pytest.mark.parametrize("written", [1.5, 2.0, "2", True, 0])
def test_a_whole_number_has_no_decimals(written):
    with pytest.raises(ValueError, match=r"expected a whole number from 1 to 10$"):
        number_within(written, 1, 10, is_whole=True)


@pytest.mark.parametrize("day", [dt.date(1900, 1, 1), dt.date(2199, 12, 31), dt.datetime(2026, 9, 30)])
def test_a_day_of_a_works_programme_is_returned_as_it_is(day):
    assert day_within(day) == day


@pytest.mark.parametrize("day", [dt.date(1, 1, 1), dt.date(1899, 12, 31), dt.date(2200, 1, 1), dt.date(9999, 12, 31)])
def test_a_day_that_no_programme_has_is_refused(day):
    with pytest.raises(ValueError, match=f"^found {day}, expected a date from 1900-01-01 to 2199-12-31$"):
        day_within(day)


def test_a_long_value_is_shortened_in_its_middle():
    assert shortened("soon") == "'soon'"
    assert len(shortened("x" * 10_000)) <= 110
    assert shortened("a" * 300 + "z").endswith("z'")
