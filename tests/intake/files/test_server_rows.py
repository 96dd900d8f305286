"""Tables and queries of a real PostgreSQL, as raw tables."""

import datetime as dt
import hashlib
from decimal import Decimal

import geopandas as gpd
import numpy as np
import pandas as pd
import pytest
import shapely
from pyproj import CRS

from pipeline.errors import InputError, NoCoresError, SettingsError
from pipeline.intake.files import server_rows, server_tables
from pipeline.intake.files.layers import read_raw
from pipeline.programme.settings import Cores, Layer
from tests.server_data import put_frame

_POINT = "ST_SetSRID(ST_MakePoint({}, 4800000), 32617)"


def _read(database, wanted=None, tell=None, kind=Layer, **given):
    return read_raw(kind(path=database.address, **given), None, "roads", wanted, tell)


def _points(database, rows=1000, more=""):
    """A table without a key, its rows in no order: ``n``, and a point ``n`` metres east."""
    database.run(
        f"CREATE TABLE points AS SELECT n, {_POINT.format('500000 + n')} AS geom "
        f"FROM generate_series(1, {rows}) AS n ORDER BY md5(n::text)",
        *([more] if more else []),
    )


def test_cells_are_those_of_the_same_data_in_a_parquet_file(database, tmp_path):
    frame = pd.DataFrame(
        {
            "whole": pd.array([1, None, -3], dtype="Int64"),
            "size": [450.0, np.nan, 0.1],
            "long": [1e15, 1e-7, 123456789.125],
            "short": np.array([0.1, 450, np.nan], dtype="float32"),
            "exact": [Decimal("450.00"), None, Decimal("0.50")],
            "yes": pd.array([True, False, None], dtype="boolean"),
            "day": [dt.date(2026, 9, 3), None, dt.date(1999, 12, 31)],
            "local": pd.to_datetime(["2026-09-03 08:30:00", None, "2026-09-03 23:59:59"]),
            "zoned": pd.to_datetime(
                ["2026-09-03 08:30:00+02:00", None, "2026-01-01 00:00:00Z"], utc=True, format="ISO8601"
            ),
            "text": ['18"', "", 'a,"b"\nc\\.d'],
            "blank": ["  ", None, " é "],
        }
    )
    kinds = {
        "short": "real", "exact": "numeric(8, 2)", "day": "date", "zoned": "timestamptz", "local": "timestamp",
    }  # fmt: skip
    put_frame(database, "cells", frame, kinds, keyed=False)
    database.run("ALTER TABLE cells ADD gid serial PRIMARY KEY")
    frame.assign(gid=[1, 2, 3]).to_parquet(tmp_path / "cells.parquet")
    ours = _read(database, table="cells")
    theirs = read_raw(Layer(path="cells.parquet"), tmp_path, "roads", None)
    pd.testing.assert_frame_equal(ours.frame, theirs.frame)
    assert ours.rows.tolist() == theirs.rows.tolist()
    assert ours.geometry is None


def test_what_is_no_number_is_missing_and_other_types_come_as_text(database):
    database.run(
        """CREATE TABLE odd AS SELECT 1 AS id, 'NaN'::float8 AS size, 'NaN'::numeric AS exact, 'NaN'::text AS note,
        '{"a": 1}'::jsonb AS json, ARRAY[1, 2] AS list, INTERVAL '90 minutes' AS span, '\\x00ff'::bytea AS photo,
        'infinity'::timestamptz AS never, TIME '08:30' AS clock, 'ab'::char(4) AS padded""",
        "ALTER TABLE odd ADD PRIMARY KEY (id)",
    )
    table = _read(database, table="odd")
    assert table.frame.astype(object).where(table.frame.notna(), None).to_dict("records") == [
        {
            "id": "1", "size": None, "exact": None, "note": "NaN", "json": '{"a": 1}', "list": "{1,2}", "span": "01:30:00",
            "never": "infinity", "clock": "08:30:00", "padded": "ab  ",
        }
    ]  # fmt: skip
    assert table.notices == [f"{table.label}: column 'photo' holds bytes (bytea) and is not read."]


def test_shapes_are_those_that_were_stored_with_the_crs_of_the_table(database):
    corner = shapely.box(0, 0, 1, 1)
    # longer than what is read at a time
    long = shapely.LineString(np.column_stack([np.arange(300_000.0), np.zeros(300_000)]))
    shapes = [shapely.Point(1, 2), None, corner, shapely.Point(1, 2, 3), long, shapely.Point()]
    frame = gpd.GeoDataFrame({"name": list("abcdef")}, geometry=shapes, crs=3879)
    put_frame(database, "shapes", frame, {"geometry": "geometry"})
    table = _read(database, table="shapes")
    assert [None if one is None else shapely.to_wkb(one, output_dimension=3) for one in table.geometry] == [
        None if one is None else shapely.to_wkb(one, output_dimension=3) for one in shapes
    ]
    assert set(shapely.get_srid(table.geometry[[0, 2, 3, 4]])) == {0}
    assert table.crs == CRS.from_epsg(3879)
    assert table.fields == ["gid", "name"]
    assert _read(database, table="shapes", wanted=["NAME"]).frame.columns.tolist() == ["name"]
    assert _read(database, table="shapes", wanted=[]).frame.shape == (6, 0)


def test_geography_is_in_degrees(database):
    database.run("CREATE TABLE places AS SELECT 1 AS id, ST_MakePoint(24.9, 60.2)::geography AS spot")
    table = _read(database, table="places")
    assert (table.geometry[0].x, table.geometry[0].y) == (24.9, 60.2)
    assert table.crs == CRS.from_epsg(4326)


def test_a_definition_of_the_database_s_own_is_used(database):
    own = CRS.from_proj4("+proj=tmerc +lat_0=45 +lon_0=-82 +k=0.9999 +x_0=100000 +y_0=0 +datum=WGS84 +units=m")
    database.run(
        f"INSERT INTO spatial_ref_sys (srid, auth_name, auth_srid, srtext) VALUES (910001, 'city', 1, '{own.to_wkt('WKT1_GDAL')}')",
        "CREATE TABLE a AS SELECT 1 AS id, ST_SetSRID(ST_MakePoint(1, 2), 910001) AS geom",
    )
    assert _read(database, table="a").crs.equals(CRS.from_wkt(own.to_wkt("WKT1_GDAL")))
    database.run("DELETE FROM spatial_ref_sys WHERE srid = 910001")
    unknown = _read(database, table="a")
    assert unknown.crs is None
    assert "its SRID, 910001, is not one" in unknown.notices[0]


def test_rows_come_by_key_in_one_part_or_many(database, monkeypatch):
    _points(database, more="UPDATE points SET n = NULL WHERE n = 7")
    expected = [str(n) for n in range(1, 1001) if n != 7]
    one = _read(database, table="points", key="n")
    monkeypatch.setattr(server_tables, "_ROWS_PER_PART", 90)
    many = _read(database, table="points", key="N")
    assert one.frame["n"].dropna().tolist() == many.frame["n"].dropna().tolist() == expected
    assert many.frame["n"].isna().tolist() == [False] * 999 + [True]
    assert one.sha256 == many.sha256
    assert len(one.sha256) == 64
    by_query = _read(database, sql="SELECT * FROM points ORDER BY md5(n::text);", key="n")
    assert by_query.frame["n"].dropna().tolist() == expected


@pytest.mark.parametrize("kind", ["smallint", "bigint", "numeric", "real", "double precision"])
def test_ranges_of_any_number_hold_each_row_once(database, monkeypatch, kind):
    _points(database, more=f"ALTER TABLE points ALTER n TYPE {kind} USING n % 30 / 7.0")
    monkeypatch.setattr(server_tables, "_ROWS_PER_PART", 90)
    table = _read(database, table="points", key="n")
    assert sorted(shapely.get_x(table.geometry)) == list(range(500001, 501001))
    assert pd.to_numeric(table.frame["n"]).is_monotonic_increasing


@pytest.mark.parametrize(
    "index", [[], ["CREATE INDEX ON lines USING gist (geom)", "ANALYZE lines", "SET enable_seqscan = off"]]
)
def test_a_key_of_shapes_cuts_the_map_into_strips(database, monkeypatch, index):
    """Lines that reach over many strips, stacked ones, an empty one and none at all: each comes once."""
    lines = [shapely.LineString([(x, y), (x + 400, y + 5)]) for x in range(0, 500, 5) for y in (3, 2)]
    lines += [lines[0], shapely.LineString(), None]
    frame = gpd.GeoDataFrame({"n": range(len(lines))}, geometry=lines, crs=32617).rename_geometry("geom")
    put_frame(database, "lines", frame.sample(frac=1, random_state=1), keyed=False)
    database.run(*index)
    whole = _read(database, table="lines", key="geom")
    monkeypatch.setattr(server_tables, "_ROWS_PER_PART", 20)
    parts = _read(database, table="lines", key="geom")
    assert sorted(map(int, parts.frame["n"])) == list(range(203))
    assert parts.frame["n"].tolist() == whole.frame["n"].tolist()
    assert parts.sha256 == whole.sha256
    corners = shapely.bounds(parts.geometry[:201])[:, :2]
    assert corners.tolist() == sorted(corners.tolist())


def test_without_a_key_the_order_is_that_of_the_content_and_is_reported(database):
    _points(database, 50, "CREATE VIEW seen AS SELECT n % 5 AS rest, n, geom FROM points")
    first = _read(database, table="seen")
    (notice,) = first.notices
    assert notice.startswith(
        f"{first.label}: has no primary key, so that its rows are taken in the order of their content."
    )
    assert notice.endswith("in roads.key.")
    database.run("CREATE TABLE other AS SELECT * FROM points ORDER BY n", "DROP TABLE points CASCADE")
    database.run("ALTER TABLE other RENAME TO points", "CREATE VIEW seen AS SELECT n % 5 AS rest, n, geom FROM points")
    again = _read(database, table="seen")
    pd.testing.assert_frame_equal(first.frame, again.frame)
    assert first.sha256 == again.sha256
    assert _read(database, table="seen", key="n").notices == []


def test_rows_with_the_same_key_are_in_the_order_of_their_content(database):
    database.run(
        'CREATE TABLE a (k int, t text COLLATE "en-x-icu")',
        "INSERT INTO a VALUES (2, 'x'), (1, 'b'), (1, 'B'), (1, 'a')",
    )
    assert _read(database, table="a", key="k").frame["t"].tolist() == ["B", "a", "b", "x"]


def test_a_primary_key_gives_the_order_also_if_it_is_of_several_columns(database):
    database.run(
        "CREATE TABLE a (street text, n int, PRIMARY KEY (n, street))",
        "INSERT INTO a VALUES ('b', 2), ('a', 2), ('z', 1), ('Z', 2)",
    )
    table = _read(database, table="a")
    assert table.frame["street"].str.cat(table.frame["n"]).tolist() == ["Z2", "a2", "b2", "z1"]
    assert table.notices == []


def test_a_condition_keeps_the_numbers_that_the_rows_have_in_the_whole_table(database):
    _points(database, more="ALTER TABLE points ADD PRIMARY KEY (n)")
    table = _read(database, table="points", where="n % 250 = 0 OR n = 3")
    assert table.frame["n"].tolist() == ["3", "250", "500", "750", "1000"]
    assert table.rows.tolist() == [3, 250, 500, 750, 1000]
    assert table.rows_in_file == 1000
    assert [*table.frame] == ["n"]
    with pytest.raises(
        SettingsError, match=r"roads\.where: found 'm = 1'.*column \"m\" does not exist.*columns: n, geom"
    ):
        _read(database, table="points", where="m = 1")
    with pytest.raises(SettingsError, match=r"roads\.where: found \"n = 'x'\".*invalid input syntax for type integer"):
        _read(database, table="points", where="n = 'x'")
    with pytest.raises(InputError, match=r"roads\.where = 'n < 0' selects none of its 1,000 rows"):
        _read(database, table="points", where="n < 0")


def test_columns_of_a_query_may_share_a_name_or_have_none(database):
    table = _read(database, sql="SELECT 1 AS a, 2 AS a, 3, '50%' AS \"B {b}\" -- 100% {of} it")
    assert table.frame.to_dict("records") == [{"a": "1", "a.2": "2", "?column?": "3", "B {b}": "50%"}]


def test_names_are_taken_as_they_are_written(database):
    database.run(
        'CREATE SCHEMA "My Town"', 'CREATE TABLE "My Town"."Roads.2026" AS SELECT 1 AS "Seg ""A"""',
        'CREATE TABLE public."drop table x" AS SELECT 2 AS b',
    )  # fmt: skip
    assert [*_read(database, table='My Town."Roads.2026"').frame] == ['Seg "A"']
    assert [*_read(database, table="drop table x").frame] == ["b"]


def test_the_users_own_settings_change_no_value(database, monkeypatch):
    database.run(
        "CREATE TABLE a AS SELECT 1 AS id, 0.1::float8 AS f, 0.1::real AS r, date '2026-09-03' AS d, interval '1 day' AS i, "
        "timestamptz '2026-09-03 08:00+02' AS t"
    )
    plain = _read(database, table="a")
    monkeypatch.setenv(
        "PGOPTIONS", "-c extra_float_digits=-10 -c datestyle=German -c timezone=Asia/Tokyo -c intervalstyle=iso_8601"
    )
    monkeypatch.setenv("PGTZ", "America/Toronto")
    monkeypatch.setenv("PGDATESTYLE", "SQL, DMY")
    monkeypatch.setenv("PGCLIENTENCODING", "LATIN1")
    other = _read(database, table="a")
    pd.testing.assert_frame_equal(other.frame, plain.frame)
    assert other.sha256 == plain.sha256


def test_the_digest_is_of_the_rows_as_they_are_read(database):
    _points(database, 10, "ALTER TABLE points ADD PRIMARY KEY (n)")
    before = _read(database, table="points").sha256
    assert before == _read(database, table="points").sha256
    block = b"".join(
        b"%d,%s\n"
        % (
            n,
            shapely.to_wkb(
                shapely.set_srid(shapely.Point(500000 + n, 4800000), 32617), hex=True, include_srid=True
            ).encode(),
        )
        for n in range(1, 11)
    )
    assert before == hashlib.sha256(b'["n", "geom"]' + block).hexdigest()
    database.run("UPDATE points SET n = 11 WHERE n = 10")
    assert before != _read(database, table="points").sha256


def test_all_parts_are_of_one_moment(database, monkeypatch):
    """While the first part is read, another session moves rows to where they would be read again."""
    _points(database)
    monkeypatch.setattr(server_tables, "_ROWS_PER_PART", 100)
    calls = []

    def tell(done, total, unit):
        if not calls:
            database.run("UPDATE points SET n = n + 5000 WHERE n <= 100", "DELETE FROM points WHERE n = 1000")
        calls.append((done, total, unit))

    table = _read(database, table="points", key="n", tell=tell)
    assert table.frame["n"].tolist() == [str(n) for n in range(1, 1001)]
    assert calls[0] == (99, 1000, "rows")
    assert calls[-1] == (1000, 1000, "rows")


def test_rows_are_read_in_batches(database, monkeypatch):
    _points(database, more="ALTER TABLE points ADD PRIMARY KEY (n)")
    monkeypatch.setattr(server_rows, "_BATCH_BYTES", 3000)
    told = []
    table = _read(database, table="points", tell=lambda *call: told.append(call))
    assert table.frame["n"].tolist() == [str(n) for n in range(1, 1001)]
    assert len(told) > 10


def test_a_table_or_query_without_rows_is_refused(database):
    database.run("CREATE TABLE none (id int PRIMARY KEY)")
    for given, what in ({"table": "none"}, "table has no rows"), ({"sql": "SELECT * FROM none"}, "query has no rows"):
        with pytest.raises(InputError, match=what):
            _read(database, **given)
        with pytest.raises(NoCoresError, match=what):
            _read(database, kind=Cores, **given)
