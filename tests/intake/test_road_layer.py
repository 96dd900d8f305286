"""Road segments from a layer: lines, chainage, widths, slopes, levels, and their order."""

import numpy as np
import pandas as pd
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from pyproj import CRS

from pipeline.errors import InputError
from pipeline.intake.files.tables import RawTable
from pipeline.intake.placed_layer import place_layer
from pipeline.intake.road_layer import as_segments
from pipeline.programme.catalogue import load_catalogue
from pipeline.programme.settings import Layer

_CATALOGUE = load_catalogue({}, "test")
_CRS = CRS.from_epsg(32617)


def _line(y, length=100):
    return shapely.LineString([(404000, 4961000 + y), (404000 + length, 4961000 + y)])


def _read(geometry, **columns):
    """The segments, and the notices on the layer."""
    frame = pd.DataFrame(
        {name: pd.Series(cells, dtype="str") for name, cells in columns.items()}, index=range(len(geometry))
    )
    table = RawTable(
        frame, np.arange(1, len(geometry) + 1), len(geometry), "roads.gpkg", np.array(geometry, dtype=object), _CRS
    )
    layer = place_layer(table, Layer(path="roads.gpkg"), "roads", ("LineString", "MultiLineString"))
    return as_segments(layer, _CATALOGUE, _CRS), table.notices


def test_a_layer_with_lines_alone_has_every_column_and_counts_its_rows_for_ids():
    segments, notices = _read([_line(0), _line(10)])
    assert segments["segment_id"].tolist() == ["1", "2"]
    assert segments[["street", "surface", "road_authority", "slope_percent"]].isna().all(axis=None)
    assert segments["class_name"].tolist() == ["other", "other"]
    # 7 m, the usual width of other roads
    assert segments["half_width_m"].tolist() == [3.5, 3.5]
    assert not segments["is_underground"].any()
    assert notices == []


def test_columns_come_as_the_layer_has_them_with_the_class_by_its_catalogue_name():
    segments, _ = _read(
        [_line(0)],
        segment_id=["S7"],
        street=["Mill Road"],
        surface=["tarmac"],
        road_class=["primary"],
        road_authority=["County"],
    )
    row = segments.iloc[0]
    assert (row["segment_id"], row["street"], row["surface"]) == ("S7", "Mill Road", "asphalt")
    assert (row["road_class"], row["class_name"], row["road_authority"]) == ("primary", "main", "County")


def test_lines_that_meet_are_joined_and_lines_apart_continue_the_chainage():
    """A segment of three lines: two meet and become one of 100 m, the third follows after a gap."""
    meeting = [[(404000, 4961000), (404060, 4961000)], [(404060, 4961000), (404100, 4961000)]]
    apart = [(404120, 4961000), (404150, 4961000)]
    segments, _ = _read([shapely.MultiLineString([*meeting, apart])], segment_id=["A"])
    first, second = sorted(zip(segments["start_m"], segments.length))
    assert first == pytest.approx((0, 100))
    assert second == pytest.approx((100, 30))
    assert segments["segment_id"].tolist() == ["A", "A"]


def test_a_width_of_the_layer_beats_that_of_the_class():
    segments, notices = _read(
        [_line(0), _line(10), _line(20), _line(30)], segment_id=list("abcd"),
        width=["9", "24 ft", "broad", "0"], road_class=["residential", "residential", "motorway", "service"],
    )  # fmt: skip
    # 24 ft are 7.3152 m; "broad" and nought go by the class: 14 m and 4 m
    assert (segments["half_width_m"] * 2).tolist() == pytest.approx([9, 7.3152, 14, 4])
    assert notices == ["roads.gpkg: 1 width cannot be read; the usual width of the class is used."]


def test_slopes_are_percent_with_or_without_the_sign():
    segments, notices = _read(
        [_line(0), _line(10), _line(20), _line(30), _line(40)], segment_id=list("abcde"),
        slope=["8", "2.5 %", "-3%", "1 in 12", None],
    )  # fmt: skip
    assert segments["slope_percent"].fillna(99).tolist() == [8, 2.5, -3, 99, 99]
    assert notices == ["roads.gpkg: 1 slope cannot be read. Write slopes in percent, such as 8."]


@pytest.mark.parametrize(
    ("level", "is_underground"),
    [("-1", True), ("-0.5", True), ("0", False), ("1", False), (None, False), ("Tunnel", True), ("building_passage", True), ("bridge", False)],
)  # fmt: skip
def test_a_road_below_zero_or_in_a_tunnel_is_underground_and_a_bridge_is_not(level, is_underground):
    segments, _ = _read([_line(0)], level=[level])
    assert segments["is_underground"].tolist() == [is_underground]


def test_whole_numbers_are_sorted_by_value_and_other_ids_by_letter():
    lines = [_line(0), _line(10), _line(20)]
    assert _read(lines, segment_id=["10", "9", "100"])[0]["segment_id"].tolist() == ["9", "10", "100"]
    assert _read(lines, segment_id=["10", "9", "x"])[0]["segment_id"].tolist() == ["10", "9", "x"]


def test_a_blank_id_is_that_of_its_row():
    assert _read([_line(0), _line(10)], segment_id=["7", " "])[0]["segment_id"].tolist() == ["2", "7"]


def test_ids_used_again_are_reported_and_kept():
    segments, notices = _read([_line(0), _line(10), _line(20)], segment_id=["A", "A", "A"])
    assert segments["segment_id"].tolist() == ["A", "A", "A"]
    assert notices == [
        "roads.gpkg: 2 features with the segment id of an earlier feature; features that share an id are treated as one segment."
    ]


def test_a_line_without_length_is_left_out_and_a_layer_of_such_lines_refused():
    point = shapely.LineString([(404000, 4961000), (404000, 4961000)])
    assert _read([point, _line(10)])[0]["segment_id"].tolist() == ["2"]
    with pytest.raises(
        InputError,
        match=r"^roads\.gpkg: no segment has a length in WGS 84 / UTM zone 17N\. Its CRS is EPSG:32617, as its file says\. Check roads\.path",
    ):
        _read([point])


@settings(deadline=None, max_examples=15)
@given(st.permutations(range(5)))
def test_the_order_of_the_layer_changes_nothing(order):
    lines = [_line(0), _line(10), _line(20, 50), _line(20), _line(40)]
    ids, streets = ["7", "3", "5", "5", "12"], ["a", "b", "c", "c", "d"]
    plain, _ = _read(lines, segment_id=ids, street=streets)
    mixed, _ = _read([lines[i] for i in order], segment_id=[ids[i] for i in order], street=[streets[i] for i in order])
    pd.testing.assert_frame_equal(pd.DataFrame(plain), pd.DataFrame(mixed))


def test_a_layer_of_many_lines_with_one_id_has_no_ids():
    lines = [_line(10 * number) for number in range(21)]
    with pytest.raises(InputError, match=r"all 21 features have the segment id 'x'; expected a different id for each"):
        _read(lines, segment_id=["x"] * 21)
    segments, notices = _read(lines[:20], segment_id=["x"] * 20)
    assert (set(segments["segment_id"]), len(notices)) == ({"x"}, 1)


def test_a_line_to_a_vertex_far_away_is_reported_with_its_feature():
    far = shapely.LineString([(404000, 4961000), (404000, 4991000), (404000, 4961010)])
    apart = shapely.MultiLineString([[(404000, 4961000), (404050, 4961000)], [(504000, 4961000), (504050, 4961000)]])
    nothing, wide = shapely.LineString(), _line(30, length=20_000)
    _, notices = _read([nothing, _line(0), wide, apart, far])
    (notice,) = [notice for notice in notices if "vertices" in notice]
    assert notice == (
        "roads.gpkg: 1 feature with neighbouring vertices more than 20 km apart (such as feature 5, 30 km), used as "
        "drawn. Correct the coordinates if one of them is wrong."
    )


@pytest.mark.parametrize("ids", [["\u0661\u0660", "\u0662"], ["\uff12", "\uff11\uff10"]])
def test_ids_in_other_digits_are_sorted_as_text(ids):
    segments, _ = _read([_line(0), _line(10)], segment_id=ids)
    assert segments["segment_id"].tolist() == sorted(ids)
