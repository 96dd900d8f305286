from itertools import combinations, pairwise, permutations
from math import ceil

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from pipeline.plan.mix_sets import mix_sets, whole_bags
from pipeline.plan.slots import Slots
from tests.plan.few_jobs import RULES, any_day, few_jobs, travel_of


def _sets(jobs, rules=RULES, slots=None):
    found = mix_sets(jobs, any_day(len(jobs)) if slots is None else slots, travel_of(jobs), rules)
    assert not found.hidden.any() or len(jobs) > 5
    return {frozenset(one for one in members if one >= 0) for members in found.members.tolist()}


def _ages(order, net, x, hands, mixing, rules):
    """Yield how old each bag is at the last press that it is used in, one share after the other, from its own pour."""
    clock, left, born = 0.0, 0.0, None
    for place, job in enumerate(order):
        if place:
            clock += abs(x[job] - x[order[place - 1]]) / rules.walking_m_min
        uses = [born] if left > 1e-9 else []
        need = net[job] - left
        opened = max(ceil(round(need / rules.smallest, 9)), 0) * rules.smallest
        if opened:
            clock += ceil(opened - 1e-9) * mixing if place else 0.0
            born = clock
            uses.append(born)
        left = left + opened - net[job]
        clock += hands
        yield from (clock - one for one in uses)


def _is_set(members, net, x, rules, hands=3.0, mixing=3.0):
    def saved(some):
        return sum(whole_bags(net[job], rules.smallest) for job in some) - whole_bags(
            sum(net[job] for job in some), rules.smallest
        )

    if any(saved(members) <= saved([job for job in members if job != one]) + 1e-9 for one in members):
        return False
    for order in permutations(members):
        walk = sum(abs(x[a] - x[b]) for a, b in pairwise(order)) / rules.walking_m_min
        in_time = walk + hands * len(order) <= rules.working_min + 1e-9
        if in_time and max(_ages(order, net, x, hands, mixing, rules)) <= rules.working_min + 1e-9:
            return True
    return False


def test_two_cores_that_fill_one_bag_share_it():
    assert _sets(few_jobs([0.6, 0.4], [0, 100])) == {frozenset({0, 1})}


def test_cores_that_save_nothing_share_nothing():
    # 0.6 and 0.6 need two bags, together as alone
    assert _sets(few_jobs([0.6, 0.6], [0, 100])) == set()


def test_walking_counts_as_well_as_pouring_and_pressing():
    # 2 x 3 minutes to pour and press leave 4 minutes, that is 400 m
    assert _sets(few_jobs([0.6, 0.4], [0, 400])) == {frozenset({0, 1})}
    assert _sets(few_jobs([0.6, 0.4], [0, 401])) == set()


def test_three_cores_share_two_bags():
    assert _sets(few_jobs([0.6, 0.6, 0.6], [0, 40, 80])) == {frozenset({0, 1, 2})}


def test_a_core_that_saves_nothing_is_in_no_set():
    # 0.5 and 0.5 fill a bag; with 1.0 they need two, as the three do without it
    assert _sets(few_jobs([0.5, 0.5, 1.0], [0, 10, 20])) == {frozenset({0, 1})}


def test_more_than_three_cores_share_where_the_working_time_allows():
    jobs = few_jobs([0.25, 0.25, 0.25, 0.25], [0, 10, 20, 30])
    assert frozenset({0, 1, 2, 3}) in _sets(jobs, RULES._replace(working_min=12.3))
    assert frozenset({0, 1, 2, 3}) not in _sets(jobs, RULES._replace(working_min=12.2))


def test_grout_that_is_left_over_waits_while_the_next_bag_is_mixed():
    # 1.3 and 1.3: half of the second bag waits 3 + 2 min of walking + 3 of mixing + 3, that is 11
    jobs = few_jobs([1.3, 1.3], [0, 200])
    assert _sets(jobs) == set()
    assert _sets(jobs, RULES._replace(working_min=11.0)) == {frozenset({0, 1})}


def test_the_order_of_pouring_is_the_one_that_keeps_the_grout_fresh():
    # from 1.5 to 0.5 nothing is mixed on the way; from 0.5 to 1.5 one bag is
    jobs = few_jobs([0.5, 1.5], [0, 300])
    found = mix_sets(jobs, any_day(2), travel_of(jobs), RULES)
    assert found.members[0, :2].tolist() == [1, 0]
    assert (found.bags[0], found.saved[0], found.walk_min[0]) == (2.0, 1.0, 3.0)


def test_half_bags_are_shared_as_half_bags():
    # 0.3 and 0.2 are half a bag; alone each takes half a bag
    jobs = few_jobs([0.3, 0.2], [0, 100])
    found = mix_sets(jobs, any_day(2), travel_of(jobs), RULES._replace(smallest=0.5))
    assert (found.bags.tolist(), found.saved.tolist()) == ([0.5], [0.5])


def test_a_core_of_more_than_two_bags_shares_its_rest():
    assert _sets(few_jobs([2.3, 0.7], [0, 100])) == {frozenset({0, 1})}


@pytest.mark.parametrize(
    "jobs",
    [
        few_jobs([0.6, 0.4], [0, 1], shade=["grey", "pale"]),
        few_jobs([0.6, 0.0], [0, 1]),
        few_jobs([0.6, float("nan")], [0, 1]),
        few_jobs([0.6], [0]),
        few_jobs([], []),
    ],
    ids=["two shades", "nothing needed", "need not known", "one core", "no core"],
)
def test_there_are_no_sets_without_two_cores_of_a_shade_that_need_grout(jobs):
    assert _sets(jobs) == set()


def test_without_working_time_nothing_is_shared():
    assert _sets(few_jobs([0.6, 0.4], [0, 0]), RULES._replace(working_min=0.0)) == set()


def test_a_mix_needs_a_crew_and_a_day_in_common():
    jobs = few_jobs([0.6, 0.4], [0, 100])
    # two crews on two days: the first core by crew 0 on both, the second by crew 1 on both
    apart = Slots(np.packbits(np.array([[1, 0, 1, 0], [0, 1, 0, 1]], dtype=bool), axis=1), 2)
    assert _sets(jobs, slots=apart) == set()
    # three cores, each two of which have a day in common, and no day all of them
    three = Slots(np.packbits(np.array([[1, 1, 0], [0, 1, 1], [1, 0, 1]], dtype=bool), axis=1), 1)
    assert _sets(few_jobs([0.3, 0.3, 0.3], [0, 10, 20]), slots=three) == {
        frozenset(pair) for pair in [(0, 1), (1, 2), (0, 2)]
    }


def test_many_cores_at_one_spot_have_a_bounded_number_of_sets():
    jobs = few_jobs([0.3] * 400, [0] * 400)
    found = mix_sets(jobs, any_day(400), travel_of(jobs), RULES)
    assert 400 < len(found.bags) < 1_000_000
    assert found.hidden.all()


@settings(max_examples=60, deadline=None)
@given(
    st.lists(st.tuples(st.sampled_from([0.2, 0.35, 0.5, 0.7, 1.0, 1.3, 2.4]), st.integers(0, 600)), max_size=5),
    st.sampled_from([0.0, 6.0, 10.0, 16.0, 30.0]),
    st.sampled_from([1.0, 0.5]),
)
def test_the_sets_are_those_found_by_trying_all(cores, working_min, smallest):
    net, x = [core[0] for core in cores], [core[1] for core in cores]
    rules = RULES._replace(working_min=working_min, smallest=smallest)
    every = [frozenset(some) for size in range(2, len(net) + 1) for some in combinations(range(len(net)), size)]
    wanted = {some for some in every if _is_set(sorted(some), net, x, rules)}
    found = mix_sets(few_jobs(net, x), any_day(len(net)), travel_of(few_jobs(net, x)), rules)
    assert {frozenset(one for one in members if one >= 0) for members in found.members.tolist()} == wanted
