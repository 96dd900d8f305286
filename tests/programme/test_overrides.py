"""Values of a code of practice and of a programme laid over the shipped ones."""

import datetime as dt

from pipeline.programme.overrides import lay_code_over, lay_over


def _laid(below, above, table="catalogue.rules"):
    overridden = {}
    lay_over(below, above, table, overridden, "Quay 2026")
    return below, overridden


def test_a_value_replaces_the_shipped_one_and_is_set_by_the_programme():
    below, overridden = _laid({"max_step": "5 mm", "source": "our default"}, {"max_step": "3 mm"})
    assert below == {"max_step": "3 mm", "source": "set by Quay 2026"}
    assert overridden == {"catalogue.rules.max_step": "3 mm"}


def test_the_source_that_a_programme_gives_is_kept_with_its_name():
    below, _ = _laid({"max_step": "5 mm", "source": "our default"}, {"max_step": "3 mm", "source": "permit 12"})
    assert below["source"] == "set by Quay 2026: permit 12"


def test_a_bare_value_replaces_the_one_that_is_shipped_with_a_source():
    below, _ = _laid({"x": {"value": "3 mm", "source": "our default"}, "source": "s"}, {"x": "2 mm"})
    assert below["x"] == {"value": "2 mm", "source": "set by Quay 2026"}


def test_words_are_added_and_a_date_is_recorded_as_text():
    below, overridden = _laid(
        {"aliases": ["a"], "earliest": dt.date(1990, 1, 1)}, {"aliases": ["b"], "earliest": dt.date(2000, 1, 1)}
    )
    assert below["aliases"] == ["a", "b"]
    assert overridden["catalogue.rules.earliest"] == "2000-01-01"


def test_a_code_sets_severity_and_source_and_leaves_the_rest():
    rules = {
        "r": {"severity": "check", "max": "1 m", "source": "our default"},
        "q": {"severity": "note", "source": "s"},
    }
    lay_code_over(rules, {"rules": {"r": {"severity": "fail", "max": "2 m", "source": "the Act s.1"}}})
    assert rules["r"] == {"severity": "fail", "max": "1 m", "source": "the Act s.1"}
    assert rules["q"] == {"severity": "note", "source": "s"}
