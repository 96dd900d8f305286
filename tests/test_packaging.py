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


def test_every_dependency_has_bounds():
    """A range such as ">=2,<3", so that a new major version is tried before it is taken."""
    extras = _PROJECT["project"]["optional-dependencies"]
    for requirement in [*_PROJECT["project"]["dependencies"], *(one for of in extras.values() for one in of)]:
        assert ("<" in requirement and ">=" in requirement) or "==" in requirement, requirement


def test_the_bill_of_materials_is_in_the_wheel_and_in_the_archive_that_wheels_are_made_of():
    (bill,) = _WHEEL["sbom-files"]
    assert (_ROOT / bill).is_file()
    assert f"/{bill}" in _PROJECT["tool"]["hatch"]["build"]["targets"]["sdist"]["include"]


def test_the_source_archive_holds_neither_tests_nor_runs():
    included = _PROJECT["tool"]["hatch"]["build"]["targets"]["sdist"]["include"]
    assert {name.split("/")[1] for name in included} == {
        "pipeline",
        "config",
        "sample_data",
        "README.md",
        "DEVELOPERS.md",
        ".ci",
    }


def test_the_versions_of_python_that_are_named_begin_with_the_one_that_is_required():
    kind = "Programming Language :: Python :: "
    named = [one.removeprefix(kind) for one in _PROJECT["project"]["classifiers"] if one.startswith(kind)]
    assert named == ["3.11", "3.12", "3.13", "3.14"]
    assert _PROJECT["project"]["requires-python"] == f">={named[0]}"


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
