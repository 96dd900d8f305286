"""Progress: plain lines in a log, a bar in a terminal, nothing when quiet."""

import re
import sys

import pytest

from pipeline.cli.progress import progress_of
from pipeline.clock import in_parts, numbered


def _run(*, quiet):
    with progress_of(quiet=quiet) as progress:
        progress.stage("intake", 1, 8)
        progress.detail("roads.gpkg")


def test_a_log_has_a_line_per_stage_and_detail_with_the_seconds_so_far(capsys):
    _run(quiet=False)
    out, err = capsys.readouterr()
    assert out == ""
    assert re.fullmatch(r" +\d+\.\d s  1/8 intake\n +\d+\.\d s      roads\.gpkg\n", err)


def test_quiet_prints_nothing(capsys):
    _run(quiet=True)
    assert capsys.readouterr() == ("", "")


def test_quiet_prints_nothing_in_a_terminal_either(capsys, monkeypatch):
    monkeypatch.setattr(sys.stderr, "isatty", lambda: True)
    _run(quiet=True)
    assert capsys.readouterr() == ("", "")


@pytest.mark.parametrize("text", ["roads.gpkg", "a-very-long-name-of-a-layer-that-does-not-fit.gpkg"])
def test_a_terminal_has_a_bar_that_is_gone_when_the_run_is_done(monkeypatch, text):
    monkeypatch.setattr(sys.stderr, "isatty", lambda: True)
    monkeypatch.setenv("COLUMNS", "120")
    with progress_of(quiet=False) as progress:
        progress.stage("locate", 2, 8)
        progress.detail(text)
        (task,) = progress._bar.tasks
        assert (task.description, task.completed, task.total) == ("locate", 1, 8)
        # the end of a long name tells files apart
        assert task.fields["detail"] == text[-24:]
        progress.stage("audit", 6, 8)
        assert (task.completed, task.fields["detail"]) == (5, "")
    assert progress._bar.live.transient


def _long_work(monkeypatch, *, seconds_each):
    """Tell of 1,000 cores, 250 at a time, on a clock that moves on by some seconds with each part."""
    now = [100.0]
    monkeypatch.setattr("time.perf_counter", lambda: now[0])
    with progress_of(quiet=False) as progress:
        progress.stage("locate", 2, 9)
        for done in range(0, 1001, 250):
            progress.detail("segments", done, 1000, "cores")
            now[0] += seconds_each
        return progress


def test_work_of_over_two_seconds_tells_how_much_is_done_how_fast_and_how_long_it_will_take(capsys, monkeypatch):
    _long_work(monkeypatch, seconds_each=50)
    # 250 cores in 50 s: 5 per second, and the 750 left take 150 s
    assert capsys.readouterr().err.splitlines() == [
        "    0.0 s  2/9 locate",
        "    0.0 s      segments",
        "   50.0 s      segments: 250 of 1,000 cores, 5 per second, 2 min 30 s left",
        "  100.0 s      segments: 500 of 1,000 cores, 5 per second, 1 min 40 s left",
        "  150.0 s      segments: 750 of 1,000 cores, 5 per second, 50 s left",
        "  200.0 s      segments: 1,000 of 1,000 cores, 5 per second, 0 s left",
    ]


def test_work_that_is_soon_done_is_named_and_not_counted(capsys, monkeypatch):
    _long_work(monkeypatch, seconds_each=0.2)
    assert capsys.readouterr().err == "    0.0 s  2/9 locate\n    0.0 s      segments\n"


def test_what_is_counted_goes_on_under_the_next_name(capsys, monkeypatch):
    now = [100.0]
    monkeypatch.setattr("time.perf_counter", lambda: now[0])
    with progress_of(quiet=False) as progress:
        begin = numbered(progress.detail, 4, "outputs")
        for name in ("cores.csv", "map.html", "report.html"):
            begin(name)
            now[0] += 4
    # one output in 4 s: the three left at map.html take 12 s
    assert capsys.readouterr().err.splitlines() == [
        "    0.0 s      cores.csv",
        "    4.0 s      map.html: 1 of 4 outputs, 0.25 per second, 12 s left",
        "    8.0 s      report.html: 2 of 4 outputs, 0.25 per second, 8 s left",
    ]


def test_what_is_counted_inside_one_output_leaves_the_count_of_outputs_as_it_is(capsys, monkeypatch):
    now = [100.0]
    monkeypatch.setattr("time.perf_counter", lambda: now[0])
    with progress_of(quiet=False) as progress:
        begin = numbered(progress.detail, 4, "outputs")
        begin("plan.csv")
        now[0] += 4
        tell = begin("crew-sheets.html")
        for part in in_parts(100, 50, tell, "days"):
            now[0] += part.stop - part.start
        begin("days")
    # 50 days in 50 s; then two outputs in 104 s
    assert capsys.readouterr().err.splitlines() == [
        "    0.0 s      plan.csv",
        "    4.0 s      crew-sheets.html: 1 of 4 outputs, 0.25 per second, 12 s left",
        "   54.0 s      crew-sheets.html: 50 of 100 days, 1 per second, 50 s left",
        "  104.0 s      crew-sheets.html: 100 of 100 days, 1 per second, 0 s left",
        "  104.0 s      days: 2 of 4 outputs, 0.019 per second, 1 min 44 s left",
    ]


@pytest.mark.parametrize(
    ("width", "columns", "count"),
    [
        (120, 5, "1,200 of 1,240,000 cores, 250 per second, 1 h 22 min left"),
        (100, 4, "1,200 of 1,240,000 cores, 250 per second, 1 h 22 min left"),
        (80, 4, "1,200 of 1,240,000 cores, 1 h 22 min left"),
    ],
)
def test_a_terminal_shows_as_much_beside_its_bar_as_fits_on_a_line(monkeypatch, width, columns, count):
    monkeypatch.setattr(sys.stderr, "isatty", lambda: True)
    monkeypatch.setenv("COLUMNS", str(width))
    now = [100.0]
    with progress_of(quiet=False) as progress:
        monkeypatch.setattr("time.perf_counter", lambda: now[0])
        progress.stage("locate", 2, 9)
        progress.detail("areas within the errors", 0, 1_240_000, "cores")
        now[0] += 4.8
        progress.detail("areas within the errors", 1200, 1_240_000, "cores")
        (task,) = progress._bar.tasks
        assert task.fields["count"] == count
        assert len(progress._bar.columns) == columns
        shown = len(task.fields["detail"]) + len(count) + len("locate   ") + len("0:00:00") + columns - 1
        assert shown + (columns == 5) * 20 <= width + 1
