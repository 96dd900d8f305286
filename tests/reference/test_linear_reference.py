"""Chainage, offset and side on one bent line.

Source: the example of ISO 19148, linear referencing by absolute distance along a line and lateral offset, left as seen
in the direction of the line; the figures follow by hand from the drawing.

::

        98,30 . |
                |
   -5,3     60,5 .           | . 103,20
     .  0---------------------+
                60,-4 .        . 110,-10

A runs from (0, 0) by (100, 0) to (100, 50).
"""

from math import sqrt

import geopandas as gpd
import numpy as np
import pandas as pd
import pytest
import shapely

from pipeline.locate.segments import find_segments

# position, chainage, offset, side
EXAMPLES = {
    "left of the first leg": ((60, 5), 60, 5, "left"),
    "right of the first leg": ((60, -4), 60, 4, "right"),
    # 100 m and then 20 m up
    "right of the second leg": ((103, 20), 120, 3, "right"),
    "left of the second leg": ((98, 30), 130, 2, "left"),
    # 10 m east and 10 m south of the bend: the root of 200
    "in the outer angle of the bend": ((110, -10), 100, sqrt(200), "right"),
    # counted from the start: 5 m before it and 3 m beside it, the root of 34
    "before the start": ((-5, 3), 0, sqrt(34), "left"),
    "beyond the end": ((97, 54), 150, 5, "left"),
    "on the line": ((100, 25), 125, 0, None),
}


def _line(points, start_m=0.0):
    return gpd.GeoDataFrame(
        {"segment_id": pd.Series(["A"], dtype="str"), "street": pd.Series(["A"], dtype="str"), "start_m": [start_m]},
        geometry=[shapely.LineString(points)],
        crs=32617,
    )


def _cores(points):
    x, y = np.array(points, dtype=float).T
    return pd.DataFrame({"x_m": x, "y_m": y})


BENT = [(0, 0), (100, 0), (100, 50)]


def test_chainage_offset_and_side_are_those_of_the_drawing():
    found = find_segments(_cores([place for place, *_ in EXAMPLES.values()]), _line(BENT), 15).frame
    assert found["chainage_m"].tolist() == pytest.approx(
        [chainage for _, chainage, _, _ in EXAMPLES.values()], abs=1e-9
    )
    assert found["offset_m"].tolist() == pytest.approx([offset for _, _, offset, _ in EXAMPLES.values()], abs=1e-9)
    assert found["offset_m"].tolist()[4:6] == pytest.approx([14.142, 5.831], abs=5e-4)
    assert [side if isinstance(side, str) else None for side in found["side"]] == [
        side for *_, side in EXAMPLES.values()
    ]


def test_a_reversed_line_counts_from_its_other_end_and_exchanges_the_sides():
    places = [place for place, *_ in EXAMPLES.values()]
    found = find_segments(_cores(places), _line(BENT), 15).frame
    back = find_segments(_cores(places), _line(BENT[::-1]), 15).frame
    assert back["chainage_m"].tolist() == pytest.approx((150 - found["chainage_m"]).tolist(), abs=1e-9)
    assert back["offset_m"].tolist() == pytest.approx(found["offset_m"].tolist(), abs=1e-9)
    exchanged = found["side"].map({"left": "right", "right": "left"})
    assert back["side"].fillna("").tolist() == exchanged.fillna("").tolist()


def test_chainage_starts_from_the_chainage_at_which_the_piece_starts():
    """A segment calibrated from 2,000 m on: 120 m along the drawing is 2,120 m along the segment."""
    found = find_segments(_cores([(103, 20)]), _line(BENT, start_m=2000.0), 15).frame
    assert found["chainage_m"][0] == pytest.approx(2120)


def test_a_core_moved_along_with_its_line_stays_where_it_is_on_it():
    """Turned by 37 degrees and moved to UTM coordinates, only the rounding of large numbers changes."""
    turn = np.deg2rad(37)
    matrix = np.array([[np.cos(turn), -np.sin(turn)], [np.sin(turn), np.cos(turn)]])
    shift = np.array([478_123.4, 4_963_321.0])
    places = [place for place, *_ in EXAMPLES.values()]
    moved = find_segments(
        _cores(np.array(places) @ matrix.T + shift), _line(np.array(BENT) @ matrix.T + shift), 15
    ).frame
    assert moved["chainage_m"].tolist() == pytest.approx([one[1] for one in EXAMPLES.values()], abs=1e-6)
    assert moved["offset_m"].tolist() == pytest.approx([one[2] for one in EXAMPLES.values()], abs=1e-6)
    assert moved["side"].fillna("").tolist() == [one[3] or "" for one in EXAMPLES.values()]
