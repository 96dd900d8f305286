"""Date order, serial dates, time zones and decimal marks, from cells that can be read in one way only."""

import pandas as pd

from pipeline.propose.dates_and_decimals import (
    propose_date_order,
    propose_decimal,
    propose_serial_dates,
    propose_timezone,
)  # fmt: skip
from pipeline.propose.questions import Section


def _with(propose, *columns):
    section = Section("cores", "a")
    propose(section, [pd.Series(cells, dtype="str") for cells in columns])
    return section


def _values(section):
    return {setting.key: setting.value for setting in section.settings if setting.question is None}


def test_three_dates_that_can_only_be_day_first_settle_the_order():
    section = _with(propose_date_order, ["25/03/2026", "03/04/2026", "26/03/2026"], ["27/03/2026"])
    assert _values(section) == {"day_first": True}
    assert section.settings[0].note == '3 dates can only be read this way, such as "25/03/2026"'


def test_dates_that_can_only_be_month_first_settle_it_the_other_way():
    assert _values(_with(propose_date_order, ["03/25/2026", "03/26/2026", "03/27/2026"])) == {"day_first": False}


def test_two_such_dates_may_be_slips_and_are_a_question():
    section = _with(propose_date_order, ["25/03/2026", "26/03/2026", "03/04/2026"])
    assert _values(section) == {}
    assert [choice.label for choice in section.questions[0].choices] == ["true", "false"]


def test_a_few_dates_in_the_other_order_are_slips_only_beside_many():
    few = ["25/03/2026"] * 4 + ["03/25/2026"] * 2
    assert _values(_with(propose_date_order, few)) == {}
    section = _with(propose_date_order, ["25/03/2026"] * 40 + ["03/25/2026"] * 2)
    assert _values(section) == {"day_first": True}
    assert section.settings[0].note.endswith("; 2 only the other way")


def test_open_dates_are_a_question_with_what_each_order_would_read():
    question = _with(propose_date_order, ["03/04/2026", "05/06/2026"]).questions[0]
    assert question.examples == ("03/04/2026", "05/06/2026")
    assert [choice.reading for choice in question.choices] == ["3 Apr 2026, 5 Jun 2026", "4 Mar 2026, 6 May 2026"]


def test_dates_in_both_orders_are_a_question_that_counts_them():
    section = _with(propose_date_order, ["25/03/2026"] * 4 + ["03/25/2026"] * 4)
    assert "4 dates can only be day first and 4 only month first" in section.questions[0].text.casefold()


def test_dates_without_an_order_need_no_setting():
    assert _with(propose_date_order, ["2026-03-25", "25 Mar 2026"]).settings == []


def test_serial_numbers_in_a_text_are_a_question():
    # day 46082 after 30 December 1899 is 1 March 2026; after 1 January 1904 it is 2 March 2030
    question = _with(propose_serial_dates, ["46082", "2026-03-01"]).questions[0]
    assert [(choice.label, choice.reading) for choice in question.choices] == [
        ('"serial"', "1 Mar 2026"), ('"serial 1904"', "2 Mar 2030"),
    ]  # fmt: skip
    # the last days that count from 1900 are none from 1904
    question = _with(propose_serial_dates, ["79000"]).questions[0]
    assert [choice.reading for choice in question.choices] == ["16 Apr 2116", "not a date"]


def test_a_time_of_day_asks_for_its_zone_and_one_with_an_offset_does_not():
    assert len(_with(propose_timezone, ["2026-03-19 14:30"]).questions) == 1
    assert _with(propose_timezone, ["2026-03-19T14:30-05:00", "2026-03-19T14:30Z", "2026-03-19"]).settings == []


def test_a_comma_that_can_only_be_the_decimal_mark_settles_the_others():
    assert _values(_with(propose_decimal, ["0,6", "1,200"])) == {"decimal": ","}
    assert _values(_with(propose_decimal, ["0.6", "1,200"])) == {"decimal": "."}


def test_a_file_with_both_marks_sets_none():
    assert _with(propose_decimal, ["0,6", "0.7", "1.200"]).settings == []


def test_nothing_is_set_where_every_number_can_be_read():
    assert _with(propose_decimal, ["0,6", "12,5"]).settings == []


def test_a_comma_before_three_digits_alone_is_a_question():
    question = _with(propose_decimal, ["1,200"]).questions[0]
    assert [(choice.label, choice.reading) for choice in question.choices] == [('"."', "1200"), ('","', "1.200")]
