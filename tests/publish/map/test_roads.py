"""The road segments on the map: how they are packed, and which ones are kept of too many."""

import geopandas as gpd
import numpy as np
import pandas as pd
import shapely

from pipeline.publish.map.cores import mercator
from pipeline.publish.map.road_lines import lines_of
from pipeline.publish.map.roads import choose_roads, class_ranks, is_main, pack_roads
from tests.publish.map.test_cores import columns_of


def layer():
    """Six streets side by side; E and F are wide."""
    return gpd.GeoDataFrame(
        {"segment_id": list("ABCDEF"), "half_width_m": [3, 3, 3, 3, 6, 4.5]},
        geometry=[shapely.LineString([(0, y), (1, y)]) for y in range(6)],
        crs=4326,
    )


# a flagged core on B that may lie on C, a reinstated one on D, a pending one without a road
CORES = pd.DataFrame(
    {
        "status": ["flagged", "reinstated", "pending"],
        "segment_id": ["B", "D", None],
        "runner_up_id": ["C", "A", None],
    }
)


NONE = CORES[:0]


def chosen(most):
    return "".join(layer()["segment_id"].iloc[choose_roads(layer(), CORES, most)])


def test_all_are_kept_up_to_the_limit():
    assert chosen(6) == "ABCDEF"


def test_open_cores_come_first_then_where_they_may_lie_then_wide_roads_then_closed_cores():
    assert [chosen(most) for most in (1, 2, 3, 4)] == ["B", "BC", "BCE", "BCEF"]


def test_a_road_without_a_core_that_is_not_wide_is_never_kept_once_there_are_too_many():
    assert chosen(5) == "BCDEF"


def test_a_layer_without_widths_has_no_main_roads():
    kept = choose_roads(layer().drop(columns="half_width_m"), CORES, 5)
    assert list(kept) == [1, 2, 3]


def test_a_road_of_nine_metres_is_a_main_road():
    """Half widths of 4.5 m and more, of the six above."""
    assert is_main(layer()).tolist() == [False, False, False, False, True, True]
    assert not is_main(layer().assign(half_width_m=np.nan)).any()


def roads(*geometry):
    names = {"segment_id": [f"S-{n}" for n in range(len(geometry))], "street": "Dory Lane", "surface": None}
    return gpd.GeoDataFrame(names, geometry=list(geometry), crs=4326)


def packed_roads(segments, cores):
    """The packed roads, and the vertices of their lines."""
    lines = lines_of(segments)
    return pack_roads(segments, cores, lines), lines.vertices


def test_vertices_are_packed_line_by_line():
    first = shapely.LineString([(0, 0), (1, 0), (1, 1)])
    second = shapely.LineString([(2, -2), (3, -3)])
    text, vertices = packed_roads(roads(first, second), NONE)
    assert vertices.tolist() == [[0, 0], [1, 0], [1, 1], [2, -2], [3, -3]]
    packed = columns_of(text)
    assert packed["vertices"].tolist() == [3, 2]
    x, y = mercator(vertices[:, 0], vertices[:, 1])
    assert packed["x"].tolist() == x.tolist()
    assert packed["y"].tolist() == y.tolist()


def test_the_parts_of_a_segment_are_lines_of_their_own_with_its_name():
    both = shapely.MultiLineString([[(0, 0), (1, 1)], [(2, 2), (3, 3)]])
    packed = columns_of(packed_roads(roads(both), NONE)[0])
    assert packed["vertices"].tolist() == [2, 2]
    assert packed["id number"].tolist() == [0, 0]


def test_a_vertex_on_a_straight_line_is_left_out():
    """Simplified to half a metre: far less than a line is wide on the screen."""
    straight = shapely.LineString([(0, 0), (0.5, 1e-7), (1, 0)])
    assert packed_roads(roads(straight), NONE)[1].tolist() == [[0, 0], [1, 0]]


def test_anything_but_a_line_is_not_drawn():
    line = shapely.LineString([(0, 0), (1, 1)])
    text, vertices = packed_roads(roads(shapely.Point(0, 0), line, shapely.LineString()), NONE)
    assert columns_of(text)["id number"].tolist() == [1]
    assert len(vertices) == 2


def test_a_layer_without_segments_can_be_drawn():
    text, vertices = packed_roads(roads()[:0], NONE)
    assert vertices.shape == (0, 2)
    assert columns_of(text)["vertices"].tolist() == []


def test_lines_are_packed_near_those_that_are_near():
    """Two far east and two at the origin, given by turns, come out by place."""
    ends = [(0, 0), (60, 0), (0.001, 0), (60.001, 0)]
    text, _ = packed_roads(roads(*(shapely.LineString([(x, y), (x, y + 0.0001)]) for x, y in ends)), NONE)
    assert columns_of(text)["id number"].tolist() == [0, 2, 1, 3]


def test_the_class_of_a_road_goes_by_the_usual_width_of_its_class():
    """Main from 11 m, secondary from 8.5 m, local from 5.5 m; a main road measured 6 m wide stays a main road."""
    widths = layer().assign(half_width_m=[5.5, 4.25, 2.75, 2.7, np.nan, 6.0])
    assert class_ranks(widths).tolist() == [0, 1, 2, 3, 2, 0]
    classed = layer().assign(half_width_m=[6, 6, 3, 3.5, 3.5, np.nan], class_name=["main"] * 3 + ["local"] * 3)
    assert class_ranks(classed).tolist() == [0, 0, 0, 2, 2, 2]
    assert class_ranks(layer().drop(columns="half_width_m")).tolist() == [2] * 6


def test_every_line_has_the_level_and_the_step_of_its_street():
    """Of Dory Lane two overdue cores lie on the second segment, none on the first; the parts of a segment are alike."""
    first = shapely.LineString([(0, 0), (0, 1)])
    both = shapely.MultiLineString([[(1, 0), (1, 1)], [(2, 0), (2, 1)]])
    late = pd.DataFrame({"segment_id": ["S-1"] * 2, "status": "flagged", "urgency": "overdue"})
    packed = columns_of(packed_roads(roads(first, both), late)[0])
    by_line = sorted(zip(packed["id number"].tolist(), packed["level"].tolist(), packed["step"].tolist(), strict=True))
    assert by_line == [(0, 5, 0), (1, 1, 1), (1, 1, 1)]
