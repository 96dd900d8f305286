"""What an installed copy holds: the package, and beside its code the catalogue and the demo."""

import fnmatch
import tomllib
from pathlib import Path

import pytest

_ROOT = Path(__file__).parents[1]
_PROJECT = tomllib.loads((_ROOT / "pyproject.toml").read_text("utf-8"))
_WHEEL = _PROJECT["tool"]["hatch"]["build"]["targets"]["wheel"]


def test_the_wheel_holds_the_folders_of_data_where_an_installed_copy_looks_for_them():
    assert _WHEEL["packages"] == ["pipeline"]
    # pipeline.programme.resources looks for pipeline/_data/<folder>
    assert _WHEEL["force-include"] == {name: f"pipeline/_data/{name}" for name in ("config", "sample_data")}


@pytest.mark.parametrize("folder", ["pipeline", "config", "sample_data"])
def test_no_file_that_the_code_needs_is_ignored_and_so_left_out(folder):
    """Hatchling leaves out what .gitignore names."""
    ignored = [line.strip("/") for line in (_ROOT / ".gitignore").read_text("utf-8").split() if line[0] not in "!#"]
    for path in (_ROOT / folder).rglob("*"):
        if "__pycache__" not in path.parts:
            assert not any(fnmatch.fnmatch(path.name, pattern) for pattern in ignored), path


def test_the_command_is_the_one_that_the_readme_runs():
    assert _PROJECT["project"]["scripts"] == {"kerfbook": "pipeline.cli:main"}


def test_every_dependency_has_bounds_or_a_reason_to_have_none():
    """A range such as ">=2,<3", so that a new major version is tried before it is taken."""
    for requirement in _PROJECT["project"]["dependencies"]:
        assert (
            ("<" in requirement and ">=" in requirement) or "==" in requirement or requirement.startswith("pyarrow>=")
        )


def test_the_lock_of_continuous_integration_pins_every_dependency():
    pinned = {
        line.split("==")[0].lower().replace("_", "-")
        for line in (_ROOT / ".ci/constraints.txt").read_text("utf-8").split()
    }
    extras = _PROJECT["project"]["optional-dependencies"]
    every = [*_PROJECT["project"]["dependencies"], *(one for of in extras.values() for one in of)]
    for requirement in every:
        name = requirement.replace(">", "=").replace("<", "=").split("=")[0].split("[")[0].lower()
        assert name in pinned, f"{name}: add it to .ci/constraints.txt (pip freeze of a fresh environment)"
