"""One command at a time writes a run's folder; a second is told who does."""

import os
import subprocess
import sys
import time
from pathlib import Path

import pytest

from pipeline.errors import OutputError
from pipeline.publish.held import held

_HOLD = """
import sys, time
from pathlib import Path
from pipeline.publish.held import held
with held(Path(sys.argv[1])):
    print("held", flush=True)
    time.sleep(60)
"""
_BESIDE = ("run.0123abcd", ".run.0123abcd", ".run.0123abcd.old", ".other.0123abcd", ".run.notes", ".run.0123abcd.txt")


@pytest.fixture
def other(tmp_path):
    """Another process that holds a folder."""
    command = [sys.executable, "-c", _HOLD, str(tmp_path / "out" / "run")]
    process = subprocess.Popen(command, stdout=subprocess.PIPE, text=True, cwd=Path(__file__).parents[2])
    assert process.stdout.readline() == "held\n"
    yield process
    process.kill()
    process.wait()
    process.stdout.close()


def test_a_second_command_is_told_which_one_holds_the_folder(tmp_path, other):
    with (
        pytest.raises(
            OutputError, match=rf"is being written by another command \(process {other.pid} on .*, since \d{{4}}-"
        ) as told,
        held(tmp_path / "out" / "run"),
    ):
        pass
    assert "Wait for it to end, or choose another folder with --out." in str(told.value)
    with held(tmp_path / "out" / "another"):
        pass


def test_a_command_that_is_killed_lets_go(tmp_path, other):
    other.kill()
    other.wait()
    with held(tmp_path / "out" / "run"):
        assert (tmp_path / "out" / ".run.lock").exists()
    assert not (tmp_path / "out").exists() or os.listdir(tmp_path / "out") == []  # noqa: PTH208 - names


def test_what_killed_commands_left_is_put_right_and_nothing_else_is_touched(tmp_path):
    for name in _BESIDE:
        (tmp_path / name).mkdir()
        (tmp_path / name / "a.csv").write_text(name)
    (tmp_path / ".run.aaaaaaaa").write_text("a file of somebody")
    (tmp_path / ".2026-08-31.0123abcd.old").mkdir()
    with held(tmp_path / "run"):
        # the older run of the folder, and that of another day which was moved aside
        assert (tmp_path / "run" / "a.csv").read_text() == ".run.0123abcd.old"
        assert (tmp_path / "2026-08-31").is_dir()
    left = {entry.name for entry in tmp_path.iterdir()}
    kept = {"run.0123abcd", ".other.0123abcd", ".run.notes", ".run.0123abcd.txt", ".run.aaaaaaaa"}
    assert left == kept | {"run", "2026-08-31"}


def test_the_newest_of_several_that_were_moved_aside_comes_back(tmp_path):
    for name, age in ((".run.aaaaaaaa.old", 100), (".run.bbbbbbbb.old", 10), (".run.cccccccc.old", 50)):
        (tmp_path / name).mkdir()
        (tmp_path / name / "a.csv").write_text(name)
        os.utime(tmp_path / name, (time.time() - age,) * 2)
    with held(tmp_path / "run"):
        assert (tmp_path / "run" / "a.csv").read_text() == ".run.bbbbbbbb.old"


def test_folders_made_for_a_command_that_wrote_nothing_go_again(tmp_path):
    with held(tmp_path / "a" / "b" / "run"):
        pass
    assert list(tmp_path.iterdir()) == []
    with held(tmp_path / "a" / "b" / "run"):
        (tmp_path / "a" / "b" / "run").mkdir()
    assert (tmp_path / "a" / "b" / "run").is_dir()


def test_a_place_where_nothing_can_be_written_is_told_before_the_work(tmp_path):
    (tmp_path / "file").write_text("in the way")
    with (
        pytest.raises(OutputError, match=r"cannot be written to \(Not a directory\)"),
        held(tmp_path / "file" / "sub" / "run"),
    ):
        pass


def test_many_that_come_and_go_at_once_never_hold_it_together(tmp_path):
    script = """
import os, sys, time
from pathlib import Path
from pipeline.errors import OutputError
from pipeline.publish.held import held
mark, held_once = Path(sys.argv[1]).with_name("mark"), 0
until = time.monotonic() + 2
while time.monotonic() < until or not held_once:
    try:
        with held(Path(sys.argv[1])):
            # fails if another is inside
            os.close(os.open(mark, os.O_CREAT | os.O_EXCL))
            mark.unlink()
            held_once += 1
    except OutputError:
        pass
"""
    (tmp_path / "stays").touch()
    command = [sys.executable, "-c", script, str(tmp_path / "run")]
    several = [subprocess.Popen(command, stderr=subprocess.PIPE, cwd=Path(__file__).parents[2]) for _ in range(4)]
    for one in several:
        assert one.communicate()[1] == b""
        assert one.returncode == 0
