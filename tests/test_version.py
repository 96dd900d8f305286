import importlib
import importlib.metadata
import tomllib
from pathlib import Path

import pytest

import pipeline
from pipeline import version


@pytest.fixture
def _afterwards():
    """Read the version anew once a test has tampered with it."""
    yield
    importlib.reload(version)


def test_the_version_is_that_of_the_installed_distribution():
    assert version.__version__ == importlib.metadata.version("kerfbook")
    assert pipeline.__version__ == version.__version__


def test_the_installed_version_is_that_of_this_checkout():
    project = tomllib.loads((Path(__file__).parents[1] / "pyproject.toml").read_text("utf-8"))["project"]
    assert version.__version__ == project["version"]


@pytest.mark.usefixtures("_afterwards")
def test_a_checkout_that_was_never_installed_has_an_unknown_version(monkeypatch):
    def missing(name):
        raise importlib.metadata.PackageNotFoundError(name)

    with monkeypatch.context() as patch:
        patch.setattr(importlib.metadata, "version", missing)
        assert importlib.reload(version).__version__ == "0+unknown"
