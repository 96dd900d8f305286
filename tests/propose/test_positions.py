"""The columns of the position, their CRS and their order."""

import numpy as np
import pandas as pd
import pyproj
import pytest
import shapely

from pipeline.propose.cell_kinds import column_cells
from pipeline.propose.columns import Columns
from pipeline.propose.crs_by_roads import Roads
from pipeline.propose.positions import propose_position
from pipeline.propose.questions import Section

# a street of 1.6 km at 44.8 degrees north, and twenty cores on it
_LONS = np.linspace(-82.21, -82.19, 20)
_STREET = shapely.LineString([(-82.21, 44.8), (-82.19, 44.8)])


@pytest.fixture(scope="module")
def roads():
    return Roads(np.array([_STREET]), pyproj.CRS.from_epsg(4326))


def _proposed(roads, frame, **places):
    section = Section("cores", "a")
    columns = Columns(places=places, cells=column_cells(frame))
    used = propose_position(section, columns, frame, roads)
    return section, used


def _values(section):
    return {setting.key: setting.value for setting in section.settings if setting.question is None}


def _frame(**columns):
    return pd.DataFrame({name: pd.Series(cells, dtype="str") for name, cells in columns.items()})


def test_two_columns_of_degrees_are_settled_by_the_roads(roads):
    frame = _frame(E=[f"{lon:.6f}" for lon in _LONS], N=["44.8"] * 20)
    section, used = _proposed(roads, frame, x=["E"], y=["N"])
    assert _values(section) == {"x": "E", "y": "N", "crs": "EPSG:4326"}
    assert used == ["E", "N"]


def test_headers_the_wrong_way_round_are_put_right_and_said(roads):
    frame = _frame(E=["44.8"] * 20, N=[f"{lon:.6f}" for lon in _LONS])
    section, _ = _proposed(roads, frame, x=["E"], y=["N"])
    assert _values(section) == {"x": "N", "y": "E", "crs": "EPSG:4326"}
    assert "the roads show" in section.settings[0].note


@pytest.mark.parametrize(
    ("cell", "order"), [("44.8, {lon:.6f}", "lat lon"), ("{lon:.6f}; 44.8", "lon lat"), ("44.8 {lon:.6f}", "lat lon")]
)
def test_the_order_in_one_cell_is_the_one_that_lies_on_the_roads(roads, cell, order):
    frame = _frame(Where=[cell.format(lon=lon) for lon in _LONS])
    section, _ = _proposed(roads, frame, position=["Where"])
    assert _values(section) == {"position": "Where", "crs": "EPSG:4326", "position_order": order}


def test_an_order_that_every_cell_writes_needs_no_setting(roads):
    frame = _frame(Where=[f"POINT ({lon:.6f} 44.8)" for lon in _LONS])
    section, _ = _proposed(roads, frame, position=["Where"])
    assert _values(section) == {"position": "Where", "crs": "EPSG:4326"}


def test_columns_without_a_known_header_are_found_near_the_roads(roads):
    frame = _frame(Ort=["hier"] * 20, Breite=["44.8"] * 20, Laenge=[f"{lon:.6f}" for lon in _LONS])
    section, used = _proposed(roads, frame)
    assert used == ["Laenge", "Breite"]
    assert _values(section)["crs"] == "EPSG:4326"


def test_positions_far_from_the_roads_leave_the_crs_a_question(roads):
    frame = _frame(x=["10.0"] * 5, y=["50.0"] * 5)
    section, _ = _proposed(roads, frame, x=["x"], y=["y"])
    assert "crs" not in _values(section)
    assert "no CRS puts the cores near the roads" in section.questions[0].text


def test_without_roads_the_order_in_one_cell_is_a_question_too():
    section, _ = _proposed(None, _frame(Where=["44.8, -82.2", "44.9, -82.3"]), position=["Where"])
    assert [question.text.split("?")[0] for question in section.questions] == [
        'Which CRS is "Where" in', 'Which number comes first in "Where"',
    ]  # fmt: skip
    assert section.questions[0].examples == ("44.8, -82.2", "44.9, -82.3")


def test_a_register_without_any_position_asks_for_one(roads):
    section, used = _proposed(roads, _frame(Kern=["A-1"], Ort=["hier"]))
    assert used == []
    assert "the file has: Kern, Ort" in section.questions[0].text
