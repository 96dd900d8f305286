"""What each day costs in lateness, read as the table of all jobs by all days would be."""

import numpy as np
import pandas as pd
import pytest

from pipeline.plan.lateness import lateness_among, lateness_of

_DAYS = np.arange("2026-10-01", "2026-10-06", dtype="datetime64[D]")
_JOBS = pd.DataFrame(
    {"due_on": pd.to_datetime(["2026-09-29", "2026-10-03", None, "2026-10-09"]), "weight": [60.0, 20.5, 960.0, 1.0]},
    index=[7, 3, 5, 1],
)
# two days late on the first day, one more on each later; from the day after the due day on; never
_TABLE = np.array(
    [[120.0, 180.0, 240.0, 300.0, 360.0], [0.0, 0.0, 0.0, 20.5, 41.0], [0.0] * 5, [0.0] * 5],
)


@pytest.mark.parametrize(
    "asked",
    [
        np.array([1, 0]),
        np.array([], dtype=int),
        slice(1, 3),
        np.array([True, False, True, False]),
        (np.array([0, 1, 1]), np.array([4, 4, 2])),
        (slice(None), -1),
        (np.array([True, True, False, False]), -1),
        (np.array([0, 1]), 3),
    ],
)
def test_whatever_is_asked_of_it_is_that_part_of_the_table(asked):
    late = lateness_of(_JOBS, _DAYS)
    np.testing.assert_array_equal(late[asked], _TABLE[asked])


def test_it_is_as_long_and_as_wide_as_the_table():
    late = lateness_of(_JOBS, _DAYS)
    assert (len(late), late.shape) == (4, (4, 5))
    assert lateness_of(_JOBS.iloc[:0], _DAYS)[np.array([], dtype=int)].shape == (0, 5)


def test_of_some_jobs_it_is_the_table_of_those_jobs():
    some = np.array([1, 0])
    for late in (lateness_of(_JOBS, _DAYS), _TABLE):
        part = lateness_among(late, some)
        assert part[:].tolist() == [[0, 0, 0, 20.5, 41], [120, 180, 240, 300, 360]]
