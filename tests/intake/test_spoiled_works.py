"""Layers of works with dates, shapes and segments that cannot be right."""

from dataclasses import replace

import geopandas as gpd
import numpy as np
import pandas as pd
import pytest
import shapely
from pyproj import CRS

from pipeline.errors import InputError
from pipeline.intake.files.tables import RawTable
from pipeline.intake.placed_layer import place_layer
from pipeline.intake.road_works import as_works, with_known_segments
from pipeline.programme.settings import Layer

_CRS = CRS.from_epsg(32617)
_KINDS = ("LineString", "MultiLineString", "Polygon", "MultiPolygon")
_AREA = shapely.box(404000, 4961000, 404010, 4961010)


def _layer(name, shapes, crs=_CRS, **columns):
    frame = pd.DataFrame(
        {key: pd.Series(cells, dtype="str") for key, cells in columns.items()}, index=range(len(shapes))
    )
    table = RawTable(
        frame, np.arange(1, len(shapes) + 1), len(shapes), "works.gpkg", np.array(shapes, dtype=object), crs
    )
    return place_layer(table, Layer(path="works.gpkg"), name, _KINDS)


def _read(layer):
    return as_works(layer, _CRS, "UTC", day_first=None)


@pytest.mark.parametrize(
    ("name", "column"), [("planned_works", "due_on"), ("protected", "until"), ("resurfaced", "resurfaced_on")]
)
def test_a_layer_without_any_readable_day_is_refused_as_it_would_pass_for_no_works(name, column):
    layer = _layer(name, [_AREA] * 2, **{column: [None, "2026-W45"]})
    with pytest.raises(InputError) as error:
        _read(layer)
    assert str(error.value) == (
        f"works.gpkg: none of 2 features has a readable date in `{column}` (such as '2026-W45' in feature 2); expected "
        f"dates such as 2026-09-30. Correct them, or name another column in {name}.columns.{column}."
    )


def test_planned_works_that_end_before_they_begin_have_no_last_day():
    layer = _layer(
        "planned_works",
        [_AREA] * 3,
        due_on=["2026-11-02", "2026-11-02", "2026-11-02"],
        ends_on=["2026-11-03", "2026-11-02", "2026-11-01"],
    )
    assert _read(layer)["until"].dt.day.fillna(0).tolist() == [3, 2, 0]
    assert layer.table.notices == [
        "works.gpkg: 1 feature with `ends_on` before `due_on` (such as feature 3), `ends_on` ignored. Correct the dates."
    ]


def test_a_protection_that_ends_before_it_begins_has_no_first_day():
    layer = _layer("protected", [_AREA], **{"from": ["2030-01-01"], "until": ["2028-01-01"]})
    works = _read(layer)
    assert works["on"].isna().tolist() == [True]
    assert works["until"].dt.year.tolist() == [2028]
    assert layer.table.notices == [
        "works.gpkg: 1 feature with `until` before `from` (such as feature 1), `from` ignored. Correct the dates."
    ]


def test_a_polygon_that_crosses_itself_is_repaired_and_one_without_area_is_ignored():
    """Two triangles that meet at (5, 5), each of 25 m2."""
    bow = shapely.Polygon([(0, 0), (10, 10), (10, 0), (0, 10)])
    sliver = shapely.Polygon([(0, 0), (10, 0), (0, 0)])
    layer = _layer("planned_works", [bow, sliver], due_on=["2026-11-02"] * 2)
    assert _read(layer).area.tolist() == pytest.approx([50])
    assert layer.table.notices == [
        "works.gpkg: 2 invalid polygons repaired.",
        "works.gpkg: 1 feature whose polygon has no area (such as feature 2), ignored. Draw the polygon again.",
    ]


def test_works_on_the_other_side_of_the_earth_are_ignored_and_reported():
    shapes = [shapely.box(-81, 44, -80.9, 44.1), shapely.box(9, 0, 9.1, 0.1)]
    layer = _layer("planned_works", shapes, CRS.from_epsg(4326), due_on=["2026-11-02"] * 2)
    assert _read(layer)["feature"].tolist() == [1]
    assert layer.table.notices == [
        (
            "works.gpkg: 1 feature too far from the roads to be placed (such as feature 2), ignored. "
            "Correct the coordinates, or the CRS of the layer."
        )
    ]


def test_works_that_name_a_segment_the_roads_do_not_have_apply_where_they_are_drawn():
    layer = _layer("planned_works", [_AREA] * 3, due_on=["2026-11-02"] * 3, segment_id=["S1", "S9", None])
    segments = gpd.GeoDataFrame({"segment_id": ["S1"]}, geometry=[shapely.LineString([(0, 0), (1, 0)])], crs=_CRS)
    works = with_known_segments(_read(layer), layer, segments)
    assert works["segment_id"].fillna("").tolist() == ["S1", "", ""]
    assert layer.table.notices == [
        (
            "works.gpkg: 1 feature with a `segment_id` that is not in the roads (such as 'S9' in feature 2), used where "
            "drawn. Correct the id."
        )
    ]


def test_a_layer_of_points_is_refused_by_what_works_may_be_drawn_as():
    with pytest.raises(InputError, match=r"^works\.gpkg: the layer has no lines or polygons\. Give one"):
        _layer("planned_works", [shapely.Point(404000, 4961000)], due_on=["2026-11-02"])


def test_points_among_works_are_ignored_and_counted():
    layer = _layer("planned_works", [shapely.Point(404000, 4961000), _AREA, None], due_on=["2026-11-02"] * 3)
    assert _read(replace(layer))["feature"].tolist() == [2]
    assert layer.table.notices == ["works.gpkg: 2 features without a line or polygon ignored."]
