"""Fixtures that many tests share."""

from pathlib import Path

import pytest
from hypothesis import settings

from pipeline.run import run_programme
from tests.small_town import write_town

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


@pytest.fixture(scope="session")
def run_folder(tmp_path_factory):
    """The folder of a run of the small town, with its pack: to be read, not changed."""
    folder = tmp_path_factory.mktemp("town")
    return run_programme(write_town(folder), folder / "out").folder
