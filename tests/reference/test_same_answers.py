"""The same cores in every form that a register or a layer may take, with the same answers, worked by hand.

Source: a street drawn here. It runs due east from (478 000, 4 963 000) in UTM zone 17 in five segments of 100 m, ids 1 to
5, of which 1 to 3 lie in West and the others in East. Core n of ten lies 50 n - 20 m along it and n m beside it, odd ones
to the left and even ones to the right.
"""

import datetime as dt
import zipfile

import geopandas as gpd
import numpy as np
import pandas as pd
import pytest
import shapely

EAST, NORTH, UTM = 478_000, 4_963_000, 32617
NUMBERS = np.arange(1, 11)
ALONG = 50.0 * NUMBERS - 20
SIDEWAYS = np.where(NUMBERS % 2 == 1, 1, -1) * NUMBERS
EXPECTED = pd.DataFrame(
    {
        "core_id": [f"C{number}" for number in NUMBERS],
        "segment_id": (ALONG // 100 + 1).astype(int).astype(str),
        "chainage_m": ALONG % 100,
        "offset_m": NUMBERS.astype(float),
        "side": np.where(SIDEWAYS > 0, "left", "right"),
        "district": np.where(ALONG < 300, "West", "East"),
        "surface": "asphalt",
        "diameter_mm": 450.0,
        "depth_mm": 203.2,
        "opened": "2026-09-05",
        "street_read": "Käthe-Allee",
    }
).set_index("core_id")


def _cores():
    columns = {
        "core_id": EXPECTED.index,
        "diameter": "450 mm",
        "depth": "8 in",
        "cut": "2026-09-05",
        "road": "Käthe-Allee",
    }
    points = gpd.points_from_xy(EAST + ALONG, NORTH + SIDEWAYS)
    return gpd.GeoDataFrame(columns, geometry=points, crs=UTM)


def _table():
    cores = _cores()
    return pd.DataFrame(cores.drop(columns="geometry")).assign(x=cores.geometry.x, y=cores.geometry.y)


def _roads():
    lines = [shapely.LineString([(EAST + 100 * n, NORTH), (EAST + 100 * n + 100, NORTH)]) for n in range(5)]
    return gpd.GeoDataFrame({"segment_id": list("12345"), "surface": "asphalt"}, geometry=lines, crs=UTM)


def _districts():
    halves = [
        shapely.box(EAST - 9, NORTH - 99, EAST + 300, NORTH + 99),
        shapely.box(EAST + 300, NORTH - 99, EAST + 509, NORTH + 99),
    ]
    return gpd.GeoDataFrame({"district": ["West", "East"]}, geometry=halves, crs=UTM)


@pytest.fixture
def answers(place_text, audit_text, tmp_path):
    """Put the cores in their places with one input in another form; check the answers, and return the cores."""

    def run(
        cores="cores.gpkg",
        roads="roads.gpkg",
        districts="districts.gpkg",
        keys="",
        within_m=1e-6,
        surface="asphalt",
        *,
        is_audited=False,
        **more,
    ):
        for file, layer in (("cores.gpkg", _cores()), ("roads.gpkg", _roads()), ("districts.gpkg", _districts())):
            if not (tmp_path / file).exists():
                layer.to_file(tmp_path / file)
        text = (
            f'[programme]\nname = "x"\nas_of = 2026-09-30\ncrs = "EPSG:{UTM}"\n'
            f'[cores]\npath = "{cores}"\ncolumns = {{ opened_on = "cut", street = "road" }}\n{keys}\n'
            f'[roads]\npath = "{roads}"\n[districts]\npath = "{districts}"\n'
        )
        cores = (audit_text if is_audited else place_text)(text, **more).cores
        found = cores.assign(opened=cores["opened_on"].dt.strftime("%Y-%m-%d"), street_read=cores["street"])
        found = found.set_index("core_id").loc[EXPECTED.index]
        for name, expected in EXPECTED.assign(surface=surface).items():
            if expected.dtype == float:
                np.testing.assert_allclose(found[name], expected, atol=within_m, err_msg=name)
            else:
                assert found[name].tolist() == expected.tolist(), name
        return cores

    return run


@pytest.mark.parametrize("end", ["gpkg", "shp", "fgb", "geojson", "parquet", "gml"])
def test_a_register_may_be_any_layer(answers, tmp_path, end):
    cores, path = _cores(), tmp_path / f"register.{end}"
    if end == "parquet":
        cores.to_parquet(path)
    else:
        cores.to_file(path)
    # GeoJSON and GML write coordinates in decimals
    answers(path.name, within_m=1e-3)


def test_a_shapefile_may_lie_in_a_folder_of_an_archive(answers, tmp_path):
    (tmp_path / "unpacked").mkdir()
    _cores().to_file(tmp_path / "unpacked" / "cores.shp")
    with zipfile.ZipFile(tmp_path / "register.zip", "w", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr("__MACOSX/of the crew/._cores.shp", b"no shapefile")
        archive.writestr("of the crew/read me.txt", "Exported on a Friday.")
        for file in (tmp_path / "unpacked").iterdir():
            archive.write(file, f"of the crew/{file.name}")
    answers("register.zip")


def _csv(table, **more):
    return table.to_csv(index=False, **more)


def _with_commas(table):
    return table.assign(
        diameter="0,45 m", x=table["x"].map("{:.3f}".format).str.replace(".", ","), y=table["y"].map("{:.3f}".format).str.replace(".", ",")
    )  # fmt: skip


TEXTS = {
    "plain": lambda table: _csv(table).encode(),
    "with a byte order mark": lambda table: _csv(table).encode("utf-8-sig"),
    "UTF-16": lambda table: _csv(table, sep="\t").encode("utf-16"),
    "semicolons, decimal commas, Windows-1252": lambda table: _csv(_with_commas(table), sep=";").encode("cp1252"),
    "line ends of Windows": lambda table: _csv(table, lineterminator="\r\n").encode(),
    "blank lines": lambda table: _csv(table).replace("\n", "\n\n").encode(),
    "line breaks in cells": lambda table: _csv(table.assign(note='said "no";\nsee next, page')).encode(),
    "stray spaces": lambda table: _csv(table.map(lambda cell: f"  {cell} ")).encode(),
    "local dates": lambda table: _csv(table.assign(cut="05/09/2026")).encode(),
    "rows in another order": lambda table: _csv(table.sample(frac=1, random_state=4)).encode(),
}


@pytest.mark.parametrize("kind", TEXTS)
def test_a_register_may_be_a_text_table_of_many_kinds(answers, tmp_path, kind):
    (tmp_path / "register.csv").write_bytes(TEXTS[kind](_table()))
    assert len(answers("register.csv", keys=f'crs = "EPSG:{UTM}"\nday_first = true')) == 10


@pytest.mark.parametrize("is_bare", [False, True])
def test_a_register_may_be_a_workbook_with_dates_and_blank_rows(answers, tmp_path, is_bare):
    table = _table().assign(cut=dt.date(2026, 9, 5))
    keys = f'crs = "EPSG:{UTM}"'
    if is_bare:
        table = table.assign(diameter=450.0, depth=20.32)
        keys += '\nunits = { diameter = "mm", depth = "cm" }'
    blank = pd.DataFrame([[None] * len(table.columns)], columns=table.columns, dtype=object)
    rows = pd.concat([table.iloc[:4].astype(object), blank, table.iloc[4:].astype(object)])
    rows.to_excel(tmp_path / "register.xlsx", engine="xlsxwriter", index=False, startrow=2)
    assert len(answers("register.xlsx", keys=keys)) == 10


def test_a_table_may_be_parquet_with_typed_columns(answers, tmp_path):
    table = _table().assign(diameter=450, depth=20.32, cut=pd.Timestamp("2026-09-05 14:00", tz="UTC"))
    table.to_parquet(tmp_path / "register.parquet")
    answers("register.parquet", keys=f'crs = "EPSG:{UTM}"\nunits = {{ diameter = "mm", depth = "cm" }}')


def _pieces(roads):
    """Return each segment in two pieces, the farther one first."""
    middle = [shapely.line_interpolate_point(line, 50) for line in roads.geometry]
    pieces = [
        shapely.MultiLineString([[m, line.coords[1]], [line.coords[0], m]]) for m, line in zip(middle, roads.geometry)
    ]
    return roads.set_geometry(gpd.GeoSeries(pieces, crs=UTM))


def _with_nothing(layer):
    more = layer.iloc[[0, 1]].assign(geometry=[None, type(layer.geometry[0])()])
    return pd.concat([layer, gpd.GeoDataFrame(more, crs=UTM)], ignore_index=True)


ROADS = {
    "in another order": lambda roads: roads.sample(frac=1, random_state=1),
    "with whole numbers for ids": lambda roads: roads.astype({"segment_id": "int64"}),
    "in three dimensions": lambda roads: roads.set_geometry(shapely.force_3d(roads.geometry, 7.0)),
    "of several pieces": _pieces,
    "beside features without geometry": _with_nothing,
    "beside a segment of no length": lambda roads: pd.concat(
        [roads, gpd.GeoDataFrame({"segment_id": ["0"]}, geometry=[shapely.LineString([(EAST, NORTH)] * 2)], crs=UTM)]
    ),
    "in the Lambert grid of Ontario": lambda roads: roads.to_crs(3161),
}


@pytest.mark.parametrize("kind", ROADS)
def test_roads_may_come_in_many_forms(answers, tmp_path, kind):
    ROADS[kind](_roads()).to_file(tmp_path / "other.gpkg")
    # over 100 m, a straight line of one projection bends by less than a millimetre in another
    answers(roads="other.gpkg", within_m=2e-3)


def test_chainage_counts_on_after_a_gap_in_a_segment(place_text, tmp_path):
    """One segment of two pieces, 0 to 200 m and 300 to 500 m of the street: its second piece starts at chainage 200.

    Core 7 lies at 330 m of the street, 30 m into the second piece; core 6, at 280 m, is nearest to its start, 20 m on.
    """
    pieces = [[(EAST, NORTH), (EAST + 200, NORTH)], [(EAST + 300, NORTH), (EAST + 500, NORTH)]]
    road = gpd.GeoDataFrame({"segment_id": ["1"]}, geometry=[shapely.MultiLineString(pieces)], crs=UTM)
    road.to_file(tmp_path / "roads.gpkg")
    _cores().to_file(tmp_path / "cores.gpkg")
    cores = place_text(
        f'[programme]\nname = "x"\nas_of = 2026-09-30\ncrs = "EPSG:{UTM}"\n[cores]\npath = "cores.gpkg"\n'
        '[roads]\npath = "roads.gpkg"\n[matching]\nmax_distance = "50 m"\n'
    ).cores
    assert cores["segment_id"].eq("1").all()
    # cores at 30, 80, 130, 180, 230, 280, 330, 380, 430 and 480 m; the one at 230 is nearest to the end at 200
    expected = [30, 80, 130, 180, 200, 200, 230, 280, 330, 380]
    assert cores["chainage_m"].tolist() == pytest.approx(expected, abs=1e-6)
    assert cores["runner_up_id"].isna().all()


@pytest.mark.parametrize("order", [[0, 1, 2], [2, 1, 0], [1, 0, 2]])
def test_a_patch_lies_within_its_street_whatever_the_order_of_the_polygons(answers, tmp_path, order):
    """The street is one polygon; a slab about cores 5 and 6 (230 and 280 m) and, in it, blocks about core 6 alone."""
    polygons = gpd.GeoDataFrame(
        {"surface": ["asphalt", "concrete", "sett"]},
        geometry=[
            shapely.box(EAST, NORTH - 20, EAST + 500, NORTH + 20),
            shapely.box(EAST + 220, NORTH - 15, EAST + 290, NORTH + 15),
            shapely.box(EAST + 275, NORTH - 10, EAST + 285, NORTH + 10),
        ],
        crs=UTM,
    )
    polygons.iloc[order].to_file(tmp_path / "surfaces.gpkg")
    expected = ["asphalt"] * 4 + ["concrete", "block paving"] + ["asphalt"] * 4
    cores = answers(keys='[surfaces]\npath = "surfaces.gpkg"', surface=expected, is_audited=True)
    assert cores["surface_from"].eq("polygon").all()
    overlaps = cores["findings"].str.contains("surface-overlap")
    assert overlaps.tolist() == [False] * 4 + [True, True] + [False] * 4


def _bow_tie(districts):
    """Return West with its corners in crossed order, like a bow tie, and a box that completes it."""
    west, south, east, north = districts.geometry[0].bounds
    tie = shapely.Polygon([(west, south), (east, north), (east, south), (west, north)])
    return pd.concat(
        [
            districts.set_geometry([districts.geometry[0], districts.geometry[1]]),
            gpd.GeoDataFrame({"district": ["West"]}, geometry=[tie], crs=UTM),
        ]
    )


DISTRICTS = {
    "in another order": lambda districts: districts[::-1],
    "in degrees": lambda districts: districts.to_crs(4326),
    "in three dimensions": lambda districts: districts.set_geometry(shapely.force_3d(districts.geometry, 7.0)),
    "with a crossed outline": _bow_tie,
    "with a part that has no name": lambda districts: pd.concat(
        [districts, districts.assign(district=[None, "  "])]
    ),
    "with stray spaces": lambda districts: districts.assign(district=[" West", "East  "]),
    "in two parts of one name": lambda districts: pd.concat(
        [districts.clip(shapely.box(EAST, NORTH - 99, EAST + 100, NORTH + 99)), districts.clip(shapely.box(EAST + 100, NORTH - 99, EAST + 509, NORTH + 99))]
    ),
}  # fmt: skip


@pytest.mark.parametrize("kind", DISTRICTS)
def test_districts_may_come_in_many_forms(answers, tmp_path, kind):
    DISTRICTS[kind](_districts()).to_file(tmp_path / "other.gpkg")
    assert answers(districts="other.gpkg")["district_how"].eq("inside").all()


def test_the_day_of_the_audit_may_be_given_and_changes_no_position(answers):
    cores = answers(as_of=dt.date(2026, 10, 20), is_audited=True)
    # opened on 5 September, so 45 days before; 30 are allowed
    assert cores["findings"].str.contains("open-too-long").all()
    assert answers(is_audited=True)["findings"].eq("").all()
