"""A programme's inputs read together: order, CRS, notices, files and credits."""

import geopandas as gpd
import pandas as pd
import pytest
import shapely

from pipeline.errors import InputError, SettingsError
from pipeline.intake import read_inputs
from pipeline.intake.files.checksums import fingerprint
from pipeline.programme.catalogue import load_catalogue
from pipeline.programme.settings import load_programme

_CATALOGUE = load_catalogue({}, "test")
# a corner of zone 17, on open water
_EAST, _NORTH = 404000, 4961000
_PROGRAMME = """
[programme]
name = "Town"
[cores]
path = "cores.csv"
x = "east"
y = "north"
crs = "EPSG:32617"
[roads]
path = "roads.parquet"
"""


def _line(y):
    return shapely.LineString([(_EAST, _NORTH + y), (_EAST + 1000, _NORTH + y)])


def _box(west, south, east, north):
    return shapely.box(_EAST + west, _NORTH + south, _EAST + east, _NORTH + north)


def _write(folder, name, geometry, crs=32617, **columns):
    frame = gpd.GeoDataFrame(
        {key: pd.Series(cells, dtype="str") for key, cells in columns.items()}, geometry=geometry, crs=32617
    )
    frame.to_crs(crs).to_parquet(folder / f"{name}.parquet")


@pytest.fixture
def town(tmp_path):
    _write(tmp_path, "roads", [_line(0), _line(50)], segment_id=["A", "B"], street=["Quay", "Mill Road"])
    (tmp_path / "cores.csv").write_text(
        "core_id,east,north,diameter,depth,cut\n"
        f"1,{_EAST + 10},{_NORTH + 2},450 mm,200 mm,2026-09-01\n2,,,18 in,8 in,2026-09-02\n",
        encoding="utf-8",
    )
    return tmp_path


def _read(folder, more="", announce=lambda *_: None, start=_PROGRAMME):
    (folder / "programme.toml").write_text(start + more, encoding="utf-8")
    return read_inputs(load_programme(folder / "programme.toml"), folder, _CATALOGUE, announce)


def test_the_least_programme_has_cores_and_segments_in_the_zone_of_its_cores(town):
    inputs = _read(town)
    assert inputs.crs.to_epsg() == 32617
    assert inputs.cores["x_m"].tolist()[0] == pytest.approx(_EAST + 10, abs=1e-6)
    assert inputs.cores["x_m"].isna().tolist() == [False, True]
    assert inputs.segments["segment_id"].tolist() == ["A", "B"]
    layers = (inputs.surfaces, inputs.districts, inputs.joints, inputs.resurfaced, inputs.planned_works, inputs.stock)
    assert layers == (None,) * 6
    assert (inputs.notices, inputs.credits) == ([], [])


def test_the_zone_is_that_of_the_roads_however_many_positions_are_wrong(town):
    rows = [f"{number},10,50,450 mm,200 mm,2026-09-01" for number in range(6)]
    good = [f"{number},-82.21,44.79,450 mm,200 mm,2026-09-01" for number in range(6, 10)]
    text = "\n".join(["core_id,east,north,diameter,depth,cut", *rows, *good])
    (town / "cores.csv").write_text(text, encoding="utf-8")
    inputs = _read(town, start=_PROGRAMME.replace('"EPSG:32617"', '"EPSG:4326"'))
    assert inputs.crs.to_epsg() == 32617
    # 1.2 degrees from the central meridian and 45 degrees north the scale is 0.9996 (1 + 0.00011)
    assert inputs.stretch == pytest.approx(0.0004, abs=2e-4)


def test_every_layer_comes_in_the_crs_of_the_run(town):
    _write(town, "surfaces", [_box(0, 0, 99, 9)], 4326, surface=["asphalt"])
    _write(town, "districts", [_box(0, 0, 999, 99)], 4326, district=["Quay"])
    _write(town, "joints", [_box(0, 0, 4, 5)], 4326)
    _write(town, "done", [_box(0, 0, 99, 9)], 4326, resurfaced_on=["2024-05-01"])
    _write(town, "due", [_line(0)], 4326, due_on=["2027-05-01"])
    (town / "stock.csv").write_text("yard,item,packs\nQuay,grout dark,12\n", encoding="utf-8")
    inputs = _read(
        town,
        '[surfaces]\npath = "surfaces.parquet"\n[districts]\npath = "districts.parquet"\n[joints]\npath = "joints.parquet"\n'
        '[resurfaced]\npath = "done.parquet"\n[planned_works]\npath = "due.parquet"\n[orders.stock]\npath = "stock.csv"\n',
    )
    assert inputs.surfaces.area.tolist() == pytest.approx([891], rel=1e-6)
    assert inputs.districts.area.tolist() == pytest.approx([98901], rel=1e-6)
    assert inputs.joints.length.tolist() == pytest.approx([18], rel=1e-6)
    assert inputs.resurfaced["on"].dt.year.tolist() == [2024]
    assert inputs.planned_works["on"].dt.year.tolist() == [2027]
    assert inputs.stock["packs"].tolist() == [12]
    assert [file.section for file in inputs.files] == [
        "cores", "roads", "surfaces", "districts", "joints", "resurfaced", "planned_works", "stock",
    ]  # fmt: skip


def test_a_file_is_recorded_with_its_checksum_its_rows_and_its_crs(town):
    inputs = _read(town, "where = \"segment_id = 'A'\"\n")
    cores, roads = inputs.files
    assert (cores.path, cores.rows, cores.rows_in_file, cores.crs) == ("cores.csv", 2, 2, "EPSG:32617")
    assert (roads.path, roads.rows, roads.rows_in_file, roads.accuracy_m) == ("roads.parquet", 1, 2, 0)
    assert roads.sha256 == fingerprint(town / "roads.parquet")


def test_each_file_is_announced_before_it_is_read_and_each_layer_before_it_is_laid_out(town):
    _write(town, "districts", [_box(0, 0, 999, 99)], district=["Quay"])
    said: list[tuple[str, int, int, str]] = []
    _read(town, '[districts]\npath = "districts.parquet"\n', lambda *told: said.append(told))
    assert said == [
        ("roads.parquet", 0, 3, "files"),
        ("cores.csv", 1, 3, "files"),
        ("positions and copies of cores",),
        ("districts.parquet", 2, 3, "files"),
        ("shapes of roads.parquet", 0, 3, "shapes"),
        ("shapes of districts.parquet", 2, 3, "shapes"),
        ("names that match nothing",),
    ]


def test_notices_come_in_the_order_of_the_files(town):
    (town / "cores.csv").write_text(
        f"core_id,core_id,east,north,diameter,depth\n1,x,{_EAST + 10},{_NORTH + 2},450 mm,200 mm\n", encoding="utf-8"
    )
    _write(town, "districts", [_box(0, 0, 9, 9), _box(9, 0, 99, 9)], district=["Quay", None])
    _write(town, "roads", [_line(0), shapely.Point(_EAST, _NORTH)], segment_id=["A", "B"])
    notices = _read(town, '[districts]\npath = "districts.parquet"\n').notices
    assert [notice.split(":")[0] for notice in notices] == ["cores.csv", "roads.parquet", "districts.parquet"]
    assert "column 2 has the name of an earlier column, 'core_id'; it is read as 'core_id.2'" in notices[0]


def test_a_transformation_that_is_metres_off_is_reported(town):
    """The North American datum of 1927 needs a grid; without it the accuracy is metres."""
    _write(town, "roads", [_line(0)], 26717, segment_id=["A"])
    (notice,) = _read(town).notices
    assert notice.startswith("roads.parquet: transformed from EPSG:26717 to EPSG:32617 to within ")
    assert notice.endswith(" m.")


def test_a_column_that_is_named_has_to_be_there_even_if_nothing_uses_it(town):
    with pytest.raises(
        InputError, match=r"^roads\.parquet: no column 'lvl' for `level`; .*Correct roads\.columns\.level"
    ):
        _read(town, 'columns = { level = "lvl" }\n')


def test_a_layer_elsewhere_is_refused(town):
    _write(town, "districts", [_box(90000, 0, 90999, 99)], district=["Quay"])
    with pytest.raises(InputError, match=r"^districts\.parquet: does not overlap the roads"):
        _read(town, '[districts]\npath = "districts.parquet"\n')


def test_roads_in_degrees_that_say_metres_are_told_by_their_own_crs(town):
    """The road layer's own CRS is used, so that roads.crs is no cure."""
    roads = gpd.read_parquet(town / "roads.parquet")
    roads.to_crs(4326).set_crs(32617, allow_override=True).to_parquet(town / "roads.parquet")
    for more in ("", 'crs = "EPSG:4326"\n'):
        with pytest.raises(InputError) as told:
            _read(town, more)
        assert "no core lies near the roads" in str(told.value)
        assert "The CRS of the roads is EPSG:32617, as its file says, and their coordinates extend from -82.2" in str(
            told.value
        )
        assert "export the file again with the right one" in str(told.value)


_NOTHING = '{"type": "FeatureCollection", "features": []}'


@pytest.mark.parametrize("kind", ["geojson", "gpkg", "parquet"])
def test_planned_works_without_rows_are_no_works_and_are_told(town, kind):
    path = town / f"planned.{kind}"
    if kind == "geojson":
        path.write_text(_NOTHING, encoding="utf-8")
    else:
        empty = gpd.GeoDataFrame({"due": []}, geometry=[], crs=32617)
        empty.to_parquet(path) if kind == "parquet" else empty.to_file(path)
    found = _read(town, f'[planned_works]\npath = "{path.name}"\ncolumns = {{ due_on = "due" }}\n')
    assert len(found.planned_works) == 0
    assert found.planned_works.crs == found.crs
    assert f"{path.name}: has no rows, so that no works are planned anywhere." in found.notices
    (file,) = (one for one in found.files if one.section == "planned_works")
    assert (file.rows, file.sha256) == (0, fingerprint(path))
    # no rows are not works elsewhere either
    assert not any("transformed" in notice for notice in found.notices)


@pytest.mark.parametrize("section", ["surfaces", "districts", "joints", "resurfaced", "protected"])
def test_any_other_layer_without_rows_is_refused(town, section):
    (town / "nothing.geojson").write_text(_NOTHING, encoding="utf-8")
    with pytest.raises(InputError, match=rf"^nothing\.geojson: the layer has no features\..*or remove \[{section}\]\."):
        _read(town, f'[{section}]\npath = "nothing.geojson"\n')


def test_a_condition_that_selects_no_planned_works_is_refused(town):
    """It may be mistyped."""
    _write(town, "planned", [_line(0)], due_on=["2026-10-01"])
    with pytest.raises(InputError, match=r"planned_works\.where = .* selects none of its 1 feature"):
        _read(town, '[planned_works]\npath = "planned.parquet"\nwhere = "due_on = \'never\'"\n')


def test_credits_are_those_of_the_programme_each_once_and_of_openstreetmap_by_itself(town):
    assert _read(town, 'attribution = "Town survey"\n').credits == ["Town survey"]
    (town / "roads.osm").write_text(
        '<?xml version="1.0"?><osm version="0.6"><node id="1" lat="44.8" lon="-82.2130" version="1"/>'
        '<node id="2" lat="44.8" lon="-82.2" version="1"/><way id="9" version="1"><nd ref="1"/><nd ref="2"/>'
        '<tag k="highway" v="residential"/></way></osm>',
        encoding="utf-8",
    )
    start = _PROGRAMME.replace('"roads.parquet"', '"roads.osm"\nlayer = "lines"')
    assert _read(town, start=start).credits == ["© OpenStreetMap contributors, ODbL"]


def test_a_run_cannot_be_measured_in_a_zone_on_the_other_side_of_the_earth(town):
    start = _PROGRAMME.replace('name = "Town"', 'name = "Town"\ncrs = "EPSG:32650"')
    with pytest.raises((InputError, SettingsError), match=r"programme\.crs"):
        _read(town, start=start)
