"""What the cells of a column show."""

import pandas as pd
import pytest

from pipeline.programme.catalogue import load_catalogue
from pipeline.propose.cell_kinds import Known, column_cells, examples_of, fits, street_share


@pytest.fixture(scope="module")
def known():
    return Known(load_catalogue({}, "programme.toml"), frozenset({"quay road", "mill street"}))


def _cells(*texts):
    return column_cells(pd.DataFrame({"a": pd.Series(texts, dtype="str")}))["a"]


@pytest.mark.parametrize(
    ("column", "texts", "may_be"),
    [
        ("core_id", ("A-1", "A-2", "A-3"), True),
        ("core_id", ("A-1", "A-1", "A-1"), False),
        ("core_id", ("2026-03-01", "2026-03-02", "2026-03-03"), False),
        ("opened_on", ("25/03/2026", "1 Mar 2026", "March 3, 2026"), True),
        ("opened_on", ("Saw A", "Saw B", "Saw A"), False),
        ("opened_on", ("46082", "46083", "46084"), True),
        ("diameter", ("450 mm", '18"', "1'6\""), True),
        ("diameter", ("Saw A", "Saw B", "Saw C"), False),
        ("diameter", ("2026-03-01", "2026-03-02", "2026-03-03"), False),
        ("position", ("44.8, -82.2", "44.80394; -82.18560", "POINT (-82.1 44.8)"), True),
        ("position", ("Quay Road 1", "Mill Street 5", "Oat Street 12"), False),
        ("street", ("Quay Road", "Mill Street"), True),
        ("street", ("44.8, -82.2", "44.8, -82.3"), False),
        ("shade_used", ("dark", "pale", "dark"), True),
        ("shade_used", ("20", "25", "30"), False),
        ("surface_recorded", ("asphalt", "concrete", "hma"), True),
        ("surface_recorded", ("first", "second", "third"), False),
    ],
)
def test_a_column_is_what_its_cells_can_be(known, column, texts, may_be):
    assert fits(column, _cells(*texts), known, is_equal=True) == may_be


def test_bare_numbers_are_dates_only_where_the_header_is_equal_to_a_word_for_one(known):
    assert not fits("opened_on", _cells("46082", "46083"), known, is_equal=False)


def test_a_column_without_cells_is_believed_by_its_header_but_is_no_id_and_no_position(known):
    empty = _cells("", "n/a")
    assert fits("reinstated_at", empty, known, is_equal=True)
    assert not fits("reinstated_at", empty, known, is_equal=False)
    assert not fits("core_id", empty, known, is_equal=True)


def test_examples_are_different_and_from_all_of_the_column():
    assert examples_of(pd.Series(["1", "1 ", "2", "3", "4", "5"], dtype="str")) == ["1", "3", "5"]


def test_the_share_of_streets_counts_cells_that_hold_a_name_of_the_road_layer(known):
    assert street_share(_cells("12 Quay Road", "MILL STREET 3", "Depot", "Yard"), known) == 0.5


def test_an_example_has_no_noise_of_a_formula():
    assert examples_of(pd.Series(["609.5999999999999", "18.5", "60.1234567"], dtype="str")) == [
        "609.6", "18.5", "60.1234567",
    ]  # fmt: skip


def test_an_endless_cell_is_only_looked_at_where_it_begins():
    # the pattern of dates looks at each pair of letters in turn
    assert _cells("x" * 80_000).text.str.len().max() == 300
