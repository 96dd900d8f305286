"""Tests of the sheets of the crews as a page."""

import re
from dataclasses import replace
from html.parser import HTMLParser

from pipeline.publish.plan.crew_sheets import draw_crew_sheets
from pipeline.publish.plan.day_stops import sheet_days
from pipeline.publish.words import load_words, words_of
from tests.publish.plan.small_plan import HOSTILE, planned, small_plan

_WORDS = words_of("en")


class _Tags(HTMLParser):
    """The elements of a page, and its text."""

    def __init__(self, page):
        super().__init__()
        self.tags, self.text = [], []
        self.feed(page)

    def handle_starttag(self, tag, _):
        self.tags.append(tag)

    def handle_data(self, data):
        self.text.append(data)


def _text(page):
    body = page[page.index("<body>") :]
    return re.sub(r"\s+", " ", "".join(_Tags(body).text))


def test_each_crew_day_has_a_sheet_with_its_load_and_its_stops():
    result = small_plan()
    page = draw_crew_sheets(result, _WORDS)
    days = sheet_days(result)
    assert page.count('<section class="sheet ') >= len(days) > 0
    text = _text(page)
    assert all(f"HV-{number}" in text for number in (0, 2, 4))
    assert f"{len(days)} crew day" in text
    assert "DARK Open 1 bag" in text
    assert "Quay Road, left" in text or "Quay Road, right" in text
    assert "Poured at" in text
    assert "Traffic not before" in text
    assert page.count('class="position"') == 3


def test_bags_to_load_are_those_that_the_stops_open():
    result = small_plan()
    page = draw_crew_sheets(result, _WORDS)
    loads = re.findall(r'<b class="big">([\d.]+) bags?</b>', page)
    assert sum(map(float, loads)) == result.plan.days["bags"].sum() == result.plan.stops["bags"].sum()


def test_the_page_needs_no_script_and_fetches_nothing():
    page = draw_crew_sheets(small_plan(), _WORDS)
    assert "default-src 'none'" in page
    assert "script" not in _Tags(page).tags
    assert not re.search(r'(src|href)="', page)
    assert ' style="' not in page


def test_hostile_text_is_text():
    page = draw_crew_sheets(planned(small_plan(), crew=HOSTILE, core_id=HOSTILE, street_matched=HOSTILE), _WORDS)
    tags = _Tags(page).tags
    assert "script" not in tags
    assert tags.count("html") == 1
    assert "49" not in re.findall(r"\b49\b", _text(page))
    assert "\x07" not in page


def test_a_plan_without_work_is_said_in_words():
    result = small_plan()
    empty = replace(result, plan=result.plan._replace(stops=result.plan.stops.iloc[:0], days=result.plan.days.iloc[:0]))
    page = draw_crew_sheets(empty, _WORDS)
    assert "No work is planned." in page
    assert '<section class="sheet ' not in page


def test_every_sentence_of_the_page_comes_from_the_words():
    marked = {
        key: {form: f"⟦{one}⟧" for form, one in said.items()} if isinstance(said, dict) else f"⟦{said}⟧"
        for key, said in load_words().items()
    }
    page = draw_crew_sheets(small_plan(), words_of("en", marked | {"locale": "de"}))
    body = re.sub(r"<(bdi|time|code)[ >].*?</\1>", "", page[page.index("<body>") :], flags=re.DOTALL)
    text = re.sub("\u2068[^\u2069]*\u2069", "", re.sub("<[^>]*>", "", body))
    left, depth = "", 0
    for letter in text:
        depth += (letter == "⟦") - (letter == "⟧")
        left += letter if depth == 0 else ""
    # the catalogue's own sentences are data
    catalogue = small_plan().catalogue
    for known in (*catalogue.cautions, *catalogue.core_cautions.sheet.cautions, *catalogue.core_cautions.sheet.inspect):
        left = left.replace(known.replace("'", "&#39;"), "")
    assert not re.search(
        "Load|Stops|Inspect|Continued|grout", re.sub(r"[^.⟧·]*(heaviest|main may|Core:)[^⟧]*?\.", "", left)
    )


def test_the_same_run_gives_the_same_page():
    assert draw_crew_sheets(small_plan(), _WORDS) == draw_crew_sheets(small_plan(), _WORDS)
