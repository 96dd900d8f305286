"""The trend over several runs."""

import pytest

from pipeline.history import trend
from pipeline.history.trend import TREND_COLUMNS


def test_a_trend_has_one_row_per_run_by_date():
    counts = {"rows_read": 9, "flagged": 2, "pending": 3, "reinstated": 4, "unplaced": 1}
    by_severity = {"fail": 2, "check": 5, "note": 0}
    old = {"as_of": "2026-08-31", "account": counts, "findings_by_severity": by_severity}
    new = old | {"as_of": "2026-09-30", "orders": {"bags_needed": 12.5}}
    assert trend([new, old]).fillna(-1).to_numpy().tolist() == [
        ["2026-08-31", 9, 2, 3, 4, 1, 2, 5, 0, -1],
        ["2026-09-30", 9, 2, 3, 4, 1, 2, 5, 0, 12.5],
    ]
    assert trend([]).empty


def _record(as_of, **changed):
    counts = {"rows_read": 9, "flagged": 2, "pending": 3, "reinstated": 4, "unplaced": 1}
    record = {"as_of": as_of, "account": counts, "findings_by_severity": {"fail": 2, "check": 5, "note": 0}}
    return record | changed


def test_a_trend_has_its_columns_and_kinds_even_without_runs():
    assert trend([]).columns.tolist() == list(TREND_COLUMNS)
    kinds = trend([_record("2026-01-31")]).dtypes
    assert all(kinds[name] == "int64" for name in TREND_COLUMNS[1:-1])
    assert kinds["bags_needed"] == "float64"


def test_two_runs_of_one_day_keep_their_order():
    first = _record("2026-01-31", orders={"bags_needed": 1.0})
    second = _record("2026-01-31", orders={"bags_needed": 2.0})
    assert trend([first, second])["bags_needed"].tolist() == [1, 2]


@pytest.mark.parametrize("orders", [{}, {"bags_needed": None}])
def test_a_record_without_bags_has_none_in_the_trend(orders):
    assert trend([_record("2026-01-31", orders=orders)])["bags_needed"].isna().all()


def test_dates_are_ordered_as_dates_across_years():
    days = ["2027-01-05", "2025-12-31", "2026-10-01", "2026-09-30"]
    assert trend(map(_record, days))["as_of"].tolist() == sorted(days)


def test_a_record_without_its_account_is_an_error_and_not_a_row_of_zeros():
    with pytest.raises(KeyError, match="account"):
        trend([{"as_of": "2026-01-31"}])
