"""Every sentence of report, comparison and handover page comes from the words file, and every one in it is used."""

import ast
import re
from html.parser import HTMLParser
from pathlib import Path

import pytest

from pipeline.commands.compare import compare_runs
from pipeline.commands.explain import explain_core
from pipeline.history import KINDS
from pipeline.publish.check.page import draw_check
from pipeline.publish.comparison import draw_comparison
from pipeline.publish.explain.page import draw_explanation
from pipeline.publish.report.report import draw_report
from pipeline.publish.words import MAP_TABLES, load_words, words_of
from tests.publish.check.inputs_checked import checked

_ROOT = Path(__file__).parents[2]
_PUBLISH = _ROOT / "pipeline" / "publish"
_NO_PAGES = {"page.html", "map.html"}
_PAGES = {path.name: path.read_text("utf-8") for path in sorted((_PUBLISH / "pages" / "templates").glob("*.html"))}
_TEMPLATES = {name: text for name, text in _PAGES.items() if name not in _NO_PAGES}
# pdf.py draws nothing; it holds only the sentences of errors
_FILES = [
    *sorted(file for file in (_PUBLISH / "report").glob("*.py") if file.name != "pdf.py"),
    *sorted((_PUBLISH / "pages").glob("*.py")),
    *sorted((_PUBLISH / "check").glob("*.py")),
    *sorted((_PUBLISH / "explain").glob("*.py")),
    *sorted((_PUBLISH / "plan").glob("*.py")),
    *sorted((_PUBLISH / "rehearsal").glob("*.py")),
    *(
        _PUBLISH / f"{name}.py"
        for name in (
            "comparison",
            "handover/changes",
            "handover/how_to_read",
            "handover/position_errors",
            "bought",
            "calibration/rounding",
            "learnt_errors",
            "map/by_district",
            "map/index_page",
            "map/one_of_many",
            "safety_notes",
            "words",
        )
    ),
]
_WORDS = load_words()
# a value of a column in rates.csv
_DATA = {"days since reinstatement"}


def _used():
    """Return the keys written in full, and the beginnings of keys that are put together."""
    text = "".join(_TEMPLATES.values()) + "".join(path.read_text("utf-8") for path in _FILES)
    whole = set(re.findall(r'"([a-z_]+\.[a-z_]+)"', text))
    begun = set(re.findall(r'"([a-z_]+\.[a-z_]*)" ~', text)) | set(re.findall(r'f"([a-z_]+\.[a-z_]*)\{', text))
    return whole, begun


def test_every_sentence_is_used_and_every_used_sentence_is_there():
    whole, begun = _used()
    mine = {key for key in _WORDS if key.split(".")[0] not in MAP_TABLES}
    assert len(mine) > 250
    unused = {key for key in mine if key not in whole and not key.startswith(tuple(begun))}
    assert unused == set()
    tables = {key.split(".")[0] for key in _WORDS}
    files = {key for key in whole if key.endswith((".html", ".css", ".csv", ".xlsx", ".json"))}
    assert {key for key in whole - files - begun if key.split(".")[0] in tables} - set(_WORDS) == set()


def test_keys_that_are_put_together_have_a_sentence_for_each_part_and_no_others():
    known = {
        "change": {kind.replace(" ", "_") for kind in KINDS},
        "change_means": {kind.replace(" ", "_") for kind in KINDS},
    }
    for table, names in known.items():
        assert {key.split(".")[1] for key in _WORDS if key.split(".")[0] == table} == names


@pytest.mark.parametrize("name", sorted(_TEMPLATES))
def test_no_template_holds_a_word_of_its_own(name):
    text = re.sub(r"\{\{.*?\}\}|\{%.*?%\}|\{#.*?#\}", "", _TEMPLATES[name], flags=re.DOTALL)
    text = re.sub(r"<[^>]*>", "", text)
    assert re.findall(r"[^\W\d_]+", text) == []


# words.py holds only the sentences of errors
@pytest.mark.parametrize("path", [path for path in _FILES if path.name != "words.py"], ids=lambda path: path.name)
def test_no_code_that_draws_a_page_holds_a_sentence_of_its_own(path):
    tree = ast.parse(path.read_text("utf-8"))
    own = set()
    for node in ast.walk(tree):
        if isinstance(node, ast.Raise):
            own |= {id(inner) for inner in ast.walk(node)}
        if isinstance(node, ast.Expr) and isinstance(node.value, ast.Constant):
            own.add(id(node.value))
    refusals = {"_refuse", "position_problems", "write_comparison"}
    for node in ast.walk(tree):
        if isinstance(node, ast.FunctionDef) and node.name in refusals:
            own |= {id(inner) for inner in ast.walk(node)}
    said = [
        node.value
        for node in ast.walk(tree)
        if isinstance(node, ast.Constant) and isinstance(node.value, str) and id(node) not in own
    ]
    assert [
        text
        for text in said
        if re.search(r"[a-z]{2,} [a-z]{2,} [a-z]{2,}", text) and "<" not in text and text not in _DATA
    ] == []


class _Visible(HTMLParser):
    """The text of a page without its style and what is marked as data."""

    def __init__(self):
        super().__init__()
        self.inside, self.text = [], []

    def handle_starttag(self, tag, _):
        if tag in {"style", "bdi", "code", "time"}:
            self.inside.append(tag)

    def handle_endtag(self, tag):
        if self.inside and self.inside[-1] == tag:
            self.inside.pop()

    def handle_data(self, data):
        if not self.inside:
            self.text.append(data)


def _unmarked(page):
    visible = _Visible()
    visible.feed(page)
    text = re.sub("\u2068[^\u2069]*\u2069", "", "".join(visible.text))
    out, depth = [], 0
    for letter in text:
        depth += (letter == "⟦") - (letter == "⟧")
        if depth == 0:
            out.append(letter)
    assert depth == 0
    return set(re.findall(r"[^\W\d_]+", "".join(out)))


def _pseudo():
    """Return words with every sentence in brackets; German dates have no words in them."""
    marked = {
        key: {form: f"⟦{one}⟧" for form, one in said.items()} if isinstance(said, dict) else f"⟦{said}⟧"
        for key, said in load_words().items()
    }
    return words_of("en", marked | {"locale": "de"})


def test_a_page_holds_no_sentence_that_is_not_in_the_words_file(demo_months, tmp_path):
    first, second = demo_months
    words = _pseudo()
    assert _unmarked(draw_report(second)) > {"Contents", "Flagged", "Trend"}
    # the word before the last item of a list is CLDR's
    assert _unmarked(draw_report(second, words)) <= {"und"}
    assert _unmarked(draw_report(first, words)) <= {"und"}
    assert _unmarked(draw_check(checked(), words)) == set()
    # units, and what the tables of the run hold in English, are no sentences of the page
    explained = explain_core(second.folder, "HV-0142")
    titles = {"Passed", "Volumes", "Decisions", "Kerf"}
    assert titles <= _unmarked(draw_explanation(explained))
    assert titles & _unmarked(draw_explanation(explained, words)) == set()
    found = compare_runs(first.folder, second.folder, tmp_path / "compare")
    assert _unmarked(draw_comparison(found, ["Local codes decide."], words)) == set()


def test_numbers_dates_and_shares_are_written_as_the_language_writes_them(demo_months):
    _, second = demo_months
    words = words_of("de", load_words() | {"locale": "de"})
    page = draw_report(second, words)
    assert '<html lang="de" dir="ltr">' in page
    assert '<time datetime="2026-09-30">30.09.2026</time>' in page
    assert "13,3\N{NO-BREAK SPACE}%" in page
    lines = second.orders.lines
    dark = lines.loc[lines["item"].eq("grout dark"), "order"].sum()
    assert dark > 1000
    assert f"{dark:,.0f} kg".replace(",", ".") in page
    assert not re.search(r"\d\.\d%", page)
