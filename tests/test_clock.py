"""Seconds and memory of each stage, and progress updates."""

import pyarrow as pa
import pytest

from pipeline.clock import Clock, peak_mb, take_memory_from_system


class _Updates:
    def __init__(self):
        self.seen = []

    def stage(self, name, number, count):
        self.seen.append((name, number, count))

    def detail(self, text, *_counted):
        self.seen.append(text)


def test_each_stage_is_reported_with_its_number():
    updates = _Updates()
    clock = Clock(updates, ("intake", "audit"))
    with clock.stage("intake"):
        clock.detail("cores.csv")
    with clock.stage("audit"):
        pass
    assert updates.seen == [("intake", 1, 2), "cores.csv", ("audit", 2, 2)]


def test_the_costs_are_recorded_in_the_order_of_the_stages():
    clock = Clock(None, ("intake", "audit"))
    for name in ("intake", "audit"):
        with clock.stage(name):
            pass
    assert [cost.stage for cost in clock.costs] == ["intake", "audit"]
    assert all(0 <= cost.seconds < 5 for cost in clock.costs)


def test_the_seconds_are_those_that_passed(monkeypatch):
    ticks = iter([10.0, 12.5])
    monkeypatch.setattr("pipeline.clock.time.perf_counter", lambda: next(ticks))
    clock = Clock(None, ("intake",))
    with clock.stage("intake"):
        pass
    assert clock.costs[0].seconds == 2.5


def test_without_anyone_to_report_to_nothing_is_said():
    clock = Clock(None, ("intake",))
    clock.detail("cores.csv")
    with clock.stage("intake"):
        pass
    assert len(clock.costs) == 1


def test_a_stage_that_is_not_announced_is_an_error_where_progress_is_reported():
    clock = Clock(_Updates(), ("intake",))
    with pytest.raises(ValueError, match="tuple"), clock.stage("audit"):
        pass


def test_a_stage_that_fails_has_no_cost():
    clock = Clock(None, ("intake",))
    with pytest.raises(KeyError), clock.stage("intake"):
        raise KeyError
    assert clock.costs == []


def test_the_peak_memory_is_that_of_a_python_process():
    assert peak_mb() is None or 10 < peak_mb() < 100_000


def test_arrow_takes_memory_as_everything_else_does():
    take_memory_from_system()
    assert pa.default_memory_pool().backend_name == "system"
