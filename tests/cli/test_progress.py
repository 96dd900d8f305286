"""Progress: plain lines in a log, a bar in a terminal, nothing when quiet."""

import re
import sys

import pytest

from pipeline.cli.progress import progress_of


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
