"""The command line and a copy of the demo's run, for the commands that read a finished run."""

import shutil
import sys
from pathlib import Path

import pytest

from pipeline import cli

_DEMO = Path(__file__).parents[2] / "outputs" / "harbour-vale-2026" / "2026-09-30"


@pytest.fixture
def kerfbook(capsys, monkeypatch):
    def run(*arguments):
        monkeypatch.setattr(sys, "argv", ["kerfbook", *map(str, arguments)])
        try:
            cli.main()
        except SystemExit as done:
            captured = capsys.readouterr()
            return done.code, captured.out, captured.err
        captured = capsys.readouterr()
        return 0, captured.out, captured.err

    return run


@pytest.fixture
def run(tmp_path):
    shutil.copytree(_DEMO, tmp_path / "town" / "2026-09-30")
    return tmp_path / "town" / "2026-09-30"
