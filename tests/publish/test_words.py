"""A language's words: its file is read whole or refused, and numbers, dates and plurals follow its locale."""

import datetime as dt
import shutil
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from markupsafe import Markup

from pipeline.errors import SettingsError
from pipeline.programme import resources
from pipeline.publish.words import load_words, plain_text, title_text, words_of
from pipeline.run import read_programme

_ROOT = Path(__file__).parents[2]
_ENGLISH = words_of("en")


def _german(**sentences):
    return words_of("de", {"locale": "de", **sentences})


def test_a_number_a_share_an_amount_and_a_day_in_german():
    """As Germans write them by hand: a point between thousands, a comma before decimals, day before month."""
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
    # 32 degF as degrees Celsius, with the error of binary fractions
    assert [_german().measure(value) for value in (-0.0, -5.7e-14)] == ["0", "0"]


def test_a_language_with_more_than_two_plurals_takes_the_right_one():
    """Polish: one for 1; few for what ends in 2 to 4 but not in 12 to 14; many for the rest (CLDR's table)."""
    forms = {"one": "{n} rdzeń", "few": "{n} rdzenie", "many": "{n} rdzeni", "other": "{n} rdzenia"}
    polish = words_of("pl", {"locale": "pl", "a.cores": forms})
    said = [str(polish.say("a.cores", n=n)) for n in (1, 2, 5, 12, 22)]
    assert said == ["1 rdzeń", "2 rdzenie", "5 rdzeni", "12 rdzeni", "22 rdzenie"]


def test_a_plural_without_a_form_of_its_own_takes_the_other_one():
    polish = words_of("pl", {"locale": "pl", "a.cores": {"one": "{n} rdzeń", "other": "{n} rdzeni"}})
    assert polish.say("a.cores", n=2) == "2 rdzeni"


def test_sentences_and_values_are_escaped_and_markup_is_not():
    words = _german(**{"a.b": "<i>{x}</i> & {y}"})
    said = words.say("a.b", x="<b>{y}</b>", y=words.own("{x}<script>"))
    assert said == "&lt;i&gt;&lt;b&gt;{y}&lt;/b&gt;&lt;/i&gt; &amp; <bdi>{x}&lt;script&gt;</bdi>"
    assert words.listed(["<b>", Markup("<bdi>&lt;</bdi>")]) == "&lt;b&gt; und <bdi>&lt;</bdi>"


def test_a_text_that_is_too_long_says_how_long_it_is():
    assert _ENGLISH.own("x" * 400) == f"<bdi>{'x' * 400}</bdi>"
    assert _ENGLISH.own("x" * 1401) == f"<bdi>{'x' * 400}</bdi>… (shortened; 1,401 characters in full)"
    assert _ENGLISH.own(None) == _ENGLISH.own(float("nan")) == ""
    assert plain_text("a\u202eb\nc" + "d" * 99, 13) == "\u2068a<U+202E>b c…\u2069"


def test_a_language_that_is_written_from_the_right_has_that_direction():
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
        match=r"programme\.language: found .*, expected one of the languages in config/words: .*\ben\b.*\. Choose",
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
def test_a_file_that_does_not_match_the_english_one_is_refused_and_the_key_named(config, change, said):
    (config / "de.toml").write_text(change((config / "en.toml").read_text("utf-8")), "utf-8")
    with pytest.raises(SettingsError, match=said):
        load_words("de")


def test_a_second_language_is_a_copy_with_other_words(config):
    text = (config / "en.toml").read_text("utf-8").replace('contents = "Contents"', 'contents = "Inhalt"')
    (config / "de.toml").write_text(text.replace('locale = "en-GB"', 'locale = "de"'), "utf-8")
    assert words_of("de").say("report.contents") == "Inhalt"
    assert words_of("de").number(1234) == "1.234"


def test_a_language_may_be_read_by_tables():
    few = load_words("en", ("locale", "status"))
    assert set(few) == {"locale", "status.flagged", "status.pending", "status.reinstated"}


def test_an_amount_without_a_currency_is_a_number_with_two_decimals():
    assert _ENGLISH.money(1234.5, None) == "1,234.50"
    # whatever a programme writes as its currency is shown beside the amount, as text
    assert _ENGLISH.money(2, "<b>") == "<bdi>&lt;b&gt;2.00</bdi>"


def test_a_date_is_readable_for_people_and_programs():
    assert _ENGLISH.date("2026-09-30") == '<time datetime="2026-09-30">30 Sept 2026</time>'


@pytest.mark.parametrize(
    ("parts", "shown"), [([], ""), (["a"], "a"), (["a", "b"], "a and b"), (["a", "b", "c"], "a, b and c")]
)
def test_a_list_has_the_languages_commas_and_its_word_for_and(parts, shown):
    assert _ENGLISH.listed(parts) == shown


@settings(deadline=None)
@given(st.text())
def test_no_value_adds_markup_to_a_sentence(value):
    shown = _german(**{"a.b": "x {v} y"}).say("a.b", v=value)
    assert shown.startswith("x ")
    assert shown.endswith(" y")
    assert not set("<>") & set(shown)
    assert shown.unescape() == f"x {value} y"


@settings(deadline=None)
@given(st.text(), st.integers(1, 50))
def test_a_title_is_one_line_no_longer_than_asked(value, most):
    title = title_text(value, most)
    assert len(title) <= most
    assert "\n" not in title
    assert not set("\u202a\u202e\u2066\u2067\x00\x1b") & set(title)


@settings(deadline=None)
@given(st.text())
def test_text_in_a_chart_has_one_pair_of_isolates(value):
    shown = plain_text(value)
    assert (shown[0], shown[-1]) == ("\u2068", "\u2069")
    assert not set("\u2066\u2067\u2068\u2069") & set(shown[1:-1])
