"""Fixtures that many tests share."""

from pathlib import Path

import pytest

from pipeline.run import run_programme


@pytest.fixture(autouse=True)
def _wide_terminal(monkeypatch):
    """Let what a command prints be equally wide in every terminal and process."""
    monkeypatch.setenv("COLUMNS", "100")


@pytest.fixture(scope="session")
def demo(tmp_path_factory):
    """Audit the demo town once; no test changes the result or its folder."""
    programme = Path(__file__).parents[1] / "sample_data" / "programme.toml"
    return run_programme(programme, tmp_path_factory.mktemp("out"))
