"""Public holidays as they are published, Monday to Friday, the dates worked out by hand.

- Ontario: the nine public holidays of the Employment Standards Act, 2000, as the guide of the province lists them (ontario.ca,
  Your guide to the Employment Standards Act, public holidays; read in a copy of 31 January 2021). For a holiday on a weekend
  an employee has another working day off (ontario.ca, policy manual, part X), which no law fixes for everybody: s. 29, from
  memory. Holidays Act, R.S.C. 1985, c. H-5, s. 2(2), as quoted at hullandhull.com/2021/07/canada-day-2021: "When July 1 is a
  Sunday, July 2 is a legal holiday".
- England: bank holidays of 2026 and 2027 with their substitute days (gov.uk/bank-holidays, from memory).
"""

import pandas as pd
import pytest

from pipeline.programme.calendars import calendar_of
from pipeline.workdays import holiday_days

# New Year's Day, Family Day, Good Friday, Victoria Day, Canada Day, Labour Day, Thanksgiving, Christmas, 26 December
_ONTARIO = {
    2018: ["01-01", "02-19", "03-30", "05-21", "07-02", "09-03", "10-08", "12-25", "12-26"],  # 1 July on a Sunday
    2022: ["02-21", "04-15", "05-23", "07-01", "09-05", "10-10", "12-26"],  # 1 January and 25 December on weekends
    2026: ["01-01", "02-16", "04-03", "05-18", "07-01", "09-07", "10-12", "12-25"],  # 26 December on a Saturday
    2027: ["01-01", "02-15", "03-26", "05-24", "07-01", "09-06", "10-11"],  # 25 and 26 December on a weekend
}
_ENGLAND = {
    2026: ["01-01", "04-03", "04-06", "05-04", "05-25", "08-31", "12-25", "12-28"],
    2027: ["01-01", "03-26", "03-29", "05-03", "05-31", "08-30", "12-27", "12-28"],
}


def _weekdays(region, year, stated=None):
    days = pd.Series(holiday_days(calendar_of(region, stated), (year, year)))
    return days[days.dt.day_of_week < 5].dt.strftime("%m-%d").tolist()


@pytest.mark.parametrize("year", _ONTARIO)
def test_ontario_has_its_nine_public_holidays_and_no_day_in_place_of_those_on_weekends(year):
    assert _weekdays("CA-ON", year) == _ONTARIO[year]


@pytest.mark.parametrize("year", _ENGLAND)
def test_england_has_its_bank_holidays_with_their_substitute_days(year):
    assert _weekdays("GB-ENG", year) == _ENGLAND[year]


def test_a_programme_in_ontario_may_state_that_monday_28_december_2026_is_off():
    assert _weekdays("CA-ON", 2026, stated=True) == [*_ONTARIO[2026], "12-28"]
