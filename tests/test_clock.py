"""Seconds and memory of each stage, and progress updates."""

import pyarrow as pa
import pytest

from pipeline.clock import (
    Clock,
    counted,
    in_parts,
    numbered,
    peak_mb,
    silent,
    take_memory_from_system,
    uncounted,
)  # fmt: skip


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


def test_counted_work_is_told_as_it_begins_and_as_it_goes_on():
    updates = []
    done = counted(lambda *update: updates.append(update), "segments", 300)
    done(100)
    done(300)
    assert updates == [("segments", at, 300, "cores") for at in (0, 100, 300)]
    counted(silent, "segments", 300)(100)
    uncounted(100)
    assert len(updates) == 3


def test_parts_cover_all_rows_once_and_tell_how_many_are_done_before_each_and_at_the_end():
    told = []
    parts = list(in_parts(5, 2, lambda *counted: told.append(counted), "rows"))
    assert parts == [slice(0, 2), slice(2, 4), slice(4, 5)]
    assert told == [(0, 5, "rows"), (2, 5, "rows"), (4, 5, "rows"), (5, 5, "rows")]
    assert list(in_parts(0, 2, lambda *_: None, "rows")) == []


def test_what_is_counted_inside_a_numbered_piece_is_told_under_its_name():
    told = []
    begin = numbered(lambda *update: told.append(update), 2, "outputs")
    begin("cores.csv")(10, 40, "rows")
    begin("map.html")
    assert told == [("cores.csv", 0, 2, "outputs"), ("cores.csv", 10, 40, "rows"), ("map.html", 1, 2, "outputs")]


def test_arrow_takes_memory_as_everything_else_does():
    take_memory_from_system()
    assert pa.default_memory_pool().backend_name == "system"
