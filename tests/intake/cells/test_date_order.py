"""What dates show about the order of day and month."""

import pandas as pd
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from pipeline.intake.cells.date_order import DateOrder, contradiction, count_orders, total_order


def _count(*cells):
    return count_orders(pd.Series(cells, dtype="str"))


def test_cells_are_counted_by_what_they_can_be_each_as_often_as_it_is_written():
    found = _count("25/03/2026", " 25/03/2026", "3-25-26", "03.04.2026", "03.04.2026", "03/04/2026 14:00", "n/a", None)
    assert found == DateOrder(2, 1, 3, "25/03/2026", "3-25-26", "03.04.2026")


@pytest.mark.parametrize(
    "written",
    [
        "2026-03-25",
        "20260325",
        "25 Mar 2026",
        "05/05/2026",
        "32/03/2026",
        "25/13/2026",
        "0/3/2026",
        "25/03-2026",
        "1/2",
    ],
)
def test_what_shows_no_order_is_not_counted(written):
    assert _count(written) == DateOrder()


def test_the_columns_of_a_register_are_added_up_with_the_first_example_of_each():
    both = total_order([_count("03/04/2026"), _count("25/03/2026", "03/25/2026"), _count("26/03/2026")])
    assert both == DateOrder(2, 1, 1, "25/03/2026", "03/25/2026", "03/04/2026")
    assert total_order([]) == DateOrder()


@settings(deadline=None)
@given(st.lists(st.dates(), min_size=1, max_size=20))
def test_the_other_way_round_the_counts_change_places(days):
    one = _count(*(f"{day:%d/%m}/2026" for day in days))
    other = _count(*(f"{day:%m/%d}/2026" for day in days))
    assert (one.day_first, one.month_first, one.either) == (other.month_first, other.day_first, other.either)
    assert one.month_first == 0


@pytest.mark.parametrize(
    ("day_first", "month_first", "is_contradicted"),
    [(0, 0, False), (0, 2, False), (0, 3, True), (10, 2, False), (10, 3, True), (147, 3, False), (146, 3, True)],
)
def test_more_than_two_dates_and_two_in_a_hundred_contradict_a_setting(day_first, month_first, is_contradicted):
    """3 of 150 dates are 2 %."""
    order = DateOrder(day_first, month_first, 0, "25/03/2026", "03/25/2026")
    assert bool(contradiction(order, order, "cores.day_first", day_first=True)) == is_contradicted
    other = DateOrder(month_first, day_first, 0, "25/03/2026", "03/25/2026")
    assert bool(contradiction(other, other, "cores.day_first", day_first=False)) == is_contradicted


def test_a_contradiction_names_the_dates_and_the_setting():
    order = DateOrder(month_first=40, month_first_example="03/25/2026")
    assert contradiction(order, order, "cores.day_first", day_first=True) == (
        "has 40 dates that can only be month first, such as '03/25/2026', but the programme file has cores.day_first = true"
    )
