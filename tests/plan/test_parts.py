"""The routes of crews that share districts, with the numbers of the whole plan."""

from typing import NamedTuple

import numpy as np

from pipeline.plan.schedule import Route
from pipeline.plan.work import Part


class _Groups(NamedTuple):
    job: np.ndarray


def test_crews_jobs_and_visits_of_a_part_get_the_numbers_of_the_whole() -> None:
    """Crews 2 and 5 of the plan share jobs 10, 30 and 20; four visits come before theirs."""
    routes = [Route(1, 3, [0, 2], np.zeros(3)), Route(0, 4, [1], np.zeros(2))]
    part = Part(routes, _Groups(np.array([2, 0, 1])), np.ones(3), np.array([1]), np.array([2]), None)  # type: ignore[arg-type]
    whole = part.of(([2, 5], np.array([10, 30, 20])), before=4)
    assert [(one.team, one.day, one.visits) for one in whole.routes] == [(5, 3, [4, 6]), (2, 4, [5])]
    assert whole.groups.job.tolist() == [20, 10, 30]
    assert (whole.kept.tolist(), whole.over.tolist()) == ([30], [20])
