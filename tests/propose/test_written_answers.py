"""Answers that a person writes."""

import pytest

from pipeline.propose.written_answers import problem_with


@pytest.mark.parametrize(("key", "text"), [("timezone", "America/Toronto"), ("crs", "EPSG:32617"), ("x", "anything")])
def test_what_exists_is_taken(key, text):
    assert problem_with(key, text) == ""


@pytest.mark.parametrize(
    ("key", "text", "problem"), [("timezone", "Toronto", "not an IANA time zone"), ("crs", "EPSG:1", "not a known CRS")]
)
def test_what_does_not_exist_is_refused_with_what_was_expected(key, text, problem):
    assert f'"{text}" is {problem}; expected' in problem_with(key, text)


def test_a_header_has_to_be_one_of_the_file():
    assert problem_with("depth", "Tiefe", ("Tiefe", "Kern")) == ""
    assert problem_with("depth", "1", ("Tiefe", "Kern")) == (
        '"1" is no header of the file; expected one of: Tiefe, Kern.'
    )
