"""What was understood of positions: how far from a road they are, in bands, and where the farthest is."""

import numpy as np
import pytest
import shapely
from hypothesis import given
from hypothesis import strategies as st

from pipeline.intake.position_facts import DISTANCE_BANDS_M, RoadTree
from tests.intake.registers_understood import register_of, roads, rows, understood


def _positions(northings, **more):
    return understood(register_of(rows(len(northings), n=northings)), **more).positions


def test_a_position_on_the_edge_of_a_band_belongs_to_the_lower_band():
    """The road is at northing 4961000: these lie 0, 2, 2.5, 5, 15, 60 and 800 m from it."""
    distances = [0, 2, 2.5, 5, 15, 60, 800]
    facts = _positions([str(4961000 + distance) for distance in distances])
    assert facts.distances == (2, 2, 0, 1, 0, 1, 1)
    assert facts.beyond(50) == 2
    assert facts.median_m == pytest.approx(5)


def test_the_farthest_position_is_named_with_its_row():
    facts = _positions(["4961003", "4961040", "4961001"])
    distance, cell = facts.farthest
    assert distance == pytest.approx(40)
    assert (cell.text, cell.place) == ("N2", 5)


def test_a_position_beyond_the_last_band_is_infinitely_far():
    assert _positions(["4961003", "4961900"]).farthest[0] == float("inf")


def test_rows_without_a_position_are_counted_by_reason_and_are_in_no_band():
    facts = _positions(["4961003", "", "north of here"])
    assert (facts.rows, facts.placed) == (3, 1)
    assert facts.unplaced == {"missing": 1, "unreadable": 1}
    assert sum(facts.distances) == 1


def test_without_roads_there_are_no_distances():
    facts = _positions(["4961003"], is_on_roads=False)
    assert (facts.distances, facts.farthest) == (None, None)
    assert facts.placed == 1


def test_the_columns_and_the_crs_are_those_of_the_register():
    facts = _positions(["4961003"])
    assert (facts.headers, facts.crs) == (("e", "n"), "EPSG:32617")


def test_whole_metres_are_rounded_to_a_metre():
    """Bands up to 0.1, 1, 10 and 100 m, and beyond: one position in whole metres, one in centimetres."""
    assert _positions(["4961003", "4961003.27"]).steps is not None
    assert sum(_positions(["4961003", "4961003.27"]).steps) == 2


@given(st.lists(st.floats(-600, 600), min_size=1, max_size=20))
def test_a_distance_is_that_of_shapely_for_each_position_by_itself(offsets):
    line = shapely.LineString([(490000, 4961000), (510000, 4961000)])
    y = np.array([4961000 + offset for offset in offsets])
    x = np.full(len(y), 500000.0)
    found = roads().distances_m(x, y)
    for distance, point in zip(found, shapely.points(x, y), strict=True):
        alone = shapely.distance(point, line)
        assert distance == pytest.approx(alone) if alone < DISTANCE_BANDS_M[-1] else not distance < DISTANCE_BANDS_M[-1]


def test_positions_that_are_missing_stay_missing():
    found = RoadTree(shapely.STRtree([shapely.LineString([(0, 0), (1, 0)])])).distances_m(
        np.array([np.nan, 0.5]), np.array([np.nan, 2.0])
    )
    assert np.isnan(found[0])
    assert found[1] == 2
