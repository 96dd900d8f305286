import numpy as np
import pytest

from pipeline.plan.timing import GroupTimes, Steps, begin_times, group_times, opened_bags


def _times(opened: list[float], walks: list[float], back: float) -> GroupTimes:
    """Return the times of one visit: 10 minutes to set up, 5 dry fit, 3 per bag, 2 to pour, 1 to press, 4 to clean."""
    steps = Steps(*(np.full((1, len(opened)), minutes) for minutes in (10.0, 5.0, 3.0, 2.0, 1.0, 4.0)))
    return group_times(steps, np.array([opened]), np.array([walks]), np.array([back]))


def _opened(net: list[float], smallest: float) -> list[list[float]]:
    return opened_bags(np.array([net]), smallest).tolist()


def test_a_bag_is_opened_when_those_before_it_are_used_up() -> None:
    # 0.4, 0.8 and 1.2 bags after 0.4, 0.4 and 0.4: the first opens one, the second needs 0.8 of it, the third a second
    assert _opened([0.4, 0.4, 0.4], 1.0) == [[1.0, 0.0, 1.0]]
    assert _opened([0.4, 0.4, 0.4], 0.5) == [[0.5, 0.5, 0.5]]
    assert _opened([2.3], 1.0) == [[3.0]]


def test_a_core_alone_is_set_up_mixed_poured_pressed_and_cleaned() -> None:
    times = _times([2.0], [], 0.0)
    # 10 + 5 set up and dry fit, 2 x 3 mixing, then 2 pouring and 1 pressing, 4 cleaning
    assert [minutes.tolist() for minutes in times] == [[[0.0]], [[21.0]], [[24.0]], [3.0], [28.0]]


def test_cores_that_share_a_mix_are_prepared_first_and_then_poured() -> None:
    times = _times([1.0, 0.0], [6.0], 6.0)
    # 15 at the first, 6 on foot, 15 at the second, 6 back, 3 mixing: pour at 45; pressed at 48, 6 on foot, pour at 54
    assert times.arrival.tolist() == [[0.0, 21.0]]
    assert times.pour.tolist() == [[45.0, 54.0]]
    assert times.pressed.tolist() == [[48.0, 57.0]]
    assert (times.span.tolist(), times.worked.tolist()) == ([12.0], [57.0 + 8.0])


@pytest.mark.parametrize(
    ("work", "begins"),
    [
        # shift 8:00 to 16:00, middle 12:00: visits end at 9:40, 11:20 and 13:00; 11:20 is nearest to noon
        ([90.0, 90.0, 90.0], [490.0, 590.0, 720.0]),
        # ends at 12:10 and 12:40: the break is after the first
        ([240.0, 20.0], [490.0, 770.0]),
        # one visit past the middle: the break is after it
        ([300.0], [490.0]),
    ],
)
def test_the_break_is_taken_after_the_visit_that_ends_nearest_to_the_middle(
    work: list[float], begins: list[float]
) -> None:
    hops = np.full(len(work), 10.0)
    assert begin_times(hops, np.array(work), (480, 960), 30.0).tolist() == begins
