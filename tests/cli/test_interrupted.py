"""A run that somebody interrupts at the keyboard, at any of its outputs: nothing half written stays."""

import signal
import subprocess
import sys
from pathlib import Path

import pytest

from pipeline import cli
from tests.small_town import write_town

# interrupts itself as a keyboard does, when the work that is named begins
_INTERRUPTED = """
import os, signal, sys
from pipeline.cli.progress import _Lines
# a process that was started in the background may ignore the keyboard
signal.signal(signal.SIGINT, signal.default_int_handler)
told, work = _Lines.detail, sys.argv.pop(1)
def detail(self, text, *rest):
    told(self, text, *rest)
    if text.startswith(work):
        os.kill(os.getpid(), signal.SIGINT)
_Lines.detail = detail
from pipeline.cli import main
main()
"""


@pytest.mark.parametrize("work", ["roads.gpkg", "rules", "map.html", "handover.zip"])
def test_an_interrupted_run_says_so_and_leaves_nothing(tmp_path, work):
    out = tmp_path / "out"
    command = [sys.executable, "-c", _INTERRUPTED, work, "audit", str(write_town(tmp_path)), "--out", str(out)]
    done = subprocess.run(command, capture_output=True, text=True, cwd=Path(__file__).parents[2], check=False)
    assert done.returncode == 130, done.stderr
    assert done.stderr.endswith("Interrupted. No outputs were written.\n")
    assert not [file for file in out.rglob("*") if file.is_file()]


def test_one_who_interrupts_what_is_printed_last_reads_that_the_outputs_are_there(tmp_path, monkeypatch, capsys):
    def stop(*_):
        raise KeyboardInterrupt

    monkeypatch.setattr("pipeline.cli.audit.summary", stop)
    monkeypatch.setattr(sys, "argv", ["kerfbook", "audit", str(write_town(tmp_path)), "--out", str(tmp_path / "out")])
    before = [signal.getsignal(number) for number in (signal.SIGINT, signal.SIGTERM)]
    with pytest.raises(SystemExit) as ended:
        cli.main()
    for number, handler in zip((signal.SIGINT, signal.SIGTERM), before, strict=True):
        signal.signal(number, handler)
    assert ended.value.code == 130
    (run,) = [file.parent for file in (tmp_path / "out").rglob("run.json")]
    assert capsys.readouterr().err.endswith(f"Interrupted. The outputs are complete: {run}\n")
