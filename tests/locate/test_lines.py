"""The lines of a layer, made ready."""

import geopandas as gpd
import pandas as pd
import shapely

from pipeline.locate.lines import lines_of

_SHAPES = [shapely.LineString(line) for line in ([(0, 0), (3, 4)], [(0, 9), (9, 9)], [(3, 4), (3, 8)])]


def _segments():
    ids = pd.Series(["S-2", "S-10", "S-2"], dtype="str")
    return gpd.GeoDataFrame({"segment_id": ids}, geometry=_SHAPES, crs="EPSG:32632")


def test_lines_of_one_segment_have_its_number_in_the_order_of_the_ids():
    lines = lines_of(_segments(), are_weighed=True)
    assert lines.segment.tolist() == [1, 0, 1]
    assert lines.shapes.tolist() == _SHAPES
    assert sorted(lines.tree.query(shapely.box(3, 4, 3, 4)).tolist()) == [0, 2]


def test_straight_pieces_are_made_only_where_errors_are_weighed():
    assert lines_of(_segments(), are_weighed=False).pieces is None
    pieces = lines_of(_segments(), are_weighed=True).pieces
    assert pieces.length.tolist() == [5, 9, 4]
