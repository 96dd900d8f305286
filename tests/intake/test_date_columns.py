"""Columns of dates: serial numbers, zones, and an order of day and month that the cells contradict or show."""

import numpy as np
import pandas as pd
import pytest

from pipeline.intake.cells.date_order import DateOrder, count_orders
from pipeline.intake.column_units import UnusableColumnError
from pipeline.intake.date_columns import date_column
from pipeline.intake.files.tables import RawTable
from pipeline.programme.settings import Cores

_ZONE = "America/Toronto"


def _column(cells, numbers=None, *, is_1904=False, register=None, **settings):
    """Read a column "Cut"; ``numbers``: which cells the workbook stores as numbers, None for a text."""
    frame = pd.DataFrame({"Cut": pd.Series(cells, dtype="str")})
    stored = None if numbers is None else pd.DataFrame({"Cut": numbers})
    table = RawTable(frame, np.arange(len(frame)), len(frame), "cores.xlsx", stored_as_number=stored, is_1904=is_1904)
    return date_column(table, frame["Cut"], "Cut", Cores(path="cores.xlsx", **settings), _ZONE, register)


def _days(column):
    return column[0].instants.dt.strftime("%Y-%m-%d").fillna("").tolist()


def _refusal(*args, **settings):
    with pytest.raises(UnusableColumnError) as error:
        _column(*args, **settings)
    return f"{error.value.what}. {error.value.remedy}"


def test_numbers_of_a_workbook_are_read_as_dates_and_reported_once():
    cells, numbers = ["46082", "2026-03-02", "46084.5", "20260305"], [True, False, True, True]
    column = _column(cells, numbers)
    assert _days(column) == ["2026-03-01", "2026-03-02", "2026-03-03", "2026-03-05"]
    _, evidence, notices = column
    assert notices == ["has 2 serial numbers that were read as dates, such as 46082 = 2026-03-01."]
    assert (evidence.serial_numbers, evidence.serial_example) == (2, "46082 = 2026-03-01")


def test_a_workbook_that_counts_from_1904_is_read_so():
    column = _column(["44620"], [True], is_1904=True)
    assert _days(column) == ["2026-03-01"]
    assert column[2] == ["has 1 serial number that was read as a date, such as 44620 = 2026-03-01."]


def test_digits_in_a_text_are_read_as_dates_only_where_the_programme_says_so():
    message = _refusal(["46082", "46083", "2026-03-02"])
    assert message == (
        "has dates such as '46082', which may be the serial number of a spreadsheet. "
        'If that number means 2026-03-01, set cores.dates = "serial"; if it means 2030-03-02, "serial 1904".'
    )
    assert "46083', which may be the serial number of a spreadsheet. If that number means 2026-03-02, " in _refusal(
        ["46083"]
    )
    assert _days(_column(["46082"], dates="serial")) == ["2026-03-01"]
    assert _days(_column(["46082"], dates="serial 1904")) == ["2030-03-02"]
    # in a workbook too, a cell of text is no number
    assert "set cores.dates" in _refusal(["46082"], [False])
    assert _days(_column(["46082"], [False], dates="serial")) == ["2026-03-01"]


def test_a_few_serial_numbers_in_a_text_are_matters_of_their_rows():
    column = _column(["46082", "2026-03-01", "2026-03-02"])
    assert column[0].problem.fillna("").tolist() == ["spreadsheet serial number", "", ""]
    assert column[2][0].startswith("has 1 date not read, such as '46082', which may be the serial number")


def test_times_are_in_the_zone_of_the_register():
    """Vancouver is three hours behind Toronto."""
    read = _column(["2026-09-30 22:30", "2026-09-30"], timezone="America/Vancouver")[0]
    assert read.instants.dt.strftime("%d %H:%M").tolist() == ["01 01:30", "30 00:00"]


def test_a_setting_that_many_cells_contradict_is_refused_with_the_count_and_the_remedy():
    cells = ["25/03/2026"] * 2 + ["26/03/2026", "03/04/2026"]
    assert _refusal(cells, day_first=False) == (
        "has 3 dates that can only be day first, such as '25/03/2026', but the programme file has "
        "cores.day_first = false. Set cores.day_first = true; if other files of the register are right, give this one "
        "its [[cores]]."
    )
    flipped = [f"{cell[3:5]}/{cell[:2]}/2026" for cell in cells]
    assert _refusal(flipped, day_first=True).startswith("has 3 dates that can only be month first")
    assert _column(cells, day_first=True)[2] == []


def test_one_or_two_slips_in_a_column_or_two_in_a_hundred_are_findings_of_their_rows():
    right, wrong = ["25/03/2026"] * 147, ["03/25/2026"]
    assert _column(right[:10] + wrong * 2, day_first=True)[0].problem.eq("unreadable").sum() == 2
    # 3 of 150 are 2 %, 3 of 149 are more
    assert _column(right + wrong * 3, day_first=True)[0].problem.eq("unreadable").sum() == 3
    _refusal(right[:-1] + wrong * 3, day_first=True)


def test_slips_that_no_date_of_the_register_speaks_against_are_its_order():
    register = DateOrder(day_first=3, day_first_example="25/03/2026")
    assert "Set cores.day_first = true" in _refusal(["25/03/2026"], day_first=False, register=register)
    _column(["25/03/2026"], day_first=False, register=register._replace(month_first=1))


def test_columns_of_a_register_in_different_orders_have_no_setting_that_fits():
    register = DateOrder(day_first=3, month_first=40, day_first_example="25/03/2026")
    message = _refusal(["25/03/2026"] * 3, day_first=False, register=register)
    assert "40 dates of the register can only be the other way round" in message
    assert message.endswith("Write all dates in one order, preferably as 2026-09-30.")


def test_without_a_setting_the_order_that_the_register_shows_is_proposed_and_not_used():
    cells = ["03/04/2026", "05/06/2026"]
    assert _refusal(cells) == (
        "has dates such as '03/04/2026', which may be day first or month first. "
        "Set cores.day_first = true or false in the programme file."
    )
    shown = count_orders(pd.Series(["25/03/2026"] * 214, dtype="str"))
    assert _refusal(cells, register=shown) == (
        "has dates such as '03/04/2026', which may be day first or month first; 214 dates of the register can only be day "
        "first, such as '25/03/2026', and none month first. Set cores.day_first = true."
    )
    shown = count_orders(pd.Series(["03/25/2026"] * 3, dtype="str"))
    assert _refusal(cells, register=shown).endswith("none day first. Set cores.day_first = false.")


def test_two_dates_or_dates_of_both_orders_are_not_enough_to_propose_one():
    two = DateOrder(day_first=2, day_first_example="25/03/2026")
    assert _refusal(["03/04/2026"], register=two).endswith("Set cores.day_first = true or false in the programme file.")
    both = DateOrder(5, 1, 0, "25/03/2026", "03/25/2026")
    message = _refusal(["03/04/2026"], register=both)
    assert "5 dates of the register can only be day first, such as '25/03/2026', and 1 date only month first" in message
    assert "such as '03/25/2026'. Write all dates in one order" in message


@pytest.mark.parametrize(
    ("cells", "settings", "settled"),
    [
        (["2026-03-01", "1 Mar 2026"], {}, "not needed"),
        (["03/04/2026"], {"day_first": True}, "setting"),
        (["2026-03-01", "2026-03-02", "03/04/2026"], {}, "open"),
    ],
)
def test_how_the_order_was_settled_is_kept(cells, settings, settled):
    evidence = _column(cells, **settings)[1]
    assert evidence.settled_by == settled
    assert evidence.order == count_orders(pd.Series(cells, dtype="str"))


def test_a_word_for_not_yet_is_an_empty_cell():
    column = _column(["2026-03-01", "open", " Not yet", "until revoked"])
    assert _days(column) == ["2026-03-01", "", "", ""]
    assert column[0].problem.fillna("").tolist() == ["", "", "", "unreadable"]
