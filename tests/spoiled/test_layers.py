"""A map layer that is missing, empty, misplaced or mislabelled is refused, with the setting that would mend it."""

import os
import zipfile

import pytest
import shapely

from tests.spoiled.town import TOWN


@pytest.mark.parametrize("section", ["cores", "roads", "districts"])
def test_a_missing_file_is_named(town, section):
    town.use(section, "nowhere.gpkg")
    town.refuses(3, "nowhere.gpkg", "no such file", f"{section}.path")


@pytest.mark.parametrize("section", ["cores", "roads", "districts"])
@pytest.mark.parametrize("end", ["gpkg", "shp", "parquet", "geojson"])
def test_a_layer_without_features_is_refused(town, section, end):
    path = town.use(section, f"empty.{end}")
    layer = TOWN[section].iloc[:0]
    if end == "parquet":
        layer.to_parquet(path)
    elif end == "geojson":
        path.write_text('{"type": "FeatureCollection", "features": []}', encoding="utf-8")
    else:
        kind = {"cores": "Point", "roads": "LineString", "districts": "Polygon"}[section]
        layer.to_file(path, geometry_type=kind)
    town.refuses(3, f"empty.{end}")


@pytest.mark.parametrize("section", ["cores", "roads", "districts"])
def test_a_layer_with_a_condition_that_no_feature_meets_is_refused(town, section):
    town.use(section, f"{section}.gpkg", 'where = "1 = 2"')
    town.refuses(3, f"{section}.where = '1 = 2'")


@pytest.mark.parametrize("condition", ["no_such_column = 1", "segment_id LIKE", "DROP TABLE roads"])
def test_a_condition_that_cannot_be_evaluated_is_refused(town, condition):
    town.use("roads", "roads.gpkg", f'where = "{condition}"')
    town.refuses((2, 3), "roads.where", condition)


@pytest.mark.parametrize(
    ("old", "new", "words"),
    [
        ('segment_id = "segment_id"', 'segment_id = "nr"', ["roads.gpkg", "'nr'", "segment_id, surface", "roads.columns.segment_id"]),
        ('district = "district"', 'district = "name"', ["districts.gpkg", "'name'", "districts.columns.district"]),
        ('"cores.gpkg"', '"cores.gpkg"\nlayer = "other"', ["no layer 'other'", "cores.layer"]),
        ('"roads.gpkg"', '"districts.gpkg"', ["districts.gpkg"]),
        ('"districts.gpkg"', '"roads.gpkg"', ["roads.gpkg"]),
        ('"cores.gpkg"', '"districts.gpkg"\ncolumns = { core_id = "district", diameter = "district", depth = "district" }', ["no points"]),
        ('"roads.gpkg"', '"."', ["this is a folder", "roads.path"]),
    ],
)  # fmt: skip
def test_the_wrong_layer_or_column_is_refused(town, old, new, words):
    town.change(old, new)
    town.refuses(3, *words)


@pytest.mark.parametrize("section", ["cores", "roads", "districts"])
def test_a_layer_without_a_crs_is_refused_by_its_key(town, section):
    path = town.use(section, "bare.shp")
    TOWN[section].to_file(path)
    path.with_suffix(".prj").unlink()
    town.refuses(3, "bare.shp", "declares no CRS", f"Set {section}.crs")


@pytest.mark.parametrize("section", ["cores", "roads", "districts"])
def test_a_layer_of_another_place_is_refused(town, section):
    path = town.use(section, "far.gpkg")
    layer = TOWN[section]
    layer.set_geometry(layer.translate(300_000, 0)).to_file(path)
    printed = town.refuses(3)
    assert "near the roads" in printed or "overlap the roads" in printed


@pytest.mark.parametrize("section", ["cores", "roads", "districts"])
def test_metres_labelled_degrees_are_refused(town, section):
    path = town.use(section, "wrong.gpkg")
    TOWN[section].set_crs(4326, allow_override=True).to_file(path)
    town.refuses(3, "wrong.gpkg", "EPSG:4326", f"{section}.crs")


@pytest.mark.parametrize("east", [-5_000_000, 1_500_000])
def test_a_road_that_is_too_far_from_all_others_is_named(town, east):
    path = town.use("roads", "slip.gpkg")
    layer = TOWN["roads"].copy()
    first, (x, y) = layer.geometry[40].coords
    layer.loc[40, "geometry"] = shapely.LineString([first, (x + east, y)])
    layer.to_file(path)
    town.refuses(3, "the roads extend from", "Feature 41 of slip.gpkg (", "lies furthest from the others")


def test_an_archive_with_two_map_files_is_refused(town):
    path = town.use("roads", "roads.zip")
    with zipfile.ZipFile(path, "w") as archive:
        archive.write(town.folder / "roads.gpkg", "a.gpkg")
        archive.write(town.folder / "roads.gpkg", "b.gpkg")
    town.refuses(3, "roads.zip", "2 map files (a.gpkg, b.gpkg)")


@pytest.mark.parametrize("name", ["link.geojson", "link.gpkg", "link.zip", "link.vrt"])
def test_a_link_to_other_data_is_refused_whatever_it_is_called(town, name):
    path = town.use("roads", name)
    roads = (town.folder / "roads.gpkg").as_posix()
    link = f"<OGRVRTDataSource><OGRVRTLayer name='roads'><SrcDataSource>{roads}</SrcDataSource></OGRVRTLayer></OGRVRTDataSource>"
    if path.suffix == ".zip":
        with zipfile.ZipFile(path, "w") as archive:
            archive.writestr("roads.gpkg", link)
    else:
        path.write_text(link, encoding="utf-8")
    town.refuses(3, name, "this is a link to other data, not data")


@pytest.mark.parametrize("path", ["/vsicurl/https://roads.test/roads.gpkg", "PG:host=roads.test"])
def test_an_address_is_refused(town, path):
    town.use("roads", path)
    town.refuses(3, path, "expected the path of a file on this computer", "roads.path")


def test_an_address_that_could_be_read_names_the_option(town):
    town.use("roads", "https://roads.test/roads.gpkg")
    town.refuses(3, "https://roads.test/roads.gpkg", "Add --allow-remote to the command", "roads.path")


def test_a_pipe_is_refused_and_not_waited_for(town):
    os.mkfifo(town.use("roads", "roads.fgb"))
    town.refuses(3, "roads.fgb", "this is a pipe")


def test_a_check_leaves_nothing_beside_the_inputs(town):
    TOWN["roads"].to_file(town.use("roads", "roads.gml"))
    (town.folder / "roads.xsd").unlink()
    before = {file.name for file in town.folder.iterdir()} | {"programme.toml"}
    assert town.check()[0] == 0
    assert {file.name for file in town.folder.iterdir()} == before
