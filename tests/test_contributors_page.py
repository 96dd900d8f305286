"""The contributor's page is true: what it draws exists, and what it tells people to run runs from this checkout."""

import re
from pathlib import Path

import pytest

from pipeline.run import STAGES

_ROOT = Path(__file__).parents[1]
_PAGE = (_ROOT / "DEVELOPERS.md").read_text("utf-8")
# the tree: four blanks, a name at some depth, two blanks or more, what it is for
_LINE = re.compile(r"^ {4}((?:  )*)(\S+(?: \S+)*?)(?: {2,}(\S.*))?$", re.MULTILINE)


def _tree():
    """Return the paths that the tree of the house names."""
    drawn = _PAGE[_PAGE.index("    pipeline/\n") : _PAGE.index("**The floors.**")]
    found, above = [], []
    for blanks, names, _ in _LINE.findall(drawn):
        # the second line of a description is indented far deeper than any room
        if len(blanks) > 8:
            continue
        above = above[: len(blanks) // 2]
        found += [_ROOT.joinpath(*above, name) for name in names.split()]
        if names.endswith("/"):
            above.append(names)
    return found


def test_everything_in_the_tree_of_the_house_exists():
    paths = _tree()
    assert len(paths) > 35
    missing = [path for path in paths if not (path.exists() or path.with_suffix(".py").exists())]
    assert missing == []


def test_every_room_is_in_the_tree():
    rooms = {path.parent for path in (_ROOT / "pipeline").rglob("__init__.py")}
    assert rooms - set(_tree()) == set()


def test_the_stages_are_given_in_their_order():
    assert " -> ".join(STAGES) in _PAGE


def test_the_tree_fits_on_one_screen():
    drawn = _PAGE[_PAGE.index("    pipeline/\n") : _PAGE.index("**The floors.**")]
    assert len(drawn.splitlines()) <= 50


@pytest.mark.parametrize("path", sorted(set(re.findall(r"`((?:pipeline|config|tests|sample_data)/[\w./-]+)`", _PAGE))))
def test_every_path_on_the_page_exists(path):
    assert (_ROOT / path).exists()


@pytest.mark.parametrize("script", sorted(set(re.findall(r"(?:tests|sample_data)/[\w/]+\.py", _PAGE))))
def test_every_script_to_run_exists(script):
    assert (_ROOT / script).is_file()


@pytest.mark.parametrize("module", sorted(set(re.findall(r"python -m ([\w.]+)", _PAGE))))
def test_every_module_to_run_exists(module):
    assert (_ROOT / f"{module.replace('.', '/')}.py").is_file()
