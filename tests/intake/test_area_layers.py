"""Surface polygons and districts from a layer."""

import numpy as np
import pandas as pd
import pytest
import shapely
from pyproj import CRS

from pipeline.errors import InputError
from pipeline.intake.area_layers import as_districts, as_surfaces
from pipeline.intake.files.tables import RawTable
from pipeline.intake.placed_layer import place_layer
from pipeline.programme.catalogue import load_catalogue
from pipeline.programme.settings import Layer

_CATALOGUE = load_catalogue({}, "test")
_CRS = CRS.from_epsg(32617)
_EAST, _NORTH = 404000, 4961000
# two triangles that meet in a point, drawn as one ring
_BOW_TIE = shapely.Polygon([(_EAST, _NORTH), (_EAST + 10, _NORTH + 10), (_EAST + 10, _NORTH), (_EAST, _NORTH + 10)])


def _box(west, south, east, north):
    return shapely.box(_EAST + west, _NORTH + south, _EAST + east, _NORTH + north)


def _layer(name, geometry, **columns):
    frame = pd.DataFrame(
        {key: pd.Series(cells, dtype="str") for key, cells in columns.items()}, index=range(len(geometry))
    )
    table = RawTable(
        frame, np.arange(1, len(geometry) + 1), len(geometry), f"{name}.gpkg", np.array(geometry, dtype=object), _CRS
    )
    return place_layer(table, Layer(path=f"{name}.gpkg"), name, ("Polygon", "MultiPolygon"))


def _surfaces(geometry, names):
    layer = _layer("surfaces", geometry, surface=names)
    return as_surfaces(layer, _CATALOGUE, _CRS), layer.table.notices


def test_surfaces_come_smallest_first_by_their_catalogue_names():
    frame, notices = _surfaces([_box(0, 0, 9, 9), _box(1, 1, 2, 2), _box(0, 0, 5, 5)], ["tarmac", "sett", "PCC"])
    assert frame["surface"].tolist() == ["block paving", "concrete", "asphalt"]
    assert frame.area.tolist() == pytest.approx([1, 25, 81])
    assert notices == []


def test_polygons_of_the_same_size_have_an_order_of_their_own():
    boxes, names = [_box(0, 0, 5, 5), _box(7, 0, 12, 5), _box(20, 0, 25, 5)], ["pcc", "asphalt", "asphalt"]
    there, _ = _surfaces(boxes, names)
    back, _ = _surfaces(boxes[::-1], names[::-1])
    assert there["surface"].tolist() == ["asphalt", "asphalt", "concrete"]
    assert there.geometry.tolist() == back.geometry.tolist()


def test_polygons_of_no_known_surface_are_left_out_and_none_at_all_is_reported():
    frame, _ = _surfaces([_box(0, 0, 9, 9), _box(1, 1, 2, 2)], [None, "asphalt"])
    assert frame["surface"].tolist() == ["asphalt"]
    frame, notices = _surfaces([_box(0, 0, 9, 9)], ["unknown"])
    assert frame.empty
    assert notices == ["surfaces.gpkg: no polygon has a known surface; the surfaces of the road segments are used."]


def test_an_invalid_polygon_is_repaired_and_reported():
    frame, notices = _surfaces([_BOW_TIE], ["asphalt"])
    assert shapely.is_valid(frame.geometry.array).all()
    # two triangles of 10 m by 5 m
    assert frame.area.tolist() == pytest.approx([50])
    assert notices == ["surfaces.gpkg: 1 invalid polygon repaired."]


def _districts(geometry, **columns):
    layer = _layer("districts", geometry, **columns)
    return as_districts(layer, _CRS), layer.table.notices


def test_districts_are_sorted_and_polygons_of_one_name_merged():
    frame, _ = _districts(
        [_box(0, 0, 9, 9), _box(20, 0, 29, 9), _box(9, 0, 18, 9)], district=["Quay", "Abbey", "Quay "]
    )
    assert frame["district"].tolist() == ["Abbey", "Quay"]
    assert frame.area.tolist() == pytest.approx([81, 162])
    assert list(frame) == ["district", "geometry"]


def test_polygons_without_a_name_are_ignored_and_counted():
    frame, notices = _districts([_box(0, 0, 9, 9), _box(20, 0, 29, 9), _BOW_TIE], district=["Quay", " ", None])
    assert frame["district"].tolist() == ["Quay"]
    assert notices[0] == "districts.gpkg: 2 polygons without a district ignored."


def test_a_layer_without_the_column_or_without_a_name_is_refused():
    with pytest.raises(
        InputError, match=r"^districts\.gpkg: no column for `district`; the file has: nr\. Set districts"
    ):
        _districts([_box(0, 0, 9, 9)], nr=["1"])
    with pytest.raises(
        InputError, match=r"^districts\.gpkg: every polygon's `district` is blank; .*districts\.columns"
    ):
        _districts([_box(0, 0, 9, 9)], district=[None])


def test_a_district_called_as_cores_outside_every_district_are_is_refused():
    with pytest.raises(InputError, match=r'^districts\.gpkg: `district` holds "\(no district\)", .* Rename it'):
        _districts([_box(0, 0, 9, 9), _box(9, 0, 18, 9)], district=["North", "(no district)"])
    # blanks around a name do not count, and another name that begins so is one
    with pytest.raises(InputError, match="Rename it"):
        _districts([_box(0, 0, 9, 9)], district=[" (no district) "])
    frame, _ = _districts([_box(0, 0, 9, 9)], district=["(no district) 2"])
    assert frame["district"].tolist() == ["(no district) 2"]


_FLAT = shapely.Polygon([(_EAST, _NORTH), (_EAST + 9, _NORTH), (_EAST, _NORTH)])


def test_areas_without_an_area_are_ignored_and_said_and_a_layer_of_nothing_else_is_refused():
    frame, notices = _surfaces([_FLAT, _box(0, 0, 1, 1)], ["asphalt", "asphalt"])
    assert len(frame) == 1
    assert "surfaces.gpkg: 1 polygon without an area ignored." in notices
    layer = _layer("districts", [_FLAT, _box(0, 0, 1, 1)], district=["West", "East"])
    assert as_districts(layer, _CRS)["district"].tolist() == ["East"]
    with pytest.raises(InputError, match=r"districts\.gpkg: no polygon has an area in"):
        as_districts(_layer("districts", [_FLAT] * 2, district=["West", "East"]), _CRS)
