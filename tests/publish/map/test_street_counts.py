"""What each street is coloured by, and how many such cores it has."""

import geopandas as gpd
import numpy as np
import pandas as pd
import pytest
import shapely

from pipeline.publish.looks import STREET_LEVELS
from pipeline.publish.map.street_counts import choose_limits, count_streets


def layer(**streets):
    """Segments by their id, each with the name of its street, or None."""
    lines = [shapely.LineString([(0, y), (1, y)]) for y in range(len(streets))]
    return gpd.GeoDataFrame({"segment_id": list(streets), "street": list(streets.values())}, geometry=lines, crs=4326)


def cores(*rows):
    return pd.DataFrame(rows, columns=["segment_id", "status", "urgency"])


def levels(counted):
    return [STREET_LEVELS[level] for level in counted.level]


def test_a_street_has_the_level_of_its_most_urgent_core():
    some = cores(
        ("A", "reinstated", None),
        ("A", "pending", None),
        ("B", "flagged", "quality"),
        ("B", "flagged", "overdue"),
        ("C", "pending", "hazard"),
        ("D", "reinstated", None),
        ("E", "flagged", "record"),
        (None, "flagged", "hazard"),
        ("of another town", "flagged", "hazard"),
    )
    streets = layer(A=None, B=None, C=None, D=None, E=None, F=None)
    assert levels(count_streets(streets, some)) == ["open", "overdue", "hazard", "order", "flagged", "none"]
    assert levels(count_streets(streets, some.drop(columns="urgency"))) == [
        "open",
        "flagged",
        "open",
        "order",
        "flagged",
        "none",
    ]


@pytest.mark.parametrize(("count", "step"), [(1, 0), (2, 1), (4, 1), (5, 2), (9, 2), (10, 3), (40, 3)])
def test_a_street_is_a_step_wider_from_2_5_and_10_cores_on(count, step):
    """Nine more streets with an overdue core each, so that the steps are the finest."""
    others = {f"O{n}": f"Lane {n}" for n in range(9)}
    some = cores(*[("A", "flagged", "overdue")] * count, *[(name, "flagged", "overdue") for name in others])
    counted = count_streets(layer(A="Quay Street", **others), some)
    assert counted.limits == (2, 5, 10)
    assert counted.step.tolist() == [step] + [0] * 9


def test_cores_are_counted_by_street_and_by_kind():
    """Three segments of Quay Street: a hazard and two overdue on one, six open on another, three overdue on the third."""
    some = cores(
        ("A", "flagged", "hazard"),
        *[("A", "flagged", "overdue")] * 2,
        *[("B", "pending", None)] * 6,
        *[("C", "flagged", "overdue")] * 3,
        *[("C", "reinstated", None)] * 9,
        *[("D", "reinstated", None)] * 30,
    )
    counted = count_streets(layer(A="Quay Street", B="Quay Street", C="Quay Street", D="Mill Lane"), some)
    assert levels(counted) == ["hazard", "open", "overdue", "order"]
    # six hazards and overdue: 5 to 9; six open: 5 to 9; what is in order has no step
    assert counted.limits == (2, 5, 10)
    assert counted.step.tolist() == [2, 2, 2, 0]


def test_segments_without_a_street_are_not_counted_together_and_lines_of_one_segment_are():
    some = cores(*[("A", "pending", None)] * 2, *[("B", "pending", None)] * 3)
    streets = layer(A=None, B=None)
    assert count_streets(streets, some).step.tolist() == [1, 1]
    twice = pd.concat([streets, streets.iloc[[1]]], ignore_index=True)
    assert count_streets(twice, some).step.tolist() == [1, 1, 1]


def test_steps_are_coarser_where_more_than_a_fifth_of_the_streets_would_be_of_the_widest():
    assert choose_limits(np.array([0, 0, 10, 1, 1, 1, 1])) == (2, 5, 10)
    assert choose_limits(np.array([10, 1, 1, 1])) == (5, 10, 20)
    assert choose_limits(np.array([20, 19, 1])) == (10, 20, 50)
    assert choose_limits(np.array([900, 5000])) == (200, 500, 1000)
    assert choose_limits(np.array([0])) == (2, 5, 10)


def test_steps_tell_apart_the_streets_with_a_name_by_what_is_most_urgent():
    """Two of four named streets have ten overdue: 20 for the widest. Eight unnamed roads with one do not count."""
    unnamed = {f"U{n}": None for n in range(8)}
    streets = layer(A="Quay Street", B="Mill Lane", C="Dory Lane", D="Oat Street", **unnamed)
    some = cores(
        *[("A", "flagged", "overdue")] * 10,
        *[("B", "flagged", "overdue")] * 10,
        ("C", "flagged", "overdue"),
        *[("D", "pending", None)] * 400,
        *[(name, "flagged", "hazard") for name in unnamed],
    )
    assert count_streets(streets, some).limits == (5, 10, 20)
    # without anything urgent the open ones have to be told apart
    assert count_streets(streets, some[some["status"].eq("pending")]).limits == (100, 200, 500)
    assert count_streets(layer(**unnamed), some).limits == (2, 5, 10)


def test_a_town_without_cores_or_without_streets_has_no_coloured_street():
    assert levels(count_streets(layer(A=None), cores())) == ["none"]
    assert count_streets(layer(A=None)[:0], cores(("A", "pending", None))).level.tolist() == []
    assert levels(count_streets(layer(A=None), cores(("A", "pending", None)).drop(columns="segment_id"))) == ["none"]
