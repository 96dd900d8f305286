"""A file that ends too early is refused, wherever it ends; that the town is sound before is among the tests of the run."""

import pytest

from tests.spoiled.town import TOWN, write


@pytest.mark.parametrize(
    ("layer", "file"),
    [
        *(("cores", f"cores.{end}") for end in ("gpkg", "geojson", "fgb", "shp", "parquet", "zip", "xlsx")),
        *(("roads", f"roads.{end}") for end in ("gpkg", "geojson", "fgb", "shp", "parquet", "zip")),
        *(("districts", f"districts.{end}") for end in ("gpkg", "geojson", "fgb", "shp", "zip")),
    ],
)
def test_a_file_cut_short_is_refused_wherever_it_is_cut(town, layer, file):
    path = town.folder / file
    if not file.endswith("gpkg"):
        town.use(layer, file, 'crs = "EPSG:32617"' if file.endswith("xlsx") else "")
        write(TOWN[layer], path)
    complete = path.read_bytes()
    assert town.check()[0] == 0
    # nothing, the header, the middle, the last byte that counts: a GeoJSON is complete without the blank at its end
    length = len(complete.rstrip())
    for cut in (0, 100, length // 2, length - 20, length - 1):
        path.write_bytes(complete[:cut])
        town.refuses(3, file)


def test_a_flatgeobuf_that_ends_between_two_features_is_cut_short_too(town):
    """Without a spatial index each feature follows its length, so that its end can be found by counting."""
    town.use("roads", "roads.fgb")
    TOWN["roads"].to_file(town.folder / "roads.fgb", SPATIAL_INDEX="NO")
    complete = (town.folder / "roads.fgb").read_bytes()
    # eight bytes of magic, then the length of the header and the header
    end = 12 + int.from_bytes(complete[8:12], "little")
    for _ in range(40):
        end += 4 + int.from_bytes(complete[end : end + 4], "little")
    assert end < len(complete)
    (town.folder / "roads.fgb").write_bytes(complete[:end])
    town.refuses(3, "roads.fgb")


@pytest.mark.parametrize("end", [".dbf", ".shx"])
def test_a_shapefile_whose_companion_is_cut_short_is_refused(town, end):
    town.use("roads", "roads.shp")
    write(TOWN["roads"], town.folder / "roads.shp")
    companion = (town.folder / "roads.shp").with_suffix(end)
    companion.write_bytes(companion.read_bytes()[: companion.stat().st_size // 2])
    town.refuses(3, "roads.shp")
