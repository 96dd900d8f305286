"""Positions that lie far from the roads, or a little beside them, point to a wrong CRS."""

import numpy as np
import pytest
import shapely

from pipeline.intake.position_facts import RoadTree
from pipeline.intake.position_suspicions import of_positions
from pipeline.intake.understood import understood_register
from tests.intake.registers_understood import AS_OF, UTM, register_of, rows

_LINE = shapely.LineString([(490000, 4961000), (510000, 4961000)])


def _said(away_m, half_width_m=3.5, **cells):
    """What is said of thirty positions at these distances from the middle of a road, accurate to 5 m."""
    north = [f"{4961000 + away}" for away in away_m]
    roads = RoadTree(shapely.STRtree([_LINE]), np.array([half_width_m]), 5.0)
    facts = understood_register([register_of(rows(30, n=north, **cells))], UTM, roads, AS_OF)
    return [sentence for _, sentence in of_positions(facts.positions)]


def test_positions_far_from_every_road_are_a_fault_of_the_crs():
    (said,) = _said([200] * 30)
    assert said.startswith("30 of 30 positions are over 50 m from any road. Check the CRS (EPSG:32617)")


# sixteen of thirty, so that the median is theirs
@pytest.mark.parametrize(("away", "is_said"), [(8.0, False), (8.1, True), (14, True)])
def test_a_median_beyond_the_edge_of_any_usual_road_asks_for_the_crs(away, is_said):
    said = _said([3] * 14 + [away] * 16)
    assert bool(said) is is_said
    if said:
        assert said[0].startswith(f"half of the positions lie over {away:.1f} m from the middle of the nearest road")
        assert "Check the CRS (EPSG:32617)" in said[0]


# 3.5 m to the edge and 5 m of accuracy: 8.5 m
@pytest.mark.parametrize(("away", "number", "is_said"), [(8.4, 10, False), (8.6, 10, True), (8.6, 9, False)])
def test_many_positions_beyond_the_edge_and_their_accuracy_ask_for_the_crs(away, number, is_said):
    said = _said([1] * (30 - number) + [away] * number)
    assert bool(said) is is_said
    if said:
        assert said[0].startswith("10 of 30 positions lie beside the nearest road, beyond its edge and their accuracy.")


def test_a_wide_road_holds_positions_that_a_narrow_one_does_not():
    assert _said([1] * 18 + [12] * 12, half_width_m=8) == []
    assert _said([1] * 18 + [12] * 12, half_width_m=3) != []
