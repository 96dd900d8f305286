"""Street names as people write them, compared."""

import re
import unicodedata

import numpy as np
import pandas as pd
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from pipeline.locate.street_names import match_of_pairs, name_form, name_match
from pipeline.programme.catalogue import load_catalogue

_CATALOGUE = load_catalogue({}, "test")


@pytest.mark.parametrize(
    ("written", "ours", "same"),
    [
        ("HARBOUR AVE", "Harbour Avenue", True),
        ("Avenue Harbour", "Harbour Avenue", True),
        ("harbor av.", "Harbour Avenue", True),
        ("Königstraße", "KONIGSTRASSE", True),
        ("St. Mary's Street", "Saint Marys St", True),
        ("N Main St", "North Main Street", True),
        ("Mill Road", "Hill Road", False),
        ("Back Lane", "Harbour Avenue", False),
        ("1st Street", "2nd Street", False),
        ("North Main Street", "S Main St", False),
        ("Harbour Avenue", "N Harbour Ave", True),
        ("E 115th St", "East 116th Street", False),
        ("County Road 12", "County Rd 21", False),
    ],
)
def test_a_street_is_known_again_however_it_is_written(written, ours, same):
    forms = name_form(pd.Series([written, ours], dtype="str"), _CATALOGUE.short_words)
    match = name_match(forms.iloc[:1], forms.iloc[1:])[0]
    assert (match > 0.6) == same, (forms.tolist(), match)


def test_no_name_matches_nothing_and_is_no_mismatch():
    forms = name_form(pd.Series([None, "  ", "--", "Main St"], dtype="str"), _CATALOGUE.short_words)
    assert forms.isna().tolist() == [True, True, True, False]
    assert np.isnan(name_match(forms, forms)).tolist() == [True, True, True, False]


def _form(*names):
    return name_form(pd.Series(names, dtype="str"), {"street": "st", "saint": "st", "north": "n", "avenue": "ave"})


@pytest.mark.parametrize(
    ("written", "form"),
    [
        ("North Main Street", "n main st"),
        ("  NORTH   MAIN   STREET ", "n main st"),
        ("North-Main/Street", "n main st"),
        ("St. Mary's", "st marys"),
        ("St Mary’s", "st marys"),
        ("Rue de l'Église", "rue de leglise"),
        ("Große Straße", "grosse strasse"),
        ("Åkerø Avenue", "akerø ave"),
        ("12th Avenue", "12th ave"),
    ],
)
def test_a_name_has_one_form(written, form):
    assert _form(written)[0] == form


def test_the_form_of_a_form_is_itself_and_the_index_is_kept():
    names = pd.Series(["North Main Street", None, "12th Avenue"], index=[4, 9, 1], dtype="str")
    once = name_form(names, {"street": "st", "north": "n", "avenue": "ave"})
    assert once.index.tolist() == [4, 9, 1]
    pd.testing.assert_series_equal(name_form(once, {"street": "st", "north": "n", "avenue": "ave"}), once)


def test_agreement_rises_from_80_to_95_of_100():
    """The score of two words is 200 times their common letters over all letters: abcdefghij, one letter changed, 90."""
    same, one_off, two_off = name_match(["abcdefghij"] * 3, ["abcdefghij", "abcdefghix", "abcdefghxy"])
    assert same == 1
    assert one_off == pytest.approx((90 - 80) / 15)
    assert two_off == 0


def test_the_order_of_words_does_not_count():
    assert name_match(["harbour ave"], ["ave harbour"])[0] == 1


@pytest.mark.parametrize(
    ("ours", "theirs", "match"),
    [
        ("n main st", "s main st", 0),
        ("n main st", "main st n", 1),
        ("115th st", "116th st", 0),
        ("highway 12", "highway 21", 0),
        ("highway 12a", "highway 12b", 0),
        ("route 6 n", "route n 6", 1),
    ],
)
def test_numbers_and_compass_points_have_to_be_the_same(ours, theirs, match):
    assert name_match([ours], [theirs])[0] == match


def test_a_number_that_only_one_name_has_settles_nothing():
    # "main st" in "main st 2": 14 of 16 letters and blanks are common, 87.5
    assert name_match(["main st 2"], ["main st"])[0] == pytest.approx((87.5 - 80) / 15)


def test_each_pair_has_its_own_answer_however_often_it_comes():
    ours = ["mill rd", "back ln", None, "mill rd", "back ln"]
    theirs = ["mill rd", "mill rd", "mill rd", "back ln", "back ln"]
    assert np.nan_to_num(name_match(ours, theirs), nan=-1).tolist() == [1, 0, -1, 0, 1]


_NAMES = st.lists(st.sampled_from(["mill rd", "hill rd", "n main st", "s main st", "115th st", "harbour ave", None]))


@settings(deadline=None, max_examples=40)
@given(_NAMES, st.randoms())
def test_agreement_is_the_same_both_ways_and_lies_between_none_and_full(names, random):
    others = list(names)
    random.shuffle(others)
    there, back = name_match(names, others), name_match(others, names)
    assert np.array_equal(there, back, equal_nan=True)
    known = there[~np.isnan(there)]
    assert ((known >= 0) & (known <= 1)).all()


def test_pairs_of_rows_agree_as_their_names_do():
    names = pd.Series(["main st", None, "n main st", "mill rd", "main st"], dtype="str")
    layer = pd.Series(["hill rd", "s main st", None, "main st"], dtype="str")
    ours, theirs = (side.ravel() for side in np.meshgrid(np.arange(5), np.arange(4)))
    expected = name_match(names.to_numpy()[ours], layer.to_numpy()[theirs])
    np.testing.assert_array_equal(match_of_pairs(names, layer, ours, theirs), expected)


def test_where_no_street_has_a_name_no_pair_agrees_or_differs():
    names = pd.Series(["main st", None], dtype="str")
    nothing = pd.Series([None], dtype="str")
    assert np.isnan(match_of_pairs(names, nothing, np.array([0, 1]), np.array([0, 0]))).all()
    assert len(match_of_pairs(names, nothing, np.empty(0, dtype=int), np.empty(0, dtype=int))) == 0


def _plain_form(name, short_words):
    """Return the form of a single name, step by step."""
    text = unicodedata.normalize("NFKD", name.replace("ß", "ss"))
    text = "".join(letter for letter in text if not "\u0300" <= letter <= "\u036f").casefold()
    words = re.sub(r"[^\w]+", " ", re.sub(r"[’'`.]", "", text)).split()
    return " ".join(" ".join(short_words.get(word, word) for word in words).split()) or None


@settings(deadline=None, max_examples=200)
@given(st.lists(st.text("aÅßé\u0301N.’- _\n\r\u2028ﬁ2ς", max_size=9) | st.sampled_from(["Saint Étienne St", "x"])))
def test_names_all_at_once_get_the_form_that_each_gets_alone(names):
    short_words = {"saint": "st", "st": "", "x": "long form", "n": "north"}
    forms = name_form(pd.Series(names, dtype="str"), short_words)
    assert [form if isinstance(form, str) else None for form in forms] == [_plain_form(n, short_words) for n in names]
