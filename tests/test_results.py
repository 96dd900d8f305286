from types import SimpleNamespace

import pandas as pd
import pytest
from hypothesis import given
from hypothesis import strategies as st

from pipeline.results import Comparison, RunResult


def _result(status, x_m, rows_in_file, is_copy=None, set_aside=0):
    """A run of rows with these statuses and positions; nothing else of it is asked for."""
    copies = pd.Series([False] * len(status) if is_copy is None else is_copy, dtype=bool)
    cores = pd.DataFrame(
        {"status": pd.Series(status, dtype="str"), "x_m": pd.Series(x_m, dtype=float), "is_copy": copies}
    )
    inputs = SimpleNamespace(
        register=SimpleNamespace(rows_in_file=rows_in_file, set_aside=pd.DataFrame(index=range(set_aside)))
    )
    rest = dict.fromkeys(
        ("settings", "catalogue", "as_of", "table", "audit", "plan", "orders", "calibration", "reasons")
    )
    return RunResult(inputs=inputs, cores=cores, costs=[], **rest)


def test_the_account_counts_each_core_once_by_status_and_once_by_position():
    """Eight rows in the file: one is filtered out, two are totals, five are read, and one of these repeats a core."""
    status = ["flagged", "pending", "pending", "reinstated", "pending"]
    result = _result(status, [1.0, None, 3.0, 4.0, None], 8, [False, False, False, False, True], set_aside=2)
    assert result.account == {
        "rows_in_file": 8, "left_out_by_where": 1, "set_aside": 2, "rows_read": 5, "copies": 1, "cores": 4, "flagged": 1,
        "reinstated": 1, "pending": 2, "placed": 3, "unplaced": 1,
    }  # fmt: skip


def test_a_status_that_no_core_has_counts_nothing():
    account = _result(["pending"], [1.0], 1).account
    assert (account["flagged"], account["reinstated"]) == (0, 0)


_ROW = st.tuples(
    st.sampled_from(["flagged", "reinstated", "pending"]), st.sampled_from([None, 0.0, 5.0]), st.booleans()
)


@given(st.lists(_ROW), st.integers(0, 50), st.integers(0, 9))
def test_the_account_balances_for_every_mix_of_copies(rows, left_out, set_aside):
    statuses, positions, is_copy = ([row[at] for row in rows] for at in range(3))
    account = _result(statuses, positions, len(rows) + left_out + set_aside, is_copy, set_aside).account
    assert (account["left_out_by_where"], account["set_aside"]) == (left_out, set_aside)
    assert account["rows_in_file"] == account["left_out_by_where"] + account["set_aside"] + account["rows_read"]
    assert account["rows_read"] == account["copies"] + account["cores"] == len(rows)
    assert account["cores"] == account["flagged"] + account["reinstated"] + account["pending"]
    assert account["cores"] == account["placed"] + account["unplaced"]


def test_a_run_that_wrote_nothing_has_no_folder_and_no_earlier_runs():
    result = _result([], [], 0)
    assert result.folder is None
    assert result.earlier.run is None


def test_a_result_cannot_be_changed():
    with pytest.raises(AttributeError):
        _result([], [], 0).folder = "elsewhere"


def test_the_trend_of_a_comparison_has_one_row_per_run_in_order_of_its_day():
    severities = {"findings_by_severity": {"fail": 0, "check": 0, "note": 0}}
    counts = {"rows_read": 5, "reinstated": 0, "pending": 2, "unplaced": 0}
    records = [
        {"as_of": day, "account": {**counts, "flagged": flagged}, **severities}
        for day, flagged in (("2026-09-30", 3), ("2026-08-31", 1))
    ]
    rest = dict.fromkeys(("before", "after", "changes"))
    trend = Comparison(caveats=[], records=records, notices=[], is_swapped=False, **rest).trend
    assert trend["as_of"].tolist() == ["2026-08-31", "2026-09-30"]
    assert trend["flagged"].tolist() == [1, 3]
