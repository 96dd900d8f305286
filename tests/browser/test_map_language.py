"""The map in other languages: no sentence of its own, numbers and dates by the locale, plurals of any number of forms."""

import re

import pytest

from pipeline.publish.map import page as map_page
from pipeline.publish.words import load_words
from tests.browser.browser import open_page
from tests.browser.town import STREET, card, saved, spot, view, wait_until_drawn

# Data is in bdi elements and marked options, dates by the locale in time elements; the licence is English whatever the language.
_TEXTS = """(() => {
  const copy = document.querySelector(%s).cloneNode(true);
  copy.querySelectorAll('script, style, #licence pre, .leaflet-control-attribution').forEach((e) => e.remove());
  copy.querySelectorAll('bdi, time, option[data-quoted]').forEach((e) => e.replaceWith('0'));
  const labels = [...copy.querySelectorAll('*')].flatMap(
    (e) => ['aria-label', 'title', 'placeholder', 'alt'].map((name) => e.getAttribute(name) || ''));
  return [copy.textContent, ...labels];
})()"""


def marked(words):
    """Every sentence between brackets, each form of a plural too."""
    return {
        key: sentence
        if key == "locale"
        else f"⟦{sentence}⟧"
        if isinstance(sentence, str)
        else {form: f"⟦{text}⟧" for form, text in sentence.items()}
        for key, sentence in words.items()
    }


def unmarked(text):
    """The text outside all brackets, without numbers and dates of the locale."""
    while (inner := re.sub("⟦[^⟦⟧]*⟧", "", text)) != text:
        text = inner
    text = re.sub(r"\d+ (Jan|Feb|Mar|Apr|May|Jun|Jul|Aug|Sept|Oct|Nov|Dec)[a-z]* \d{4}", "", text)
    return re.findall(r"[^\W\d_][^⟦⟧]{0,40}", text)


def left_over(page, selector="body"):
    return [found for text in page.ask(_TEXTS % repr(selector)) for found in unmarked(text)]


def with_words(monkeypatch, change):
    monkeypatch.setattr(map_page, "load_words", lambda *given: change(dict(load_words(*given))))


def test_every_word_of_the_page_is_from_the_file_of_words(tmp_path, monkeypatch):
    with_words(monkeypatch, marked)
    with open_page(saved(tmp_path, view())) as page:
        wait_until_drawn(page)
        # text painted on a canvas counts too
        page.ask(
            "void (() => { window.painted = []; const fill = CanvasRenderingContext2D.prototype.fillText;"
            "CanvasRenderingContext2D.prototype.fillText = function (text, ...rest) {"
            "window.painted.push(text); fill.call(this, text, ...rest); }; })()"
        )
        page.ask("document.querySelectorAll('#panel details').forEach((d) => { d.open = true; })")
        page.wait_for("document.querySelector('#questions .choices label')")
        page.page.mouse.click(*spot(page, -82.003, STREET))
        card(page)
        assert left_over(page) == []
        page.page.mouse.click(*spot(page, -82.0, 44.802))
        page.wait_for("document.querySelector('.road-card')")
        assert left_over(page, ".leaflet-popup") == []
        for units in ("us", "metric"):
            page.ask(f"void document.querySelector('#in-{units}').click()")
            assert left_over(page, ".leaflet-control-scale") == []
            page.ask(
                "kerfbook.filter.askAll({ status: new Set(['flagged', 'pending']), opened: [20000, null], open: 20727 })"
            )
            page.ask("void window.dispatchEvent(new Event('beforeprint'))")
            assert left_over(page) == []
            page.ask("void window.dispatchEvent(new Event('afterprint'))")
        names = {"Old Harbour", "Saltmarsh", "Capstan Street", "Dory Lane"}
        painted = [text for text in page.ask("window.painted") if text not in names]
        assert len(painted) > 2
        assert [found for text in painted for found in unmarked(text)] == []
        page.ask("kerfbook.filter.askAll({})")
        page.ask("void document.querySelector('#as-table').click()")
        page.page.fill("#query", "c-")
        assert left_over(page) == []
        page.ask("void document.querySelector('.cores-table tbody button').click()")
        page.ask("void document.querySelector('dialog .copy').click()")
        page.wait_for("document.querySelector('#announcement').textContent !== ''")
        assert left_over(page, "dialog") == []
        assert page.text("#announcement").startswith("⟦")
        assert page.complaints == []


def test_numbers_and_dates_are_written_as_the_locale_writes_them(tmp_path, monkeypatch):
    """German: a comma before decimals, "25. November 2026", "1. Okt. 2026" (Unicode CLDR)."""
    with_words(monkeypatch, lambda words: {**words, "locale": "de-DE"})
    with open_page(saved(tmp_path, view()), accept_downloads=True) as page:
        wait_until_drawn(page)
        assert page.text("#as-of").startswith("As of 25. November 2026")
        page.page.mouse.click(*spot(page, -82.003, STREET))
        text = card(page)
        for words in ("12,3 m along", "44,800000, -82,003000", "11,5 kg, 0,46 bags", "1. Oktober 2026"):
            assert words in text
        page.ask("void document.querySelector('.district:nth-child(2) summary').click()")
        page.wait_for("document.querySelector('.orders')")
        assert "61,25" in page.text(".orders")
        page.page.click("#as-table")
        assert page.text(".cores-table tbody td.day") == "1. Okt. 2026"
        with page.page.expect_download() as waited:
            page.page.click("#filter-buttons button:nth-of-type(2)")
        waited.value.save_as(tmp_path / "list.csv")
        row = (tmp_path / "list.csv").read_text("utf-8-sig").splitlines()[1]
        assert ",12.3,1.5,457,180,6,11.5,0.46," in row
        assert ",2026-10-01," in row
        page.ask("void window.dispatchEvent(new Event('beforeprint'))")
        assert "As of 25. November 2026" in page.text("#paper-page")


@pytest.mark.parametrize(
    ("locale", "forms"),
    [
        ("pl", {0: "many", 1: "one", 2: "few", 5: "many", 12: "many", 22: "few", 1.5: "other"}),
        ("ar", {0: "zero", 1: "one", 2: "two", 3: "few", 11: "many", 100: "other"}),
        # no plural at all, and a file that leaves out a form that the language has
        ("ja", {0: "other", 1: "other", 7: "other"}),
        ("cy", {3: "few", 6: "other"}),
    ],
)
def test_a_plural_takes_the_form_of_its_language(tmp_path, monkeypatch, locale, forms):
    """The forms by language are those of Unicode CLDR, "Language Plural Rules"."""
    kinds = {form: form for form in ("zero", "one", "two", "few", "many", "other") if (locale, form) != ("cy", "many")}
    with_words(monkeypatch, lambda words: {**words, "locale": locale, "lists.matches": kinds})
    with open_page(saved(tmp_path, view())) as page:
        wait_until_drawn(page)
        for n, form in forms.items():
            assert page.ask(f"KerfbookWords.say('lists.matches', {{ n: {n} }})") == form, n
        assert page.complaints == []


def test_every_plural_of_the_words_file_has_the_form_that_all_languages_have():
    for key, sentence in load_words().items():
        assert isinstance(sentence, str) or "other" in sentence, key
