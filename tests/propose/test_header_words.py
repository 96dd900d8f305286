"""What a header calls its column."""

import pytest

from pipeline.contracts import LAYER_COLUMNS, REGISTER_COLUMNS
from pipeline.propose.header_words import claims, header_words, names_other_measure, plain_header


@pytest.mark.parametrize(
    ("header", "plain"),
    [
        ("Core Ø (in)", "core ø"),
        ("dia_mm", "dia"),
        ("DateCut", "date cut"),
        ("Temp °F", "temp"),
        ("No.", "no"),
        ("Water [US gal]", "water"),
        ("in", "in"),
        ("x", "x"),
        ("Permit #", "permit #"),
    ],
)
def test_a_header_loses_case_punctuation_brackets_and_units(header, plain):
    assert plain_header(header) == plain


@pytest.mark.parametrize(
    ("header", "column"),
    [
        ("Core Ø (in)", "diameter"),
        ("Deep", "depth"),
        ("Depth of cover", "cover"),
        ("Put back", "reinstated_at"),
        ("Permit expiry", "permit_expires_on"),
        ("Position accuracy (m)", "position_accuracy"),
        ("Temp °F", "air_temperature"),
        ("Date of opening", "opened_on"),
    ],
)
def test_the_words_that_explain_most_of_a_header_win(header, column):
    assert claims(header, header_words()["register"])[0].column == column


def test_a_header_that_only_contains_a_word_claims_less_than_an_equal_one():
    words = {"depth": ["depth"]}
    equal, part = claims("Depth (mm)", words)[0], claims("Depth as planned", words)[0]
    assert equal.is_equal
    assert not part.is_equal
    assert equal.strength > part.strength


def test_a_header_in_another_language_claims_nothing():
    assert claims("Durchmesser", header_words()["register"]) == []


def test_the_words_name_only_columns_that_a_programme_can_map():
    words = header_words()
    places = {"position", "x", "y"}
    assert set(words.pop("register")) - places <= {column.short for column in REGISTER_COLUMNS}
    assert set(words.pop("stock")) == {"yard", "item", "packs", "arrives_on", "expires_on"}
    for columns in words.values():
        assert set(columns) <= set(LAYER_COLUMNS)


def test_no_word_is_listed_twice_for_a_column():
    for columns in header_words().values():
        for column, words in columns.items():
            assert len(set(words)) == len(words), column


@pytest.mark.parametrize(
    ("header", "is_other"), [("Age d", True), ("Days open", True), ("Fill %", True), ("Core (mm)", False)]
)
def test_a_header_of_days_or_shares_is_of_no_length(header, is_other):
    assert names_other_measure(header) == is_other
