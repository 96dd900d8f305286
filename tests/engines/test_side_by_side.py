"""Work on several things at the same time."""

import threading
import time

import pytest

from pipeline.engines.side_by_side import side_by_side


def test_the_results_are_in_the_order_of_the_things_however_long_each_takes():
    second_is_done = threading.Event()

    def work(number):
        if number == 0:
            assert second_is_done.wait(10)
        if number == 1:
            second_is_done.set()
        return number * 10

    # the first waits for the second: they are worked on at the same time
    assert side_by_side(work, range(5), threads=2) == [0, 10, 20, 30, 40]


def test_one_thread_does_one_thing_after_the_other():
    seen = []
    side_by_side(seen.append, range(5), threads=1)
    assert seen == [0, 1, 2, 3, 4]


def test_an_error_ends_the_work_and_is_passed_on():
    begun = []

    def work(number):
        begun.append(number)
        if number == 0:
            raise ValueError("no 0")
        # far longer than it takes to notice the error
        time.sleep(0.01)

    with pytest.raises(ValueError, match="no 0"):
        side_by_side(work, range(1000), threads=1)
    assert len(begun) < 1000


def test_things_are_made_as_they_are_asked_for():
    made, done = [], []

    def things():
        for number in range(20):
            made.append(number)
            # two are worked on, and one waits for them
            assert len(made) - len(done) <= 3
            yield number

    def work(number):
        time.sleep(0.002)
        done.append(number)
        return number

    assert side_by_side(work, things(), threads=2) == list(range(20))


def test_nothing_to_do_gives_nothing():
    assert side_by_side(len, []) == []
