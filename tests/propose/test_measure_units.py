"""The unit of a column: from its header or its cells, else a question."""

import numpy as np
import pandas as pd

from pipeline.intake.files.tables import RawTable
from pipeline.propose.measure_units import propose_unit


def _unit(column, header, *cells, **in_row):
    frame = pd.DataFrame({header: pd.Series(cells, dtype="str")})
    return propose_unit(
        column, header, RawTable(frame, np.arange(1, len(frame) + 1), len(frame), "a.csv", header_units=in_row)
    )


def test_a_header_states_the_unit():
    found = _unit("air_temperature", "Temp °F", "53", "61")
    assert (found.unit, found.note, found.question) == ("degF", 'from the header: "°F"', None)


def test_a_row_of_units_states_it():
    assert _unit("depth", "Depth", "8", "9", Depth="in").unit == "in"


def test_a_gallon_is_a_question_with_what_each_would_read():
    # a US gallon is 3.785411784 L and an imperial one 4.54609 L
    question = _unit("water", "Water (gal)", "1.25", "1.5", "2").question
    assert question.examples == ("1.25", "1.5", "2")
    assert [(choice.label, choice.reading) for choice in question.choices] == [
        ('"us gal"', "4.73 L, 5.68 L, 7.57 L"), ('"imp gal"', "5.68 L, 6.82 L, 9.09 L"),
    ]  # fmt: skip
    assert question.choices[0].gives == {("units", "water"): "us gal"}


def test_a_gallon_in_the_cells_is_a_question_too():
    question = _unit("water", "Water", "1.5 gal", "2 gal").question
    assert [choice.label for choice in question.choices] == ['"us gal"', '"imp gal"']


def test_cells_with_their_units_need_none():
    found = _unit("diameter", "Ø", "18 in", "450 mm", "1'6\"")
    assert (found.unit, found.question, found.note) == (None, None, "each cell has its own unit")


def test_bare_numbers_are_a_question_with_the_units_that_are_possible():
    # 18 is no core in mm, cm would be 180 mm, ft 5.5 m
    labels = [choice.label for choice in _unit("diameter", "Dia", "18", "24").question.choices]
    assert labels == ['"cm"', '"in"']


def test_one_possible_unit_is_still_to_be_confirmed():
    question = _unit("diameter", "Dia", "450", "457").question
    assert [choice.label for choice in question.choices] == ['"mm"']
    assert "it can only be mm; confirm it" in question.text


def test_a_unit_that_the_header_contradicts_is_never_proposed():
    labels = [choice.label for choice in _unit("water", "Water (gal)", "400", "500").question.choices]
    assert labels == ['"us gal"', '"imp gal"']
