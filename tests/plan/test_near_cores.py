import numpy as np
import pandas as pd
from scipy.spatial.distance import cdist

from pipeline.plan import travel as streets
from pipeline.plan.near_cores import near_pairs
from tests.plan.few_jobs import any_day, few_jobs, travel_of
from tests.plan.streets.roads import layer


def _near(jobs, working_min=10.0, walking_m_min=100.0):
    hands = (jobs["pour_min"] + jobs["press_min"]).to_numpy(float)
    return near_pairs(jobs, hands, any_day(len(jobs)).bits, travel_of(jobs), working_min, walking_m_min)


def test_a_pair_is_as_near_as_the_working_time_leaves_for_walking():
    pairs, hidden = _near(few_jobs([0.5] * 3, [0, 400, 801]))
    assert pairs.members.tolist() == [[0, 1]]
    assert pairs.walk_min.tolist() == [4.0]
    assert not hidden.any()


def test_minutes_are_those_of_a_pair_either_way_round_and_infinite_for_no_pair():
    pairs, _ = _near(few_jobs([0.5] * 3, [0, 100, 900]))
    assert pairs.minutes(np.array([0, 1, 0]), np.array([1, 0, 2])).tolist() == [1.0, 1.0, np.inf]


def test_the_pairs_after_a_job_are_given_with_the_place_of_the_job():
    pairs, _ = _near(few_jobs([0.5] * 3, [0, 10, 20]))
    row, after = pairs.after(np.array([1, 0, 2]))
    assert list(zip(row.tolist(), after.tolist(), strict=True)) == [(0, 2), (1, 1), (1, 2)]
    assert pairs.sizes(np.array([1, 0, 2])).tolist() == [1, 2, 0]


def test_pairs_beyond_a_distance_and_beyond_the_nearest_are_left_out():
    pairs, _ = _near(few_jobs([0.5] * 4, [0, 10, 20, 300]))
    assert pairs.within(0.1).members.tolist() == [[0, 1], [1, 2]]
    near, others = pairs.nearest(1)
    assert near.members.tolist() == [[0, 1], [1, 2], [2, 3]]
    assert others.tolist() == [0, 1, 2, 3]


def test_all_pairs_of_a_town_are_found_with_their_distances():
    rng = np.random.default_rng(7)
    xy = rng.uniform(0, 3000, (700, 2))
    jobs = few_jobs([0.5] * 700, xy[:, 0], y_m=xy[:, 1])
    pairs, hidden = _near(jobs)
    apart = cdist(xy, xy) / 100.0
    wanted = np.argwhere(np.triu(apart <= 4.0, 1))
    assert not hidden.any()
    assert pairs.members.tolist() == wanted.tolist()
    np.testing.assert_allclose(pairs.walk_min, apart[tuple(wanted.T)])


def test_cores_that_lie_close_with_no_short_way_between_them_are_no_pair():
    """Two roads 20 m apart: the two cores of one are a pair, and 820 m lead round to the core of the other."""
    roads = layer([(0, 0), (0, 400), (20, 400), (20, 0)])
    jobs = few_jobs([0.5] * 3, [0, 0, 20], y_m=[0, 100, 0])
    facts = pd.DataFrame({"segment": 0, "chainage_m": [0.0, 100.0, 820.0], "offset_m": 0.0}, jobs.index)
    travel = streets.travel_of(roads, jobs[["x_m", "y_m"]].join(facts), np.empty((0, 2)), 1.0, 1.4)
    hands = (jobs["pour_min"] + jobs["press_min"]).to_numpy(float)
    for at_hand in (travel, travel.among(np.arange(3))):
        pairs, _ = near_pairs(jobs, hands, any_day(3).bits, at_hand, 10.0, 100.0)
        assert pairs.members.tolist() == [[0, 1]]
        assert pairs.walk_min.tolist() == [1.0]
