"""What is wrong with settings, in sentences."""

import datetime as dt
from typing import Annotated, Literal

import pytest
from pydantic import Field, ValidationError, field_validator

from pipeline.programme.sections import Section
from pipeline.programme.setting_errors import sentences


class _Yard(Section):
    town: str = "Quay"
    fence_m: float = Field(default=1.0, alias="fence")


class _Plan(Section):
    name: str = Field(default="xx", min_length=2)
    day: dt.date | None = None
    is_open: bool = True
    count: int = 1
    share: Annotated[float, Field(ge=0, lt=1)] = 0.5
    size: Annotated[float, Field(gt=0, le=9)] = 1.0
    words: list[str] = Field(default_factory=list)
    kind: Literal["hole", "core"] = "hole"
    main: _Yard | None = None
    yards: dict[str, _Yard] = Field(default_factory=dict)
    more: list[_Yard] = Field(default_factory=list)
    colour: str = "red"

    @field_validator("colour")
    @classmethod
    def _is_red(cls, colour: str) -> str:
        if colour == "blue":
            raise ValueError("expected red or green")
        if colour == "no":
            raise ValueError(f"found the word {colour!r}, expected a colour")
        return colour


def _said(written, remedy="Correct it."):
    with pytest.raises(ValidationError) as error:
        _Plan.model_validate(written)
    return sentences(error.value, _Plan, remedy)


@pytest.mark.parametrize(
    ("written", "said"),
    [
        ({"name": 7}, "name: found 7, expected text in quotation marks. Correct it."),
        ({"name": ""}, "name: found '', expected text, at least 2 long. Correct it."),
        ({"day": "soon"}, "day: found 'soon', expected a date such as 2026-09-30. Correct it."),
        ({"is_open": "maybe"}, "is_open: found 'maybe', expected true or false. Correct it."),
        ({"count": "many"}, "count: found 'many', expected a whole number. Correct it."),
        ({"count": 1.5}, "count: found 1.5, expected a whole number. Correct it."),
        ({"share": "half"}, "share: found 'half', expected a number. Correct it."),
        ({"share": -0.5}, "share: found -0.5, expected a number of at least 0. Correct it."),
        ({"share": 1}, "share: found 1, expected a number less than 1. Correct it."),
        ({"size": 0}, "size: found 0, expected a number greater than 0. Correct it."),
        ({"size": 10}, "size: found 10, expected a number of at most 9. Correct it."),
        ({"words": "one"}, "words: found 'one', expected a list in square brackets. Correct it."),
        ({"kind": "pipe"}, "kind: found 'pipe', expected 'hole' or 'core'. Correct it."),
        ({"main": 7}, "main: found 7, expected a table. Correct it."),
        ({"name": {"a": 1}}, "name: found a table, expected text in quotation marks. Correct it."),
        ({"colour": "blue"}, "colour: found 'blue', expected red or green. Correct it."),
        ({"colour": "no"}, "colour: found the word 'no', expected a colour. Correct it."),
    ],
)
def test_a_wrong_value_is_named_with_what_was_found_what_was_expected_and_what_to_do(written, said):
    (sentence,) = _said(written)
    assert sentence == said


@pytest.mark.parametrize(
    ("written", "said"),
    [
        ({"colur": "red"}, 'colur: unknown key. Did you mean "colour"? Known here: name, day, '),
        ({"main": {"twon": "x"}}, 'main.twon: unknown key. Did you mean "town"? Known here: town, fence. Correct it.'),
        (
            {"yards": {"North": {"fance": 1}}},
            'yards.North.fance: unknown key. Did you mean "fence"? Known here: town, fence.',
        ),
        ({"more": [{}, {"gate": 1}]}, "more.1.gate: unknown key. Known here: town, fence. Correct it."),
    ],
)
def test_an_unknown_key_is_named_with_the_nearest_and_all_that_are_known_there(written, said):
    (sentence,) = _said(written)
    assert sentence.startswith(said)


def test_every_error_has_a_sentence():
    assert len(_said({"name": 7, "count": "x", "colr": 1})) == 3


def test_of_very_many_errors_twenty_are_shown():
    lines = _said({f"key {number}": 1 for number in range(1020)})
    assert len(lines) == 21
    assert lines[-1] == "and 1,000 more errors like these."


def test_a_huge_key_or_value_is_shown_without_its_middle():
    (line,) = _said({"count": "x" * 10_000})
    assert len(line) < 200
    assert line.startswith("count: found 'xxx")
    (line,) = _said({"k" * 10_000: 1})
    assert len(line) < 300
    assert line.startswith("kkk")


def test_something_that_is_no_table_at_all_is_wrong_at_the_top_level():
    assert _said(7) == ["top level: found 7, expected a table. Correct it."]


def test_a_remedy_is_added_only_where_it_is_given():
    assert _said({"name": 7}, "") == ["name: found 7, expected text in quotation marks."]


def test_a_missing_key_is_to_be_added():
    class Town(Section):
        name: str

    with pytest.raises(ValidationError) as error:
        Town.model_validate({})
    assert sentences(error.value, Town) == ["name: missing, and required. Add it."]
