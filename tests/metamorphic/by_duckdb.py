"""Where the cores of a town lie by DuckDB's spatial extension, with inner joins, beside where the stages put them."""

import importlib.util
from pathlib import Path

import duckdb
import numpy as np
import pandas as pd
import shapely

from pipeline.locate.areas import pairs_in
from pipeline.locate.candidates import pairs_within_reach
from tests.metamorphic.relations import places_of
from tests.metamorphic.towns import Town, located

REACH_M, GAP_M = 15.0, 5.0
# to a thousandth of a millimetre, distances are equal, and the first row counts
_NEAREST = """
    SELECT core, shape, metres FROM (
        SELECT core, shape, metres, min(metres) OVER (PARTITION BY core) AS least FROM (
            SELECT c.row AS core, s.row AS shape, ST_Distance(c.geom, s.geom) AS metres
            FROM cores c INNER JOIN {layer} s ON s.row >= 0))
    WHERE metres <= least + 1e-6 QUALIFY row_number() OVER (PARTITION BY core ORDER BY shape) = 1 ORDER BY core
"""


def connect() -> duckdb.DuckDBPyConnection:
    """Return a connection with the extension of the pinned package: nothing is fetched."""
    package = Path(importlib.util.find_spec("duckdb_extension_spatial").origin).parent
    (extension,) = package.rglob("spatial.duckdb_extension")
    connection = duckdb.connect()
    connection.execute(f"LOAD '{extension}'")
    return connection


def agree(connection: duckdb.DuckDBPyConnection, town: Town) -> None:
    """Check that both put the cores of a town on the same segments, surfaces and districts."""
    x, y = town.cores["x_m"].to_numpy(), town.cores["y_m"].to_numpy()
    points = shapely.points(x, y)
    for name, shapes in zip(
        ("cores", "segments", "surfaces", "districts"), (points, *(of.geometry for of in town[1:]))
    ):
        _load(connection, name, np.asarray(shapes, dtype=object))
    _pairs_agree(connection, town, points)
    found = located(town, REACH_M, choose="nearest")
    _segments_agree(connection, town, found)
    _areas_agree(connection, town, found)


def _load(connection: duckdb.DuckDBPyConnection, name: str, shapes: np.ndarray) -> None:
    rows = pd.DataFrame({"row": np.arange(len(shapes)), "wkb": shapely.to_wkb(shapes)})  # noqa: F841 - read by name
    connection.execute(f"CREATE OR REPLACE TABLE {name} AS SELECT row, ST_GeomFromWKB(wkb) AS geom FROM rows")


def _rows(connection: duckdb.DuckDBPyConnection, sql: str) -> list[tuple]:
    return connection.execute(sql).fetchall()


def _pairs_agree(connection: duckdb.DuckDBPyConnection, town: Town, points: np.ndarray) -> None:
    lines = np.asarray(town.segments.geometry.array)
    ours = pairs_within_reach(points, lines, shapely.STRtree(lines), REACH_M)
    theirs = _rows(connection, f"""SELECT c.row, s.row FROM cores c INNER JOIN segments s
        ON ST_DWithin(c.geom, s.geom, {REACH_M}) ORDER BY 1, 2""")  # fmt: skip
    assert list(zip(ours.core.tolist(), ours.line.tolist())) == theirs
    for layer in ("surfaces", "districts"):
        polygons = np.asarray(getattr(town, layer).geometry.array)
        x, y = shapely.get_x(points), shapely.get_y(points)
        held = pairs_in(x, y, polygons)
        touched = _rows(connection, f"""SELECT c.row, s.row, ST_Contains(s.geom, c.geom) FROM cores c
            INNER JOIN {layer} s ON ST_Intersects(s.geom, c.geom) ORDER BY 1, 2""")  # fmt: skip
        assert list(zip(held.point.tolist(), held.polygon.tolist())) == [pair[:2] for pair in touched]
        # alone in a polygon, a core on its edge counts as inside
        alone = pd.Series(held.point).duplicated(keep=False).eq(False).tolist()
        assert held.inside.tolist() == [pair[2] or only for pair, only in zip(touched, alone)]


def _segments_agree(connection: duckdb.DuckDBPyConnection, town: Town, found: pd.DataFrame) -> None:
    for core, line, metres in _rows(connection, _NEAREST.format(layer="segments")):
        row, name = found.loc[core], town.segments["segment_id"].iloc[line]
        if metres > REACH_M + 1e-6:
            assert (row["segment"], row["nearest_id"]) == (-1, name)
            assert abs(row["nearest_m"] - metres) < 1e-6
            continue
        assert row["segment_id"] == name
        assert abs(row["offset_m"] - metres) < 1e-6
        places = places_of(town.cores["x_m"][core], town.cores["y_m"][core], town.segments.geometry.iloc[line])
        assert abs(row["chainage_m"] - min(places)) < 2e-6
    along = dict(_rows(connection, """SELECT c.row || '/' || s.row, ST_LineLocatePoint(s.geom, c.geom) * ST_Length(s.geom)
        FROM cores c INNER JOIN segments s ON s.row >= 0"""))  # fmt: skip
    on_road = found[found["segment"].ge(0)]
    for core, line, ours in zip(on_road.index, on_road["segment"], on_road["chainage_m"]):
        places = places_of(town.cores["x_m"][core], town.cores["y_m"][core], town.segments.geometry.iloc[line])
        # of places equally near DuckDB takes one or another
        assert max(places) - min(places) > 1e-6 or abs(along[f"{core}/{line}"] - ours) < 2e-6


def _areas_agree(connection: duckdb.DuckDBPyConnection, town: Town, found: pd.DataFrame) -> None:
    smallest = dict(_rows(connection, """SELECT c.row, min(s.row) FROM cores c INNER JOIN surfaces s
        ON ST_Intersects(s.geom, c.geom) GROUP BY c.row"""))  # fmt: skip
    by_polygon = found[found["surface_from"].eq("polygon")]
    assert by_polygon["surface"].to_dict() == {
        core: town.surfaces["surface"].iloc[row] for core, row in sorted(smallest.items())
    }
    # inside comes before on the edge, then the first by name
    held = dict(_rows(connection, """SELECT c.row, arg_min(s.row, s.row + 1000 * (NOT ST_Contains(s.geom, c.geom))::INT)
        FROM cores c INNER JOIN districts s ON ST_Intersects(s.geom, c.geom) GROUP BY c.row"""))  # fmt: skip
    for core, nearest, metres in _rows(connection, _NEAREST.format(layer="districts")):
        row, gap = found.loc[core], town.districts["district"].iloc[nearest]
        if core in held:
            assert row["district"] == town.districts["district"].iloc[held[core]]
            continue
        assert row["district_how"] == ("gap" if metres <= GAP_M + 1e-6 else "outside")
        assert row["district"] == gap if metres <= GAP_M + 1e-6 else pd.isna(row["district"])
        assert abs(row["district_distance_m"] - metres) < 1e-6
