"""Where a value comes from, and what that is called outside the house."""

import pytest

from pipeline.programme.sources import KINDS, kind_of, outside_source, set_by


@pytest.mark.parametrize(
    ("source", "kind"),
    [
        ("our default", "our default"),
        ("our default: about a fortieth of the width", "our default"),
        ("common practice, no source: 18 in", "common practice, no source"),
        ("set by Quay 2026: the permit", "programme"),
        ("SROH 4th ed. (2020) S6.7", "code"),
        # only the beginning counts
        ("ACI 306R; the upper end is our default", "code"),
    ],
)
def test_a_source_has_one_of_four_kinds_by_how_it_begins(source, kind):
    assert kind_of(source) == kind
    assert kind in KINDS


def test_what_a_programme_sets_names_the_programme_and_what_it_says():
    assert set_by("Quay 2026") == "set by Quay 2026"
    assert set_by("Quay 2026", "permit 12") == "set by Quay 2026: permit 12"


def test_outside_the_house_our_default_is_the_tools():
    assert outside_source("our default; deep from: our default") == "tool default; deep from: tool default"
    assert outside_source("common practice, no source") == "common practice, no source"
