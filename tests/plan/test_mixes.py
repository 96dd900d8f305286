import numpy as np

from pipeline.plan.mix_sets import mix_sets
from pipeline.plan.mixes import mix_groups
from pipeline.plan.slots import Slots
from tests.plan.few_jobs import RULES, any_day, few_jobs, travel_of


def _groups(jobs, slots=None, late=None, rules=RULES, *, quick=False):
    slots = any_day(len(jobs)) if slots is None else slots
    late = np.zeros((len(jobs), 8)) if late is None else late
    return mix_groups(jobs, mix_sets(jobs, slots, travel_of(jobs), rules), slots, late, quick=quick)


def test_each_core_is_in_one_group():
    jobs = few_jobs([0.6, 0.4, 0.5, 0.5, 0.0], [0, 10, 20, 30, 40])
    assert sorted(job for group in _groups(jobs) for job in group) == [0, 1, 2, 3, 4]


def test_the_groups_save_most_not_first():
    # 0.4 with 0.4 saves a bag and leaves 0.6 and 0.6 alone, 4 less 1; each 0.4 with a 0.6 saves two
    jobs = few_jobs([0.6, 0.4, 0.4, 0.6], [0, 100, 110, 210])
    assert _groups(jobs) == [[0, 1], [2, 3]]


def test_of_groups_that_save_the_same_the_nearer_are_taken():
    jobs = few_jobs([0.6, 0.4, 0.4], [0, 300, 100])
    assert sorted(map(sorted, _groups(jobs))) == [[0, 2], [1]]


def test_no_bag_is_saved_by_more_walking_than_it_is_worth():
    # 400 m are 4 minutes, gone three times: 12 of the 30 minutes that a bag is worth. With 0.6 km/h it is 40, thrice
    jobs = few_jobs([0.6, 0.4], [0, 400])
    slow = RULES._replace(walking_m_min=10.0, working_min=100.0)
    assert _groups(jobs) == [[0, 1]]
    assert _groups(jobs, rules=slow) == [[0], [1]]


def test_an_urgent_core_does_not_wait_for_one_that_is_booked_later():
    # one crew, 8 days: the first core may be done on any of them, the second from day 5
    slots = Slots(np.packbits(np.array([[1] * 8, [0] * 5 + [1] * 3], dtype=bool), axis=1), 1)
    jobs = few_jobs([0.6, 0.4], [0, 100])
    urgent, patient = np.arange(8) * 60.0, np.arange(8) * 1.0
    assert _groups(jobs, slots, np.array([urgent, patient])) == [[0], [1]]
    assert _groups(jobs, slots, np.array([patient, patient])) == [[0, 1]]


def test_many_cores_are_shared_in_pieces_that_lie_across_each_other():
    # 300 cores along a street, each 0.5 bags: 150 pairs save a bag each; a core or two at the ends of a piece may not
    jobs = few_jobs([0.5] * 300, np.arange(300) * 150.0)
    groups = _groups(jobs)
    assert sorted(job for group in groups for job in group) == list(range(300))
    assert 150 <= len(groups) <= 152


def test_cores_at_one_spot_are_shared_in_threes():
    # 0.3 bags each, three in a bag, and three minutes each of the ten
    groups = _groups(few_jobs([0.3] * 30, [0] * 30))
    assert sorted(map(len, groups)) == [3] * 10


def test_no_core_has_no_groups():
    assert _groups(few_jobs([], [])) == []


def test_the_quick_way_takes_the_set_that_saves_most_and_then_what_is_left():
    # the middle pair is the nearest: it saves its bag first, and leaves the others alone, where the search saves two
    jobs = few_jobs([0.6, 0.4, 0.4, 0.6], [0, 100, 110, 210])
    assert _groups(jobs, quick=True) == [[0], [1, 2], [3]]


def test_a_set_is_chosen_whose_first_core_to_pour_is_not_the_first_of_the_register():
    # along the street the second core comes first; the three need 1.9 bags, 3 if each has its own
    assert _groups(few_jobs([0.5, 0.7, 0.7], [1, 0, 2])) == [[1, 0, 2]]
