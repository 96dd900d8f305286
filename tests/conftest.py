"""Fixtures that many tests share."""

from pathlib import Path

import pytest
from hypothesis import settings

from pipeline.run import run_programme

# on a busy machine an example may take any time, and that breaks no law
settings.register_profile("any machine", deadline=None)
settings.load_profile("any machine")


@pytest.fixture(autouse=True)
def _wide_terminal(monkeypatch):
    """Let what a command prints be equally wide in every terminal and process."""
    monkeypatch.setenv("COLUMNS", "100")


@pytest.fixture(scope="session")
def demo(tmp_path_factory):
    """Audit the demo town once; no test changes the result or its folder."""
    programme = Path(__file__).parents[1] / "sample_data" / "programme.toml"
    return run_programme(programme, tmp_path_factory.mktemp("out"))
