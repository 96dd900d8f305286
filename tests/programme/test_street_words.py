"""Words of street names: one short form each, as names are compared."""

import pandas as pd
import pytest

from pipeline.errors import SettingsError
from pipeline.locate.street_names import name_form
from pipeline.programme.catalogue import load_catalogue


def _forms(names, **short):
    catalogue = load_catalogue({"street_words": {"short": short}} if short else {}, "p.toml")
    return name_form(pd.Series(names, dtype="str"), catalogue.short_words).tolist()


def test_the_shipped_words_are_used_unless_a_programme_adds_its_own():
    assert _forms(["Mill Street", "Rua Mill"]) == ["mill st", "rua mill"]
    assert _forms(["Mill Street", "Rua Mill"], st=["Rua"]) == ["mill st", "st mill"]


def test_words_of_the_empty_short_form_do_not_count():
    names = ["ul. Kwiatowa", "Ulica Kwiatowa", "Kwiatowa", "Nad ul. Potokiem"]
    assert _forms(names, **{"": ["Ul.", "ulica"]}) == ["kwiatowa"] * 3 + ["nad potokiem"]


def test_accents_and_capitals_of_a_programmes_words_do_not_matter():
    assert _forms(["Größe Gasse", "Allée Nord"], gs=["Gasse"], al=["ALLÉE"]) == ["grosse gs", "al n"]


@pytest.mark.parametrize(
    ("short", "said"),
    [
        ({"cl": ["road"]}, "found 'road' under 'rd' and 'cl', expected it under one of them. Correct it."),
        ({"bl": ["back lane"]}, "found 'back lane' under 'bl', expected a single word. Correct it."),
        ({"bl": [""]}, "found '' under 'bl', expected a single word. Correct it."),
        ({"bl": "back"}, "found 'back', expected a list in square brackets. Correct it."),
    ],
)
def test_words_that_cannot_be_are_refused(short, said):
    with pytest.raises(SettingsError) as error:
        load_catalogue({"street_words": {"short": short}}, "p.toml")
    assert str(error.value).startswith("p.toml: catalogue.street_words.short")
    assert str(error.value).endswith(said)
