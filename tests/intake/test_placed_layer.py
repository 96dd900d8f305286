"""A raw layer with its CRS: which geometries stay, where it lies, and what its columns hold."""

import numpy as np
import pandas as pd
import pytest
import shapely
from pyproj import CRS

from pipeline.errors import InputError
from pipeline.intake import placed_layer
from pipeline.intake.files.tables import RawTable
from pipeline.intake.placed_layer import (
    layer_column,
    place_layer,
    projected,
    refuse_elsewhere,
    refuse_missing_column,
    surface_column,
    within_crs,
)  # fmt: skip
from pipeline.programme.catalogue import load_catalogue
from pipeline.programme.settings import Layer

_CATALOGUE = load_catalogue({}, "test")
_LINES = ("LineString", "MultiLineString")
_LINE = shapely.LineString([(404000, 4961000), (404100, 4961000)])


def _table(geometry, crs=32617, **columns):
    frame = pd.DataFrame(
        {name: pd.Series(cells, dtype="str") for name, cells in columns.items()}, index=range(len(geometry))
    )
    return RawTable(
        frame, np.arange(1, len(geometry) + 1), len(geometry), "roads.gpkg", np.array(geometry, dtype=object),
        None if crs is None else CRS.from_epsg(crs),
    )  # fmt: skip


def _placed(geometry, crs=32617, *, name="roads", kinds=_LINES, mapping=None, own_crs=None, **columns):
    section = Layer(path="roads.gpkg", crs=own_crs, columns=mapping or {})
    return place_layer(_table(geometry, crs, **columns), section, name, kinds)


def test_geometries_of_other_kinds_are_ignored_and_counted_and_rows_keep_their_numbers():
    shapes = [shapely.Point(1, 1), _LINE, None, shapely.LineString(), shapely.MultiLineString([_LINE])]
    layer = _placed(shapes, id=["a", "b", "c", "d", "e"])
    assert layer.table.frame["id"].tolist() == ["b", "e"]
    assert layer.table.rows.tolist() == [2, 5]
    assert layer.table.notices == ["roads.gpkg: 3 features without a line ignored."]
    assert layer.extent == (404000, 4961000, 404100, 4961000)


def test_one_ignored_feature_is_one_feature():
    assert _placed([shapely.Point(1, 1), _LINE]).table.notices == ["roads.gpkg: 1 feature without a line ignored."]


def test_heights_are_dropped():
    layer = _placed([shapely.LineString([(404000, 4961000, 7), (404100, 4961000, 8)])])
    assert not shapely.has_z(layer.table.geometry).any()


def test_a_table_without_geometry_or_a_layer_without_the_kind_is_refused_with_the_key_to_change():
    bare = _table([None])
    bare.geometry = None
    with pytest.raises(InputError, match=r"^roads\.gpkg: a table without geometry; .* Give one in roads\.path\.$"):
        place_layer(bare, Layer(path="roads.gpkg"), "roads", _LINES)
    with pytest.raises(InputError, match=r"^roads\.gpkg: the layer has no lines\. .* roads\.layer\.$"):
        _placed([shapely.Point(1, 1)])


def test_the_crs_of_the_programme_is_used_where_the_layer_has_none():
    assert _placed([_LINE], None, own_crs="EPSG:32617").crs.to_epsg() == 32617
    with pytest.raises(InputError, match=r"Set roads\.crs"):
        _placed([_LINE], None)


def test_a_feature_with_a_coordinate_that_has_no_longitude_is_ignored_and_named():
    """A transverse Mercator ends a quarter of the Earth to the east: there are no 30,000 km of it."""
    astray = shapely.LineString([(404000, 4961000), (3e7, 4961000)])
    layer = _placed([_LINE, astray, _LINE], id=["a", "b", "c"])
    assert layer.table.frame["id"].tolist() == ["a", "c"]
    assert layer.table.rows.tolist() == [1, 3]
    assert layer.extent == (404000, 4961000, 404100, 4961000)
    (notice,) = layer.table.notices
    assert notice == (
        "roads.gpkg: 1 feature with a coordinate that is nowhere on Earth in EPSG:32617 (such as feature 2) ignored. "
        "Correct the coordinates, or the CRS of the layer."
    )
    with pytest.raises(
        InputError,
        match=r"^roads\.gpkg: none of its 1 feature is anywhere on Earth in EPSG:32617\. .* CRS of the layer\.$",
    ):
        _placed([astray])


def test_a_feature_of_too_many_vertices_is_refused_and_named(monkeypatch):
    zigzag = shapely.LineString([(404000 + number % 2, 4961000 + number) for number in range(5)])
    monkeypatch.setattr(placed_layer, "_MOST_VERTICES", 5)
    assert len(_placed([_LINE, zigzag]).table.frame) == 2
    monkeypatch.setattr(placed_layer, "_MOST_VERTICES", 4)
    with pytest.raises(InputError, match=r"^roads\.gpkg: feature 2 has 5 vertices, expected at most 4\. Simplify it"):
        _placed([_LINE, zigzag])


def test_a_crs_that_cannot_be_transformed_is_told_with_the_layer_and_its_key():
    """A degree of no angle: every coordinate is the same."""
    wkt = CRS.from_epsg(32617).to_wkt("WKT1_ESRI").replace("0.0174532925199433]", "0.0]")
    table = _table([_LINE], None)
    table.crs = CRS.from_wkt(wkt)
    with pytest.raises(InputError, match=r"^roads\.gpkg: its CRS \('.*'\) cannot be transformed .* Set roads\.crs to"):
        place_layer(table, Layer(path="roads.gpkg"), "roads", _LINES)


def test_shapes_that_the_crs_of_the_run_cannot_hold_are_told():
    layer = _placed([shapely.LineString([(-81, 44), (-81, 45)]), shapely.LineString([(-81, 90.4), (-81, 90.5)])], 4326)
    assert within_crs(layer, projected(layer, CRS.from_epsg(32617))).tolist() == [True, False]
    (notice,) = layer.table.notices
    assert notice == (
        "roads.gpkg: 1 feature too far from the roads to be placed (such as feature 2), ignored. Correct the "
        "coordinates, or the CRS of the layer."
    )


def test_a_column_is_text_with_blank_cells_missing():
    layer = _placed([_LINE] * 3, mapping={"street": "title"}, title=["Mill Road ", " ", None])
    assert layer_column(layer, "street").fillna("").tolist() == ["Mill Road", "", ""]
    assert layer_column(layer, "surface").isna().all()


def test_a_column_that_is_needed_and_not_there_is_refused_with_the_columns_there_are():
    layer = _placed([_LINE], name="districts", nr=["1"], title=["Quay"])
    with pytest.raises(InputError) as error:
        refuse_missing_column(layer, "district")
    assert str(error.value) == (
        "roads.gpkg: no column for `district`; the file has: nr, title. "
        'Set districts.columns.district = "..." in the programme file.'
    )
    refuse_missing_column(_placed([_LINE], district=["Quay"]), "district")


def test_a_layer_comes_in_another_crs():
    """One degree north of the equator on the middle meridian of zone 17: 110.574 km times the scale 0.9996."""
    layer = _placed([shapely.LineString([(-81, 0), (-81, 1)])], 4326)
    moved = projected(layer, CRS.from_epsg(32617))
    assert shapely.get_coordinates(moved)[:, 0] == pytest.approx([500000, 500000])
    assert shapely.get_coordinates(moved)[:, 1] == pytest.approx([0, 110574.39 * 0.9996], abs=1)
    # the layer itself stays where it was
    assert layer.extent == (-81, 0, -81, 1)


def test_surfaces_not_in_the_catalogue_are_listed_with_how_often_they_come():
    layer = _placed([_LINE] * 5, surface=["asphalt", "cork", "unknown", "cork", None])
    assert surface_column(layer, _CATALOGUE).fillna("").tolist() == ["asphalt", "", "", "", ""]
    (notice,) = layer.table.notices
    assert notice == (
        "roads.gpkg: surfaces not in the catalogue, read as unknown: 'cork' (2). "
        'Add them under catalogue.surfaces, such as catalogue.surfaces.asphalt.aliases = ["..."].'
    )


def test_of_many_unknown_surfaces_ten_are_listed_and_the_rest_counted():
    layer = _placed([_LINE] * 12, surface=[f"cork {letter}" for letter in "abcdefghijkl"])
    surface_column(layer, _CATALOGUE)
    assert "'cork j' (1) and 2 more words. Add" in layer.table.notices[0]


def _box(west, south, east, north, crs=32617, **more):
    ring = shapely.box(west, south, east, north)
    return _placed([ring], crs, kinds=("Polygon",), **more)


def test_a_layer_has_to_overlap_the_roads_in_whatever_crs():
    roads = _box(404000, 4961000, 406000, 4963000)
    refuse_elsewhere(_box(405000, 4962000, 409000, 4969000), roads)
    # around 44.80 north, 82.20 west
    refuse_elsewhere(_box(-82.21, 44.79, -82.19, 44.81, 4326), roads)
    # an edge in common is enough
    refuse_elsewhere(_box(406000, 4961000, 407000, 4963000), roads)


@pytest.mark.parametrize(("east", "north"), [(9000, 0), (-9000, 0), (0, 9000), (0, -9000)])
def test_a_layer_that_does_not_is_refused_with_both_extents(east, north):
    roads = _box(404000, 4961000, 406000, 4963000)
    far = _box(404000 + east, 4961000 + north, 406000 + east, 4963000 + north, name="surfaces")
    with pytest.raises(InputError, match=r"does not overlap the roads .*Check surfaces\.path\. If that CRS is wrong"):
        refuse_elsewhere(far, roads)


@pytest.mark.parametrize("number", [np.nan, np.inf, -np.inf, 1e12, 1e308])
def test_a_shape_with_a_vertex_that_no_place_on_earth_has_is_ignored_and_said(number):
    with np.errstate(invalid="ignore"):
        odd = shapely.LineString([(404000, 4961000), (number, 4961000)])
    layer = _placed([odd, _LINE], id=["a", "b"])
    assert layer.table.frame["id"].tolist() == ["b"]
    assert layer.extent == (404000, 4961000, 404100, 4961000)
    said = "roads.gpkg: 1 feature with a coordinate that is no number, or beyond 1,000,000,000 ignored."
    assert layer.table.notices == [said]
    with pytest.raises(InputError, match=r"roads\.gpkg: 2 features with a coordinate .*, and no other"):
        _placed([odd, odd])
