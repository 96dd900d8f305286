"""Names of places, or the sentence where there is none."""

import pytest

from pipeline.contracts import NO_DISTRICT
from pipeline.publish.report.names import LONGEST_NAME, column_label, district_in_chart, district_name, place_name
from pipeline.publish.words import words_of

_WORDS = words_of("en")


@pytest.mark.parametrize("missing", [None, float("nan")])
def test_a_missing_name_has_a_sentence(missing):
    assert place_name(missing, "format.no_street", _WORDS) == "(no street)"


def test_a_name_is_escaped_isolated_and_shortened():
    assert place_name("<b>", "format.no_street", _WORDS) == "<bdi>&lt;b&gt;</bdi>"
    shown = place_name("y" * (LONGEST_NAME + 1), "format.no_street", _WORDS)
    assert shown == f"<bdi>{'y' * 60}</bdi>… (shortened; 61 characters in full)"


def test_cores_without_a_district_are_called_so_on_the_page_and_in_a_chart():
    assert district_name(NO_DISTRICT, _WORDS) == "(no district)"
    assert district_in_chart(NO_DISTRICT, 5, _WORDS) == "(no district)"


def test_a_district_in_a_chart_is_plain_text_as_long_as_there_is_room_for():
    assert district_name("Mill & Bank", _WORDS) == "<bdi>Mill &amp; Bank</bdi>"
    assert district_in_chart("Mill & Bank", 20, _WORDS) == "\u2068Mill & Bank\u2069"
    assert district_in_chart("Mill & Bank", 6, _WORDS) == "\u2068Mill …\u2069"


@pytest.mark.parametrize(
    ("name", "label"), [("permit_expires_on", "Permit expiry"), ("street", "Street recorded"), ("offset_m", "Offset")]
)
def test_a_column_is_shown_by_its_label(name, label):
    assert column_label(name, _WORDS) == f"<bdi>{label}</bdi>"


def test_a_label_is_translated_where_the_language_has_it():
    german = words_of("de", {"locale": "de", "data.Permit expiry": "Ende der Genehmigung"})
    assert column_label("permit_expires_on", german) == "<bdi>Ende der Genehmigung</bdi>"
    assert column_label("crew", german) == "<bdi>Crew</bdi>"


def test_the_position_has_a_label_though_it_is_several_columns():
    assert column_label("position", _WORDS) == "Position"


@pytest.mark.parametrize("name", ["surface of the map", "roads.columns.slope"])
def test_what_is_no_column_has_no_label(name):
    assert column_label(name, _WORDS) is None
