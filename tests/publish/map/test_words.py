"""The map's sentences: all in one file, all of them used."""

import re
from pathlib import Path

import pytest

from pipeline.publish.words import MAP_TABLES, load_words

_ASSETS = Path(__file__).parents[3] / "pipeline" / "publish" / "map" / "assets"
_SCRIPTS = {path.name: path.read_text("utf-8") for path in sorted(_ASSETS.glob("*.js"))}
_PAGE = (_ASSETS / "page.html").read_text("utf-8")
_PYTHON = "".join(path.read_text("utf-8") for path in (_ASSETS.parent / "page.py", _ASSETS.parent / "plain_list.py"))
_WORDS = load_words("en", MAP_TABLES)


def test_every_sentence_that_a_script_names_is_in_the_file():
    named = {
        key
        for text in _SCRIPTS.values()
        for key in re.findall(r'"((?:[a-z]+)\.[a-z_]+)"', text)
        if key.split(".")[0] in {known.split(".")[0] for known in _WORDS}
    }
    assert named - set(_WORDS) == set()
    assert len(named) > 60


def test_every_sentence_of_the_file_is_used():
    # keys put together in a script: the part before the braces, then any word
    built = [
        re.compile(f"^{re.escape(start)}")
        for text in _SCRIPTS.values()
        for start in re.findall(r"`([a-z]+\.[a-z_]*)\$\{", text)
    ]
    plain = "".join(_SCRIPTS.values()) + _PYTHON
    for key in _WORDS:
        table, _, name = key.partition(".")
        used = (
            key == "locale"
            or f'"{key}"' in plain
            or f"@@say_{table}_{name}@@" in _PAGE
            or any(start.match(key) for start in built)
            or (table == "plain" and f'"{name}"' in _PYTHON)
            or (table == "plain" and f"'{name}'" in _PYTHON)
            or (table == "card" and f'"{name}"' in _SCRIPTS["card.js"])
        )
        assert used, key


@pytest.mark.parametrize("name", sorted(_SCRIPTS))
def test_no_script_holds_a_sentence_of_its_own(name):
    """Two words and more between quotation marks are code (a selector, a class list, a style), never a sentence."""
    for line in _SCRIPTS[name].splitlines():
        if line.strip().startswith("//") or '"use strict"' in line:
            continue
        for text in re.findall(r'"([^"]*)"', line):
            assert not re.match(r"^[A-Z][a-z]+ [a-z]+ [a-z]+", text), line


@pytest.mark.parametrize("name", sorted(_SCRIPTS))
def test_a_script_is_a_small_room_and_builds_no_markup_from_text(name):
    text = _SCRIPTS[name]
    assert len(text.splitlines()) <= 300
    assert not re.search(
        r"innerHTML|outerHTML|insertAdjacentHTML|document\.write|\beval\(|new Function|fetch\(|XMLHttp", text
    )
