"""The map's scripts: their sentences come from the file of words, and a linter reads them."""

import json
import re
import subprocess
import sysconfig
from pathlib import Path

import pytest

from pipeline.publish.map.assets_in_order import SCRIPTS, STYLE_SHEETS
from pipeline.publish.words import MAP_TABLES, load_words

_ASSETS = Path(__file__).parents[3] / "pipeline" / "publish" / "map" / "assets"
_SCRIPTS = {path.name: path.read_text("utf-8") for path in sorted(_ASSETS.glob("*.js"))}
_PAGE = (_ASSETS / "page.html").read_text("utf-8")
_PYTHON = "".join(
    path.read_text("utf-8")
    for path in (_ASSETS.parent / "page.py", _ASSETS.parent / "plain_list.py", _ASSETS.parents[1] / "__init__.py")
)
_LINTER = Path(sysconfig.get_path("scripts")) / "oxlint"
_RULES = Path(__file__).parents[3] / ".ci" / "oxlint.json"
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
            or f"'{key}'" in plain
            # the name of a fact on the card
            or (table == "card" and f'"{name}"' in _SCRIPTS["card.js"])
        )
        assert used, key


def test_no_script_holds_a_sentence_of_its_own():
    """Two words and more between quotation marks are code (a selector, a class list, a style), never a sentence."""
    for line in "\n".join(_SCRIPTS.values()).splitlines():
        if line.strip().startswith("//") or '"use strict"' in line:
            continue
        for text in re.findall(r'"([^"]*)"', line):
            assert not re.match(r"^[A-Z][a-z]+ [a-z]+ [a-z]+", text), line


def test_a_script_builds_no_markup_from_text_and_asks_for_nothing():
    barred = r"innerHTML|outerHTML|insertAdjacentHTML|document\.write|\beval\(|new Function|fetch\(|XMLHttp"
    assert {name: found for name, text in _SCRIPTS.items() if (found := re.findall(barred, text))} == {}


def test_the_page_takes_every_script_and_style_sheet_once():
    assert sorted(SCRIPTS) == sorted(_SCRIPTS)
    assert sorted(STYLE_SHEETS) == sorted(path.name for path in _ASSETS.glob("*.css"))


def test_a_script_uses_only_the_scripts_before_it():
    """What is used when the script itself runs: the lines that take another's parts by name."""
    made = {}
    for place, name in enumerate(SCRIPTS):
        for used in re.findall(r"^  const \{.*\} = (Kerfbook\w+);$", _SCRIPTS[name], re.MULTILINE):
            assert used in made, (name, used)
        made |= dict.fromkeys(re.findall(r"^const (Kerfbook\w+) =", _SCRIPTS[name], re.MULTILINE), place)


def test_a_script_has_one_object_named_as_its_file():
    for name, text in _SCRIPTS.items():
        # start.js begins the page and gives nothing to others
        expected = [] if name == "start.js" else ["Kerfbook" + name.removesuffix(".js").title().replace("_", "")]
        assert re.findall(r"^const (\w+) = \(", text, re.MULTILINE) == expected
        # and one function around everything, which no linter counts the lines of
        assert text.count("})();") == 1


def _linted(folder):
    command = [_LINTER, "-c", _RULES, "-f", "unix", folder]
    done = subprocess.run(command, capture_output=True, text=True, check=False)
    return done.returncode, done.stdout


def test_the_linter_finds_nothing():
    assert _linted(_ASSETS) == (0, "")


def test_the_linter_knows_the_objects_of_the_scripts_and_no_others():
    rules = json.loads(re.sub(r"^\s*//.*$", "", _RULES.read_text("utf-8"), flags=re.MULTILINE))
    made = {name for text in _SCRIPTS.values() for name in re.findall(r"^const (Kerfbook\w+) =", text, re.MULTILINE)}
    assert {name for name in rules["globals"] if name.startswith("Kerfbook")} == made


@pytest.mark.parametrize(
    ("wrong", "rule"),
    [
        ("const KerfbookX = (() => { return { a: KerfbookWrods }; })();", "no-undef"),
        ("const KerfbookX = (() => { const unused = 1; return {}; })();", "no-unused-vars"),
        ("const KerfbookX = (() => { let a = 1; return { a }; })();", "prefer-const"),
        ("const KerfbookX = ((a) => { if (a == 1) return {}; return { a }; })();", "eqeqeq"),
        ("\n" * 301, "max-lines"),
        (
            "const KerfbookX = (() => {\nfunction long() {" + "\nlong();" * 60 + "\n}\nreturn { long };\n})();",
            "max-lines-per-function",
        ),
    ],
)
def test_the_linter_finds(tmp_path, wrong, rule):
    (tmp_path / "wrong.js").write_text(wrong, encoding="utf-8")
    code, found = _linted(tmp_path)
    assert code != 0
    assert f"eslint({rule})" in found


def test_no_text_of_a_script_runs_over_several_lines():
    """The page has the scripts without indentation, which such a text would lose."""
    for name, script in _SCRIPTS.items():
        texts = re.findall(r"`(?:[^`\\]|\\.)*`", script, re.DOTALL)
        assert [text for text in texts if "\n" in text] == [], name
