"""Both coordinates in one cell: where it is split, and what the cell says of their order."""

import numpy as np
import pandas as pd
import pytest
from hypothesis import given
from hypothesis import strategies as st

from pipeline.intake.cells.coordinates import read_column
from pipeline.intake.cells.one_cell_positions import split_positions


def _read(text, decimal=None, *, is_degrees=True):
    """Return the two numbers as written, and the order that the cell settles."""
    halves = split_positions(pd.Series([text], dtype="str"), decimal, is_degrees=is_degrees)
    numbers = [read_column(half, decimal, is_degrees=is_degrees).value[0] for half in halves[:2]]
    order = halves.order[0]
    return (*numbers, "" if pd.isna(order) else order)


@pytest.mark.parametrize(
    "text",
    [
        "40.77, -111.90", "40.77,-111.90", "40.77 -111.90", "40.77; -111.90", "40.77 / -111.90", "40.77\t-111.90",
        "40,77; -111,90", "40,77 -111,90", "40,77, -111,90", "40,77,-111,90", "(40.77, -111.90)", "[40.77, -111.90]",
        "40 46.2 -111 54.0", "40 46.2, -111 54.0", "40 46 12 -111 54 0", "40°46'12\", -111°54'00\"",
        "40° 46' 12\" -111° 54' 0\"", "40.77°, -111.90°", "40.77° −111.90°",
    ],
)  # fmt: skip
def test_two_angles_without_letters_leave_their_order_open(text):
    assert _read(text) == pytest.approx((40.77, -111.9, ""))


@pytest.mark.parametrize(
    "text",
    [
        "lat 40.77 lon -111.90", "Lat: 40.77, Lon: -111.90", "latitude=40.77; longitude=-111.90", "40.77N 111.90W",
        "40.77° N, 111.90° W", "N40 46.2 W111 54.0", "N 40.77, W 111.90", "40°46'12\"N 111°54'W",
        "40°46′12″N, 111°54′00″W", "40 46 12 N, 111 54 0 W", "40.77; 111.90 W", "geo:40.77,-111.90",
        "geo:40.77,-111.90;u=35",
    ],
)  # fmt: skip
def test_letters_and_words_settle_that_the_latitude_is_first(text):
    assert _read(text) == pytest.approx((40.77, -111.9, "y x"))


@pytest.mark.parametrize(
    "text",
    [
        "POINT (-111.90 40.77)", "POINT(-111.90 40.77)", "point z (-111.90 40.77 1288)", "SRID=4326;POINT(-111.90 40.77)",
        "lon -111.90 lat 40.77", "111.90W 40.77N", "W111 54.0, N40 46.2",
    ],
)  # fmt: skip
def test_letters_and_the_notation_of_points_settle_that_the_longitude_is_first(text):
    assert _read(text) == pytest.approx((-111.9, 40.77, "x y"))


@pytest.mark.parametrize(
    ("text", "order"),
    [
        ("512345.6 / 4512345.2", ""),
        ("512345.6, 4512345.2", ""),
        ("512,345.6, 4,512,345.2", ""),
        ("512 345,6 4 512 345,2", ""),
        ("512'345.6 4'512'345.2", ""),
        ("E 512345.6 N 4512345.2", "x y"),
        ("512345.6E 4512345.2N", "x y"),
        ("Easting 512345.6 Northing 4512345.2", "x y"),
        ("POINT (512345.6 4512345.2)", "x y"),
    ],
)
def test_two_lengths_are_split_where_that_is_certain(text, order):
    assert _read(text, is_degrees=False) == (512345.6, 4512345.2, order)


def test_groups_of_three_are_split_only_where_one_split_is_possible():
    assert _read("512 345 4 512 345", is_degrees=False) == (512345, 4512345, "")
    # 512 and 345 512 345, or 512 345 and 512 345
    assert np.isnan(_read("512 345 512 345", is_degrees=False)[0])


def test_two_whole_numbers_with_a_comma_may_be_one_number():
    assert np.isnan(_read("40,77")[0])
    assert np.isnan(_read("512345,4512345", ",", is_degrees=False)[0])
    assert _read("512345,4512345", is_degrees=False)[:2] == (512345, 4512345)


@pytest.mark.parametrize("text", ["40", "see sketch", "40.77, -111.90, 1288", "40.77; x", "", "40.77N 41.20N", "N E"])
def test_a_cell_without_two_numbers_is_not_read(text):
    assert np.isnan(_read(text)[:2]).any()


def test_a_grid_reference_with_letters_is_told_apart():
    cells = pd.Series(["SU 1234 5678", "su12345678", "O 15904 34671", "40.77, -111.9"], dtype="str")
    assert split_positions(cells, None, is_degrees=False).has_grid.tolist() == [True, True, True, False]


def test_the_code_that_a_cell_gives_is_kept():
    cells = pd.Series(["SRID=2056;POINT(2600000 1200000)", "POINT(1 2)"], dtype="str")
    assert split_positions(cells, None, is_degrees=False).srid.fillna("").tolist() == ["2056", ""]


_DEGREES = st.integers(-90_000_000, 90_000_000).map(lambda millionths: f"{millionths / 1e6:.6f}")


@given(_DEGREES, _DEGREES, st.sampled_from([", ", ",", " ", "; ", ";", " / "]), st.booleans())
def test_every_pair_comes_back_whatever_parts_it(first, second, mark, has_commas):
    if has_commas and mark != ",":
        first, second = first.replace(".", ","), second.replace(".", ",")
    numbers = tuple(float(half.replace(",", ".")) for half in (first, second))
    assert _read(f"{first}{mark}{second}") == (*numbers, "")
