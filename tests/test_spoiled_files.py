"""Files that cannot be used: an exit code, one sentence that says what to do, and nothing left behind."""

import shutil
import subprocess
import sys
import zipfile
from itertools import pairwise
from pathlib import Path

import geopandas as gpd
import numpy as np
import pandas as pd
import pytest
import shapely

from pipeline import cli

ROOT = Path(__file__).parents[1]
EAST, NORTH = 478_000, 4_963_000
# a street in 60 segments of 20 m, 300 cores on it, two districts: large enough that a file of it can be cut in many places
COUNT = 300
PROGRAMME = """
[programme]
name = "Town"
as_of = 2026-09-30
[cores]
path = "cores.gpkg"
[roads]
path = "roads.gpkg"
columns = { segment_id = "segment_id" }
[districts]
path = "districts.gpkg"
columns = { district = "district" }
"""


def _town():
    x = EAST + np.linspace(1, 1199, COUNT)
    cores = {"core_id": [f"C{place}" for place in range(COUNT)], "diameter": "450 mm", "depth": "8 in"}
    corners = [(EAST + 20 * place, NORTH) for place in range(61)]
    streets = [shapely.LineString(ends) for ends in pairwise(corners)]
    halves = [
        shapely.box(EAST - 50, NORTH - 500, EAST + 600, NORTH + 500),
        shapely.box(EAST + 600, NORTH - 500, EAST + 1250, NORTH + 500),
    ]
    segments = {"segment_id": [str(place) for place in range(60)], "surface": "asphalt"}
    return {
        "cores": gpd.GeoDataFrame(cores, geometry=gpd.points_from_xy(x, np.full(COUNT, NORTH + 2.0)), crs=32617),
        "roads": gpd.GeoDataFrame(segments, geometry=streets, crs=32617),
        "districts": gpd.GeoDataFrame({"district": ["West", "East"]}, geometry=halves, crs=32617),
    }


TOWN = _town()


def _write(layer, path):
    if path.suffix == ".parquet":
        layer.to_parquet(path)
    elif path.suffix in {".csv", ".xlsx"}:
        table = pd.DataFrame(layer.drop(columns="geometry")).assign(x=layer.geometry.x, y=layer.geometry.y)
        if path.suffix == ".csv":
            table.to_csv(path, index=False)
        else:
            table.to_excel(path, index=False, engine="xlsxwriter")
    elif path.suffix == ".zip":
        shapefile = path.parent / f"{path.stem}_unpacked"
        shapefile.mkdir()
        layer.to_file(shapefile / "layer.shp")
        with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED) as archive:
            for file in sorted(shapefile.iterdir()):
                archive.write(file, f"folder/{file.name}")
    else:
        (layer.to_crs(4326) if path.suffix == ".geojson" else layer).to_file(path)


class Town:
    """A sound programme in a folder, to be spoiled."""

    def __init__(self, folder, capsys, monkeypatch):
        self.folder, self._capsys, self._monkeypatch = folder, capsys, monkeypatch
        self.programme = PROGRAMME

    def change(self, old, new):
        assert old in self.programme
        self.programme = self.programme.replace(old, new, 1)

    def use(self, name, file, keys=""):
        """Give a section another file and, behind its path, more keys."""
        self.change(f'"{name}.gpkg"', f'"{file}"\n{keys}')
        return self.folder / file

    def check(self):
        """Read the inputs only; return the exit code and what it said to stderr."""
        return self.audit(command="check")

    def audit(self, *options, command="audit"):
        """Run the command; return its exit code and what it said to stderr."""
        path = self.folder / "programme.toml"
        path.write_text(self.programme, encoding="utf-8")
        wanted = ["--out", str(self.folder / "out"), "--quiet", *options] if command == "audit" else []
        arguments = ["kerfbook", command, str(path), *wanted]
        self._monkeypatch.setattr(sys, "argv", arguments)
        try:
            cli.main()
        except SystemExit as done:
            return done.code, self._capsys.readouterr().err
        return 0, self._capsys.readouterr().err

    def refuses(self, code, *words):
        found, said = self.audit()
        assert found in ({code} if isinstance(code, int) else code), said
        _is_one_sentence(said)
        for word in words:
            assert word in said
        assert not (self.folder / "out").exists()
        return said


def _is_one_sentence(said):
    assert said.startswith("Error: ")
    assert said.count("Error: ") == 1
    assert said.endswith((".\n", "?\n", '"\n'))
    assert len(said) < 1200
    for trace in ("Traceback", "site-packages", 'File "', "Warning:"):
        assert trace not in said


@pytest.fixture(scope="module")
def layers(tmp_path_factory):
    folder = tmp_path_factory.mktemp("layers")
    for name, layer in TOWN.items():
        layer.to_file(folder / f"{name}.gpkg")
    return folder


@pytest.fixture
def town(layers, tmp_path, capsys, monkeypatch):
    shutil.copytree(layers, tmp_path, dirs_exist_ok=True)
    return Town(tmp_path, capsys, monkeypatch)


def test_the_town_is_sound_before_it_is_spoiled(town):
    code, said = town.audit()
    assert (code, said) == (0, "")
    table = pd.read_csv(town.folder / "out" / "town" / "2026-09-30" / "cores.csv")
    assert len(table) == COUNT
    assert table["status"].eq("pending").all()


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
        _write(TOWN[layer], path)
    whole = path.read_bytes()
    assert town.check()[0] == 0
    # nothing, the header, the middle, the last byte that counts: a GeoJSON is whole without the blank at its end
    length = len(whole.rstrip())
    for cut in (0, 100, length // 2, length - 20, length - 1):
        path.write_bytes(whole[:cut])
        town.refuses(3, file)


def test_a_flatgeobuf_that_ends_between_two_features_is_cut_short_too(town):
    """Without a spatial index each feature stands behind its length, so that its end can be found by counting."""
    town.use("roads", "roads.fgb")
    TOWN["roads"].to_file(town.folder / "roads.fgb", SPATIAL_INDEX="NO")
    whole = (town.folder / "roads.fgb").read_bytes()
    # eight bytes of magic, then the header behind its length
    end = 12 + int.from_bytes(whole[8:12], "little")
    for _ in range(40):
        end += 4 + int.from_bytes(whole[end : end + 4], "little")
    assert end < len(whole)
    (town.folder / "roads.fgb").write_bytes(whole[:end])
    town.refuses(3, "roads.fgb")


@pytest.mark.parametrize("end", [".dbf", ".shx"])
def test_a_shapefile_whose_companion_is_cut_short_is_refused(town, end):
    town.use("roads", "roads.shp")
    _write(TOWN["roads"], town.folder / "roads.shp")
    companion = (town.folder / "roads.shp").with_suffix(end)
    companion.write_bytes(companion.read_bytes()[: companion.stat().st_size // 2])
    town.refuses(3, "roads.shp")


SPOILED = {
    "a picture": b"\x89PNG\r\n\x1a\n" + bytes(range(256)) * 20,
    "an archive": b"PK\x03\x04" + bytes(range(256)) * 20,
    "a database": b"SQLite format 3\x00" + bytes(range(256)) * 20,
    "noise": np.random.default_rng(7).bytes(5000),
    "nulls": bytes(5000),
    "nothing": b"",
    "blank lines": b"\n\r\n  \n",
}


@pytest.mark.parametrize("kind", SPOILED)
@pytest.mark.parametrize("end", ["csv", "gpkg", "xlsx", "parquet", "zip", "geojson", "shp", "fgb"])
def test_a_register_that_is_something_else_is_refused(town, kind, end):
    path = town.use("cores", f"register.{end}", 'crs = "EPSG:32617"')
    path.write_bytes(SPOILED[kind])
    town.refuses(3, f"register.{end}")


@pytest.mark.parametrize("section", ["roads", "districts"])
@pytest.mark.parametrize("kind", ["a picture", "nothing"])
def test_a_layer_that_is_something_else_is_refused(town, section, kind):
    town.use(section, "layer.gpkg").write_bytes(SPOILED[kind])
    town.refuses(3, "layer.gpkg")


def _register(town, text, keys='crs = "EPSG:32617"'):
    town.use("cores", "register.csv", keys).write_text(text, encoding="utf-8")


_HEADER = "core_id,x,y,diameter,depth,cut\n"
_ROW = "A1,478100,4963002,450 mm,200 mm,2026-09-01\n"


@pytest.mark.parametrize(
    ("text", "words"),
    [
        (_HEADER, ["register.csv", "a header and no rows"]),
        ("\ufeff" + _HEADER, ["a header and no rows"]),
        (_ROW * 2, ["register.csv", "no column for `core_id`", "cores.columns.core_id"]),
        (_HEADER.replace("depth", "deep") + _ROW, ["no column for `depth`", "diameter, deep", "cores.columns.depth"]),
        (_HEADER.replace(",x,y", ",a,b") + _ROW, ["for the position", "cores.x"]),
        (
            _HEADER + _ROW.replace(" mm", ""),
            ["'diameter'", "bare numbers such as '450'", 'cores.units = { diameter = "mm" }'],
        ),
        (_HEADER + '"A1' + _ROW * 4, ["quotation mark"]),
        # another town, 100 km off
        (_HEADER + _ROW.replace("4963002", "5063002"), ["no core lies near the roads", "cores.crs"]),
        (_HEADER + _ROW.replace("478100,4963002", ","), ["no core lies near the roads", "1 missing"]),
        (_HEADER + _ROW.replace("478100,4963002", "east,north"), ["no core lies near the roads", "1 unreadable"]),
        (_HEADER + _ROW.replace("478100,4963002", "0,0"), ["no core lies near the roads", "1 zero"]),
    ],
)
def test_a_register_that_says_too_little_is_refused(town, text, words):
    _register(town, text)
    town.refuses(3, *words)


def test_a_register_whose_day_and_month_are_not_settled_is_refused(town):
    keys = 'crs = "EPSG:32617"\ncolumns = { opened_on = "cut" }'
    _register(town, _HEADER + _ROW.replace("2026-09-01", "01/09/2026"), keys)
    town.refuses(3, "'cut'", "'01/09/2026'", "cores.day_first = true or false")


def test_a_table_whose_crs_is_not_said_is_refused(town):
    _register(town, _HEADER + _ROW, "")
    town.refuses(3, "register.csv", "cores.crs")


def test_a_workbook_without_rows_or_without_the_sheet_is_refused(town):
    path = town.use("cores", "register.xlsx", 'crs = "EPSG:32617"')
    pd.DataFrame(columns=["core_id", "x", "y", "diameter", "depth"]).to_excel(path, engine="xlsxwriter", index=False)
    town.refuses(3, "register.xlsx", "a header and no rows")
    town.change('crs = "EPSG:32617"', 'crs = "EPSG:32617"\nlayer = "Cores 2026"')
    town.refuses(3, "no sheet 'Cores 2026'", "Sheet1")


@pytest.mark.parametrize("section", ["cores", "roads", "districts"])
def test_a_file_that_is_not_there_is_named(town, section):
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
def test_a_layer_of_which_a_condition_leaves_nothing_is_refused(town, section):
    town.use(section, f"{section}.gpkg", 'where = "1 = 2"')
    town.refuses(3, f"{section}.where = '1 = 2'")


@pytest.mark.parametrize("condition", ["no_such_column = 1", "segment_id LIKE", "DROP TABLE roads"])
def test_a_condition_that_is_none_is_refused(town, condition):
    town.use("roads", "roads.gpkg", f'where = "{condition}"')
    town.refuses((2, 3), "roads.where", condition)


def test_a_condition_on_a_table_that_is_none_is_refused_by_its_columns(town):
    _register(town, _HEADER + _ROW, 'crs = "EPSG:32617"\nwhere = "no_such_column = 1"')
    town.refuses(2, "cores.where", "no_such_column", "core_id, x, y, diameter, depth, cut")


@pytest.mark.parametrize(
    ("old", "new", "words"),
    [
        ('segment_id = "segment_id"', 'segment_id = "nr"', ["roads.gpkg", "'nr'", "segment_id, surface", "roads.columns.segment_id"]),
        ('district = "district"', 'district = "name"', ["districts.gpkg", "'name'", "districts.columns.district"]),
        ('"cores.gpkg"', '"cores.gpkg"\nlayer = "other"', ["no layer 'other'", "cores.layer"]),
        ('"roads.gpkg"', '"districts.gpkg"', ["districts.gpkg"]),
        ('"districts.gpkg"', '"roads.gpkg"', ["roads.gpkg"]),
        ('"cores.gpkg"', '"districts.gpkg"\ncolumns = { core_id = "district", diameter = "district", depth = "district" }', ["no points"]),
        ('"roads.gpkg"', '"."', ["cannot be read as a map layer"]),
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
    said = town.refuses(3)
    assert "near the roads" in said or "overlap the roads" in said


@pytest.mark.parametrize("section", ["cores", "roads", "districts"])
def test_metres_labelled_degrees_are_refused(town, section):
    path = town.use(section, "wrong.gpkg")
    TOWN[section].set_crs(4326, allow_override=True).to_file(path)
    town.refuses(3, "wrong.gpkg", "EPSG:4326", f"{section}.crs")


def test_two_map_files_in_an_archive_are_one_too_many(town):
    path = town.use("roads", "roads.zip")
    with zipfile.ZipFile(path, "w") as archive:
        archive.write(town.folder / "roads.gpkg", "a.gpkg")
        archive.write(town.folder / "roads.gpkg", "b.gpkg")
    town.refuses(3, "roads.zip", "2 map files (a.gpkg, b.gpkg)")


@pytest.mark.parametrize(
    ("old", "new", "words"),
    [
        ("[roads]", "[raods]", ["roads: missing", "Did you mean"]),
        ('name = "Town"', 'name = "Town"\ncolour = "red"', ["programme.colour", "unknown key"]),
        ('name = "Town"', "name = Town", ["not valid TOML", "line 3"]),
        ("as_of = 2026-09-30", 'as_of = "soon"', ["programme.as_of", "'soon'"]),
        ("as_of = 2026-09-30", 'crs = "EPSG:3857"', ["programme.crs", "Web Mercator"]),
        ("as_of = 2026-09-30", 'crs = "EPSG:4326"', ["programme.crs", "metres"]),
        ("as_of = 2026-09-30", 'crs = "the usual"', ["programme.crs", "'the usual'"]),
        ('"cores.gpkg"', '"cores.gpkg"\ncrs = "here"', ["cores.crs", "'here'"]),
        ('"cores.gpkg"', '"cores.gpkg"\nunits = { diameter = "kg" }', ["cores.units", "'kg'"]),
        ("[districts]", '[matching]\nmax_distance = "15"\n[districts]', ["matching.max_distance", "'15'"]),
        ("[districts]", '[matching]\nmax_distance = "-15 m"\n[districts]', ["matching.max_distance", "-15"]),
        ("[districts]", '[matching]\nmax_distance = "0 m"\n[districts]', ["matching.max_distance", "0"]),
        ("[districts]", '[matching]\nchoose = "best"\n[districts]', ["matching.choose", "'best'"]),
        ("[districts]", '[catalogue.rules.no-such]\nlimit = "1 m"\n[districts]', ["catalogue.rules.no-such"]),
        ("[districts]", '[catalogue.rules.pavement-thin]\nmin_thickness = "1 kg"\n[districts]', ["catalogue.rules.pavement-thin.min_thickness", "'1 kg'"]),
    ],
)  # fmt: skip
def test_a_wrong_setting_is_named_with_its_value(town, old, new, words):
    town.change(old, new)
    town.refuses(2, "programme.toml: ", *words)


@pytest.mark.parametrize("kind", ["not there", "a folder", "not text"])
def test_a_programme_that_is_not_there_or_no_text_is_refused(tmp_path, kind):
    path = tmp_path / "programme.toml"
    if kind == "a folder":
        path.mkdir()
    elif kind == "not text":
        path.write_bytes(b"\xff\xfe[\x00")
    done = _command("audit", path, "--out", tmp_path / "out")
    assert done.returncode == 2
    assert done.stderr.count("Error: ") == 1
    assert "programme.toml" in done.stderr
    assert "Traceback" not in done.stderr
    assert not (tmp_path / "out").exists()


def _command(*arguments):
    """The real command in a process of its own."""
    return subprocess.run(
        [sys.executable, "-m", "pipeline", *arguments], cwd=ROOT, capture_output=True, text=True, check=False
    )


@pytest.mark.parametrize("end", ["gpkg", "csv", "shp", "geojson"])
def test_a_file_that_may_not_be_read_is_refused(town, end, monkeypatch):
    """The system's own refusal, made by hand: the superuser, who runs these tests too, is refused nothing."""
    path = town.use("cores", f"locked.{end}", 'crs = "EPSG:32617"')
    _write(TOWN["cores"], path)
    _forbid(monkeypatch, path, "open", "read_bytes")
    town.refuses(3, f"locked.{end}", "Permission denied")


def test_a_folder_that_may_not_be_entered_is_refused(town, monkeypatch):
    (town.folder / "locked").mkdir()
    path = town.use("cores", "locked/cores.csv", 'crs = "EPSG:32617"')
    _write(TOWN["cores"], path)
    # one may not even ask whether there is such a file
    _forbid(monkeypatch, path, "open", "read_bytes", "stat", "exists", "is_file", "is_dir")
    town.refuses(3, "locked/cores.csv", "Permission denied")


def _forbid(monkeypatch, path, *calls):
    def forbidden(real):
        def call(self, *arguments, **more):
            if self == path:
                raise PermissionError(13, "Permission denied", str(self))
            return real(self, *arguments, **more)

        return call

    for name in calls:
        monkeypatch.setattr(Path, name, forbidden(getattr(Path, name)))


def test_a_folder_that_may_not_be_written_leaves_nothing_behind(town):
    (town.folder / "taken").write_text("a file where a folder is wanted", encoding="utf-8")
    (town.folder / "programme.toml").write_text(PROGRAMME, encoding="utf-8")
    done = _command("audit", town.folder / "programme.toml", "--out", town.folder / "taken" / "out", "--quiet")
    assert done.returncode == 4
    _is_one_sentence(done.stderr)
    assert "--out" in done.stderr


def test_what_went_wrong_is_the_last_line_of_a_log_too(town):
    """Not quiet: the stages, then the error, from the real command."""
    (town.folder / "roads.gpkg").write_bytes((town.folder / "roads.gpkg").read_bytes()[:9000])
    (town.folder / "programme.toml").write_text(PROGRAMME, encoding="utf-8")
    done = _command("audit", town.folder / "programme.toml", "--out", town.folder / "out")
    assert done.returncode == 3
    assert done.stderr.strip().splitlines()[-1].startswith("Error: roads.gpkg: the file is cut short")
    assert done.stdout == ""
    assert not (town.folder / "out").exists()
