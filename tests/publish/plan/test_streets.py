"""Tests of the streets of a small map."""

import geopandas as gpd
import numpy as np
import pandas as pd
import shapely

from pipeline.publish.plan.streets import Street, Streets, frame_of

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


def _within(segments, frame, with_stops):
    return Streets(segments).within([frame], [with_stops])[0]


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
    found = _within(_segments(), frame, {"Oat Lane"})
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
    found = _within(segments, frame, {"Short Row"})
    assert found[0].name == "Short Row"
    assert shapely.get_num_coordinates([street.lines for street in found]).sum() <= 1500 + 3


def test_the_order_of_the_segments_does_not_matter():
    segments = _segments()
    frame = frame_of(np.array([[0.0, 0.0], [400.0, 0.0]]), 100, 50)
    one = _within(segments, frame, set())
    other = _within(segments.iloc[::-1].reset_index(drop=True), frame, set())
    assert [street.name for street in one] == [street.name for street in other]


def _plainly_within(segments, frame, with_stops):
    """Return the streets of a frame one after the other: clipped, put on paper, joined by name, simplified, sorted."""
    lines = shapely.clip_by_rect(segments.geometry.to_numpy(), *frame.box)
    kept = ~shapely.is_empty(lines)
    lines = shapely.transform(lines[kept], frame.on_paper)
    names = segments["street"].fillna("").to_numpy(object)[kept]
    keys = np.where(names == "", np.arange(len(lines)), -1)
    streets = []
    for (name, _), mine in pd.Series(np.arange(len(lines))).groupby([names, keys]):
        parts = [part for part in shapely.get_parts(lines[mine.to_numpy()]) if part.geom_type == "LineString"]
        joined = shapely.line_merge(shapely.MultiLineString(parts))
        if parts:
            streets.append(Street(name, shapely.simplify(joined, 0.2), name in with_stops))
    streets.sort(key=lambda one: (not one.has_stop, -round(one.lines.length, 3), one.name))
    points = np.cumsum([shapely.get_num_coordinates(one.lines) for one in streets])
    return [
        one
        for one, so_far in zip(streets, points, strict=True)
        if one.has_stop or (so_far <= 1500 and one.lines.length >= 2)
    ]


def _random_town(random):
    """Return bent segments that follow each other, rings among them; some names are missing and some come twice."""
    lines, names = [], []
    for number in range(120):
        bend = random.choice([0.0, 0.5, 20.0])
        along = np.column_stack([np.linspace(0, random.uniform(20, 600), 13), random.normal(0, bend, 13)])
        turn = random.uniform(0, 2 * np.pi)
        xy = along @ np.array([[np.cos(turn), np.sin(turn)], [-np.sin(turn), np.cos(turn)]])
        xy += random.uniform(0, 3000, 2)
        pieces = [xy[:5], xy[4:9], xy[8:]] if number % 7 else [np.concatenate([xy, xy[:1]])]
        flipped = [piece[:: random.choice([1, -1])] for piece in pieces]
        lines += [
            shapely.MultiLineString([piece]) if number % 11 == 3 else shapely.LineString(piece) for piece in flipped
        ]
        names += [None if number % 5 == 0 else f"Road {number % 90}"] * len(pieces)
    order = random.permutation(len(lines))
    return gpd.GeoDataFrame({"street": [names[at] for at in order]}, geometry=[lines[at] for at in order], crs=32617)


def test_the_streets_of_many_frames_are_those_of_each_frame_worked_out_plainly():
    random = np.random.default_rng(17)
    segments = _random_town(random)
    streets = Streets(segments)
    frames, with_stops = [], []
    for _ in range(60):
        points = random.uniform(0, 3000, 2) + random.uniform(0, random.choice([50, 400, 3000]), (3, 2))
        frames.append(frame_of(points, 112, random.choice([32, 72])))
        with_stops.append({f"Road {number}" for number in random.integers(0, 90, 4)} | set(random.choice(["", "x"], 1)))
    found = streets.within(frames, with_stops)
    for frame, names, mine in zip(frames, with_stops, found, strict=True):
        expected = _plainly_within(segments, frame, names)
        assert [(one.name, one.has_stop, one.lines.wkt) for one in mine] == [
            (one.name, one.has_stop, one.lines.wkt) for one in expected
        ]
    assert sum(map(len, found)) > 400
