"""Tests of the streets of a small map."""

import geopandas as gpd
import numpy as np
import shapely

from pipeline.publish.plan.streets import Streets, frame_of

# 0 to 400 m east along y = 0 in two segments, a lane across it at x = 200, and a road far away
_LINES = {
    "Quay Road": [[(0, 0), (200, 0)], [(200, 0), (400, 0)]],
    "Oat Lane": [[(200, -300), (200, 300)]],
    "Far Road": [[(5000, 0), (5400, 0)]],
    None: [[(300, -50), (300, 50)], [(350, -50), (350, 50)]],
}


def _segments():
    pairs = [(name, shapely.LineString(line)) for name, lines in _LINES.items() for line in lines]
    return gpd.GeoDataFrame({"street": [name for name, _ in pairs]}, geometry=[line for _, line in pairs], crs=32617)


def test_a_frame_holds_its_points_with_a_margin_and_north_is_up():
    frame = frame_of(np.array([[0.0, 0.0], [400.0, 100.0]]), 100, 50)
    # 400 m and twice 60 m in 100 mm; 100 m and twice 60 m in 50 mm would be 4.4
    assert frame.m_per_mm == 5.2
    placed = frame.on_paper(np.array([[0.0, 0.0], [400.0, 100.0], [200.0, 50.0]]))
    assert np.allclose(placed[2], [50, 25])
    assert np.allclose(placed[0], [50 - 200 / 5.2, 25 + 50 / 5.2])


def test_a_single_stop_has_a_frame_of_streets_around_it():
    frame = frame_of(np.array([[10.0, 20.0]]), 120, 60)
    assert frame.m_per_mm == 2.0


def test_segments_of_a_street_are_one_line_and_what_is_outside_is_left_out():
    frame = frame_of(np.array([[0.0, 0.0], [400.0, 0.0]]), 100, 50)
    found = Streets(_segments()).within(frame, {"Oat Lane"})
    assert [street.name for street in found] == ["Oat Lane", "Quay Road", "", ""]
    assert found[0].has_stop
    assert found[1].lines.geom_type == "LineString"
    # 400 m at 5.2 m per millimetre
    assert round(found[1].lines.length, 3) == round(400 / 5.2, 3)
    # the lane is cut at the frame, which is 50 mm high
    assert round(found[0].lines.length, 3) == 50


def test_a_map_has_the_streets_of_its_stops_however_many_others_there_are():
    lines = [
        shapely.LineString([(x, y), (x + 30, y), (x + 30, y + 25)])
        for x in range(0, 2000, 40)
        for y in range(0, 2000, 40)
    ]
    segments = gpd.GeoDataFrame(
        {"street": ["Short Row", *(f"S{number}" for number in range(1, len(lines)))]}, geometry=lines, crs=32617
    )
    frame = frame_of(np.array([[0.0, 0.0], [2000.0, 2000.0]]), 100, 100)
    found = Streets(segments).within(frame, {"Short Row"})
    assert found[0].name == "Short Row"
    assert shapely.get_num_coordinates([street.lines for street in found]).sum() <= 1500 + 3


def test_the_order_of_the_segments_does_not_matter():
    segments = _segments()
    frame = frame_of(np.array([[0.0, 0.0], [400.0, 0.0]]), 100, 50)
    one = Streets(segments).within(frame, set())
    other = Streets(segments.iloc[::-1].reset_index(drop=True)).within(frame, set())
    assert [street.name for street in one] == [street.name for street in other]
