"""What a killed process left is removed by the next, and nothing else ever is."""

import errno
import os
import subprocess
import sys
from pathlib import Path

import pytest

from pipeline.scratch import temporary_folder

_ROOT = Path(__file__).parents[1]
_HOLDS = """
import sys, time
from pathlib import Path
from pipeline.scratch import temporary_folder
with temporary_folder(Path(sys.argv[1])) as folder:
    (folder / "below").mkdir()
    (folder / "below" / "piece").write_bytes(b"0")
    print(folder, flush=True)
    time.sleep(600)
"""
_MAKES_MANY = """
import sys
from pathlib import Path
from pipeline.scratch import temporary_folder
for number in range(300):
    with temporary_folder(Path(sys.argv[1])) as folder:
        (folder / "piece").write_text(str(number))
        assert (folder / "piece").read_text() == str(number)
        assert [path.name for path in folder.iterdir()] == ["piece"]
"""


def _started(script, place):
    return subprocess.Popen([sys.executable, "-c", script, str(place)], cwd=_ROOT, stdout=subprocess.PIPE, text=True)


@pytest.fixture
def holding(tmp_path):
    """A process that holds a folder, and the folder."""
    process = _started(_HOLDS, tmp_path)
    yield process, Path(process.stdout.readline().strip())
    process.kill()
    process.communicate()


def _names(place):
    return sorted(path.name for path in place.iterdir())


def test_what_a_killed_process_left_is_removed_by_the_next(tmp_path, holding):
    process, left = holding
    assert (left / "below" / "piece").exists()
    process.kill()
    process.wait()
    assert left.exists()
    with temporary_folder(tmp_path) as folder:
        assert _names(tmp_path) == [folder.name, f"{folder.name}.lock"]
        assert folder.stat().st_mode & 0o077 == 0
        assert _names(folder) == []
    assert _names(tmp_path) == []


def test_the_folder_of_a_process_that_lives_is_left_alone(tmp_path, holding):
    _, left = holding
    for _ in range(2):
        with temporary_folder(tmp_path):
            assert (left / "below" / "piece").exists()
    assert (left / "below" / "piece").exists()


def test_processes_side_by_side_take_nothing_away_from_each_other(tmp_path):
    several = [_started(_MAKES_MANY, tmp_path) for _ in range(4)]
    for process in several:
        process.communicate(timeout=60)
    assert [process.returncode for process in several] == [0] * 4
    assert _names(tmp_path) == []


def test_what_other_machines_and_other_programs_have_there_is_left_alone(tmp_path, holding):
    process, left = holding
    process.kill()
    process.wait()
    left.with_name(f"{left.name}.lock").write_bytes(b"another machine")
    outside = tmp_path / "outside"
    outside.mkdir()
    (tmp_path / "kerfbook-fault.lock").touch()
    (tmp_path / "kerfbook-fault").mkdir()
    (tmp_path / "kerfbook-linked.lock").symlink_to(outside)
    os.mkfifo(tmp_path / "kerfbook-pipe.lock")
    before = _names(tmp_path)
    with temporary_folder(tmp_path):
        pass
    assert _names(tmp_path) == before


def test_nothing_is_removed_where_there_are_no_locks(tmp_path, holding, monkeypatch):
    process, left = holding
    process.kill()
    process.wait()

    def refused(*_):
        raise OSError(errno.ENOLCK, os.strerror(errno.ENOLCK))

    before = _names(tmp_path)
    monkeypatch.setattr("pipeline.scratch.fcntl.flock", refused)
    with temporary_folder(tmp_path) as folder:
        assert _names(tmp_path) == sorted([*before, folder.name])
    monkeypatch.setattr("pipeline.scratch.fcntl", None)
    with temporary_folder(tmp_path) as folder:
        assert _names(tmp_path) == sorted([*before, folder.name])
    assert (left / "below" / "piece").exists()


def test_a_link_in_place_of_a_folder_is_not_followed(tmp_path, holding):
    process, left = holding
    process.kill()
    process.wait()
    kept = tmp_path / "kept"
    left.rename(kept)
    left.symlink_to(kept)
    with temporary_folder(tmp_path):
        pass
    assert (kept / "below" / "piece").exists()
