"""Whatever step of its replacement a run's folder is stopped at, the old run or the new one is there, whole."""

import json
import subprocess
import sys
from pathlib import Path

import pytest

from tests.publish.replaced_at_each_step import NEW, OLD

_SCRIPT = Path(__file__).with_name("replaced_at_each_step.py")
_FRESH = {name: text for name, text in NEW.items() if text == "new"}
# steps that a replacement takes at least; fewer would mean that they are no longer seen
_STEPS = 20


def _found(how: str, way: str, which: str) -> list[dict]:
    command = [sys.executable, str(_SCRIPT), how, way, which]
    root = str(Path(__file__).parents[2])
    done = subprocess.run(command, capture_output=True, text=True, check=True, cwd=root, env={"PYTHONPATH": root})
    found = json.loads(done.stdout)
    assert len(found) > _STEPS
    return found


@pytest.mark.parametrize("which", ["first", "second"])
@pytest.mark.parametrize("way", ["exchange", "rename"])
def test_a_replacement_killed_at_each_step_leaves_one_whole_run(way, which):
    before, after = (None, _FRESH) if which == "first" else (OLD, NEW)
    found = _found("killed", way, which)
    for one in found[:-1]:
        assert one["code"] == -9, one
        # where two folders cannot be exchanged the older is moved aside, and is back at the next start
        assert one["at_once"] in (before, after, None if way == "rename" else after), one
        assert one["again"] in (before, after), one
        assert one["left"] == [], one
        assert one["then"] == after, one
    # and both were seen
    assert all(any(one["again"] == state for one in found) for state in (before, after))


@pytest.mark.parametrize(("how", "way"), [("ENOSPC", "rename"), ("EIO", "exchange")])
def test_a_replacement_whose_disk_fails_at_each_step_says_so_and_leaves_one_whole_run(how, way):
    for one in _found(how, way, "second")[:-1]:
        # a step of the clearing up may fail: the new run is there
        assert one["code"] in (0, 4), one
        assert one["at_once"] == (NEW if one["code"] == 0 else OLD), one
        assert one["left"] == [], one
        assert one["then"] == NEW, one
