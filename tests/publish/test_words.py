"""Every sentence of the pages comes from one file per language; numbers and dates follow its locale."""

import ast
import datetime as dt
import re
import shutil
from html.parser import HTMLParser
from pathlib import Path

import numpy as np
import pytest
from markupsafe import Markup

from pipeline.commands.compare import compare_runs
from pipeline.errors import SettingsError
from pipeline.history import KINDS
from pipeline.programme import resources
from pipeline.publish.comparison import draw_comparison
from pipeline.publish.report.report import draw_report
from pipeline.publish.words import MAP_TABLES, load_words, plain_text, words_of
from pipeline.run import read_programme, run_programme

_ROOT = Path(__file__).parents[2]
_PUBLISH = _ROOT / "pipeline" / "publish"
_NO_PAGES = {"page.html", "map.html"}
_PAGES = {path.name: path.read_text("utf-8") for path in sorted((_PUBLISH / "pages" / "templates").glob("*.html"))}
_TEMPLATES = {name: text for name, text in _PAGES.items() if name not in _NO_PAGES}
# pdf.py draws nothing: its sentences are those of errors
_FILES = [
    *sorted(file for file in (_PUBLISH / "report").glob("*.py") if file.name != "pdf.py"),
    *sorted((_PUBLISH / "pages").glob("*.py")),
    *(_PUBLISH / f"{name}.py" for name in ("comparison", "handover/how_to_read", "words")),
]
_WORDS = load_words()
# a column's value in rates.csv
_DATA = {"days since reinstatement"}
_ENGLISH = words_of("en")


def _german(**sentences):
    return words_of("de", {"locale": "de", **sentences})


def _used():
    """Keys in full, and the beginnings of keys that are put together."""
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


def test_a_beginning_of_a_key_is_not_a_leave_for_any_sentence():
    """What is put together comes from lists that are known: each gives a sentence, and there are no others."""
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


# the sentences of words.py are those of errors
@pytest.mark.parametrize("path", [path for path in _FILES if path.name != "words.py"], ids=lambda path: path.name)
def test_no_code_that_draws_a_page_holds_a_sentence_of_its_own(path):
    tree = ast.parse(path.read_text("utf-8"))
    own = set()
    for node in ast.walk(tree):
        if isinstance(node, ast.Raise):
            own |= {id(inner) for inner in ast.walk(node)}
        if isinstance(node, ast.Expr) and isinstance(node.value, ast.Constant):
            own.add(id(node.value))
    refusals = {"_refuse", "write_comparison"}
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
    """The text of a page but for its style and what is marked as data."""

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
    """Every sentence between brackets; German's dates have no words in them."""
    marked = {
        key: {form: f"⟦{one}⟧" for form, one in said.items()} if isinstance(said, dict) else f"⟦{said}⟧"
        for key, said in load_words().items()
    }
    return words_of("en", marked | {"locale": "de"})


@pytest.fixture(scope="module")
def runs(tmp_path_factory):
    out = tmp_path_factory.mktemp("out")
    programme = _ROOT / "sample_data" / "programme.toml"
    first = run_programme(programme, out, dt.date(2026, 8, 31))
    return first, run_programme(programme, out)


def test_a_page_says_nothing_that_is_not_in_the_catalogue_but_data(runs):
    first, second = runs
    words = _pseudo()
    assert _unmarked(draw_report(second)) > {"Contents", "Flagged", "Trend"}
    # the word that ends a list is CLDR's
    assert _unmarked(draw_report(second, words)) <= {"und"}
    assert _unmarked(draw_report(first, words)) <= {"und"}
    found = compare_runs(first.folder, second.folder)
    assert _unmarked(draw_comparison(found, ["Local codes decide."], words)) == set()


def test_numbers_dates_and_shares_are_written_as_the_language_writes_them(runs):
    words = words_of("de", load_words() | {"locale": "de"})
    page = draw_report(runs[1], words)
    assert '<html lang="de" dir="ltr">' in page
    assert '<time datetime="2026-09-30">30.09.2026</time>' in page
    assert "13,0\N{NO-BREAK SPACE}%" in page
    assert "1.920 kg" in page
    assert not re.search(r"\d\.\d%", page)


def test_a_number_a_share_an_amount_and_a_day_in_german():
    """As Germans write them, from a hand: a point between thousands, a comma before decimals, day before month."""
    german = _german()
    assert german.number(1234.5, 1) == "1.234,5"
    assert german.number(np.int64(1234567)) == "1.234.567"
    assert german.percent(0.115, 1) == "11,5\N{NO-BREAK SPACE}%"
    assert german.day(dt.date(2026, 9, 30)) == "30.09.2026"
    assert german.money(2610, "EUR") == Markup("<bdi>2.610,00\N{NO-BREAK SPACE}€</bdi>")
    assert german.signed(-12) == "\N{MINUS SIGN}12"
    assert german.signed(0) == ""
    assert german.listed(["a", "b", "c"]) == "a, b und c"
    assert (_ENGLISH.number(1234.5, 1), _ENGLISH.percent(0.115, 1)) == ("1,234.5", "11.5%")
    assert _ENGLISH.day(dt.date(2026, 9, 30)) == "30 Sept 2026"


@pytest.mark.parametrize(
    ("slug", "label"), [("permit-expired", "Permit expired"), ("position-dms", "Position DMS"), ("a-dmso", "A dmso")]
)
def test_a_rule_is_called_by_its_slug_in_words(slug, label):
    assert _ENGLISH.rule(slug) == label
    assert _ENGLISH.rule_label(slug) == f"<bdi>{label}</bdi>"


def test_a_rule_is_translated_where_the_language_has_its_label():
    german = _german(**{"data.Permit expired": "Genehmigung abgelaufen"})
    assert [german.rule(slug) for slug in ("permit-expired", "grout-short")] == [
        "Genehmigung abgelaufen",
        "Grout short",
    ]


def test_a_setting_keeps_the_digits_it_has():
    assert [_german().measure(value) for value in (9, 38.1, 0.125)] == ["9", "38,1", "0,125"]


def test_a_language_with_more_than_two_plurals_takes_the_right_one():
    """Polish: one for 1; few for what ends in 2 to 4 but not in 12 to 14; many for the rest (CLDR's table)."""
    forms = {"one": "{n} rdzeń", "few": "{n} rdzenie", "many": "{n} rdzeni", "other": "{n} rdzenia"}
    polish = words_of("pl", {"locale": "pl", "a.cores": forms})
    said = [str(polish.say("a.cores", n=n)) for n in (1, 2, 5, 12, 22)]
    assert said == ["1 rdzeń", "2 rdzenie", "5 rdzeni", "12 rdzeni", "22 rdzenie"]


def test_a_plural_without_a_form_of_its_own_takes_the_other_one():
    polish = words_of("pl", {"locale": "pl", "a.cores": {"one": "{n} rdzeń", "other": "{n} rdzeni"}})
    assert polish.say("a.cores", n=2) == "2 rdzeni"


def test_sentences_and_values_are_escaped_and_markup_of_ours_is_not():
    words = _german(**{"a.b": "<i>{x}</i> & {y}"})
    said = words.say("a.b", x="<b>{y}</b>", y=words.own("{x}<script>"))
    assert said == "&lt;i&gt;&lt;b&gt;{y}&lt;/b&gt;&lt;/i&gt; &amp; <bdi>{x}&lt;script&gt;</bdi>"
    assert words.listed(["<b>", Markup("<bdi>&lt;</bdi>")]) == "&lt;b&gt; und <bdi>&lt;</bdi>"


def test_a_text_that_is_too_long_says_how_long_it_is():
    assert _ENGLISH.own("x" * 400) == f"<bdi>{'x' * 400}</bdi>"
    assert _ENGLISH.own("x" * 1401) == f"<bdi>{'x' * 400}</bdi>… (shortened; 1,401 characters in full)"
    assert _ENGLISH.own(None) == _ENGLISH.own(float("nan")) == ""
    assert plain_text("a\u202eb\nc" + "d" * 99, 6) == "\u2068a b c…\u2069"


def test_a_language_that_is_written_from_the_right_says_so():
    assert words_of("ar", {"locale": "ar"}).direction == "rtl"


def test_a_programme_that_asks_for_a_language_without_words_is_refused_before_the_work(tmp_path):
    town = Path(shutil.copytree(_ROOT / "sample_data", tmp_path / "town"))
    written = (town / "programme.toml").read_text("utf-8")
    asked = written.replace('# language = "en" ', 'language = "xx" ')
    assert asked != written
    (town / "programme.toml").write_text(asked, "utf-8")
    with pytest.raises(
        SettingsError, match=r"programme\.language: found 'xx', expected one of the languages in config/words: en\."
    ):
        read_programme(town / "programme.toml")


@pytest.fixture
def config(tmp_path, monkeypatch):
    shutil.copytree(resources.shipped("config"), tmp_path / "config")
    monkeypatch.setattr("pipeline.publish.words.shipped", lambda folder: tmp_path / folder)
    return tmp_path / "config" / "words"


@pytest.mark.parametrize("language", ["xx", "../en", "EN", ""])
def test_a_language_without_a_file_is_refused(language):
    with pytest.raises(
        SettingsError,
        match=r"programme\.language: found .*, expected one of the languages in config/words: en\. Choose",
    ):
        load_words(language)


@pytest.mark.parametrize(
    ("change", "said"),
    [
        (
            lambda text: text.replace('contents = "Contents"\n', ""),
            r"de\.toml: lacks report\.contents\. A language needs every key",
        ),
        (lambda text: text.replace("contents =", "content ="), r"lacks report\.contents\."),
        (lambda text: text + '\n[more]\na = "b"\n', r"de\.toml: has more\.a, which config/words/en\.toml has not"),
        (
            lambda text: text.replace('"row {n}"', '"Zeile {m}"'),
            r"report\.row: nothing fills in m\. .*en\.toml has there: n\.",
        ),
        (lambda text: text.replace('"row {n}"', '{ one = "Zeile {n}" }'), r"report\.row: found .* with the form other"),
        (lambda text: text.replace('"row {n}"', '{ several = "a", other = "b" }'), r"report\.row: found"),
        (lambda text: text.replace('"row {n}"', "7"), r"report\.row: found 7"),
        (lambda text: text.replace('locale = "en-GB"', 'locale = "klingon"'), r"locale: found 'klingon'|\"klingon\""),
        (lambda _: "locale = ", r"config/words/de\.toml: cannot be read: .* Correct the file"),
    ],
)
def test_a_catalogue_that_does_not_fit_is_refused_and_the_key_named(config, change, said):
    (config / "de.toml").write_text(change((config / "en.toml").read_text("utf-8")), "utf-8")
    with pytest.raises(SettingsError, match=said):
        load_words("de")


def test_a_second_language_is_a_copy_with_other_words(config):
    text = (config / "en.toml").read_text("utf-8").replace('contents = "Contents"', 'contents = "Inhalt"')
    (config / "de.toml").write_text(text.replace('locale = "en-GB"', 'locale = "de"'), "utf-8")
    assert words_of("de").say("report.contents") == "Inhalt"
    assert words_of("de").number(1234) == "1.234"
