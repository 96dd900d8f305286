"""What a real PostgreSQL refuses, or what cannot be used of it: each told in words, without a credential."""

import re
import socket
import threading
import traceback

import pytest
from pyproj import CRS

from pipeline.errors import InputError, SettingsError
from pipeline.intake.files import server_rows
from pipeline.intake.files.layers import read_raw
from pipeline.intake.placed_layer import place_layer
from pipeline.programme.settings import Layer
from tests.postgres import OWNER, PASSWORD


def _error(database, kind=InputError, address=None, tell=None, **given):
    with pytest.raises(kind) as caught:
        read_raw(Layer(path=address or database.address, **given), None, "roads", None, tell)
    text = str(caught.value)
    assert OWNER not in text
    assert PASSWORD not in text
    # what the library raised has the credentials in it, and must not be shown either
    shown = "".join(traceback.format_exception(caught.value))
    assert OWNER not in shown
    assert PASSWORD not in shown
    return text


def test_a_table_that_is_not_there_is_told_with_those_that_are(database):
    database.run(
        "CREATE SCHEMA gis", "CREATE TABLE gis.roads (id int)", 'CREATE TABLE "Trees" (id int)',
        "CREATE VIEW gis.road_lines AS SELECT * FROM gis.roads",
    )  # fmt: skip
    text = _error(database, table="gis.road")
    assert text == (
        f"{database.address}, table gis.road: no such table; the tables that can be read there are: gis.roads, "
        'gis.road_lines, public."Trees". Correct roads.table.'
    )
    assert "no such table" in _error(database, table="gsi.roads")
    assert "no such table" in _error(database, table="trees")


def test_a_database_without_a_table_says_so(database):
    assert "no table can be read there" in _error(database, table="roads")


def test_a_table_without_the_right_to_read_it_is_told(database, monkeypatch):
    role = f"reader_{database.name}"
    database.run(
        f"CREATE ROLE {role} LOGIN PASSWORD 'other-{PASSWORD}'", "CREATE TABLE secret (id int PRIMARY KEY)",
        "CREATE TABLE open AS SELECT 1 AS id", f"GRANT SELECT ON open TO {role}",
    )  # fmt: skip
    monkeypatch.setenv("PGUSER", role)
    monkeypatch.setenv("PGPASSWORD", f"other-{PASSWORD}")
    try:
        for given in ({"table": "secret"}, {"sql": "SELECT * FROM secret"}):
            text = _error(database, **given)
            assert "permission denied for table secret" in text
            assert "administrator for the right" in text
            assert role not in text
        assert "are: public.open." in _error(database, table="other")
        # the right to read is all that is needed
        assert read_raw(Layer(path=database.address, table="open"), None, "roads", None).frame["id"].tolist() == ["1"]
    finally:
        database.run(f"DROP OWNED BY {role}", f"DROP ROLE {role}")


@pytest.mark.parametrize(
    "query",
    [
        "DELETE FROM a RETURNING id",
        "WITH gone AS (DELETE FROM a RETURNING id) SELECT * FROM gone",
        "SELECT 1; DELETE FROM a",
        "SELECT 1 AS b) AS q; DELETE FROM a; SELECT * FROM (SELECT 1",
        "SELECT id FROM a; COMMIT; DELETE FROM a; --",
        "COPY a TO '/tmp/a'",
        "SELECT * INTO b FROM a",
        "",
        "SELEKT 1",
        "SELECT nothing FROM a",
    ],
)
def test_what_is_not_one_statement_that_reads_is_refused(database, query):
    database.run("CREATE TABLE a AS SELECT 1 AS id")
    text = _error(database, sql=query)
    assert text.startswith(f"{database.address}, sql of roads: the database cannot read roads.sql (")
    assert text.endswith("Expected one SELECT statement, which only reads; correct it.")
    assert database.rows("SELECT count(*) FROM a") == [(1,)]


@pytest.mark.parametrize("query", ["SELECT * FROM takes()", "SELECT nextval('s') AS id"])
def test_a_query_that_writes_by_a_function_is_refused(database, query):
    database.run(
        "CREATE TABLE a AS SELECT 1 AS id", "CREATE SEQUENCE s",
        "CREATE FUNCTION takes() RETURNS SETOF int LANGUAGE sql AS 'DELETE FROM a RETURNING id'",
    )  # fmt: skip
    assert "in a read-only transaction). What is run there may only read" in _error(database, sql=query)
    assert database.rows("SELECT count(*) FROM a") == [(1,)]


def test_a_query_cannot_make_its_own_session_write(database):
    database.run("CREATE TABLE a AS SELECT 1 AS id")
    text = _error(database, sql="SELECT set_config('transaction_read_only', 'off', false) AS id")
    assert "read-write mode" in text


def test_a_statement_that_takes_too_long_is_told(database, monkeypatch):
    monkeypatch.setenv("PGOPTIONS", "-c statement_timeout=200")
    text = _error(database, sql="SELECT 1 AS id FROM pg_sleep(20)")
    assert "canceling statement due to statement timeout" in text
    assert "Allow more time (statement_timeout" in text


def test_a_connection_that_is_lost_while_rows_are_read_is_told(database, monkeypatch):
    """More rows than what the sockets hold, so that the server is still sending when it is told to stop."""
    monkeypatch.setattr(server_rows, "_BATCH_BYTES", 100_000)
    database.run("CREATE TABLE long AS SELECT n AS id, repeat('x', 1000) AS t FROM generate_series(1, 40000) AS n")
    database.run("ALTER TABLE long ADD PRIMARY KEY (id)")

    def tell(*_):
        database.run("SELECT pg_terminate_backend(pid) FROM pg_stat_activity WHERE application_name = 'kerfbook'")

    text = _error(database, table="long", tell=tell)
    assert text.startswith(f"{database.address}, table long: ")
    assert "run again" in text.lower()


def test_a_server_that_is_killed_while_a_query_runs_is_told(database):
    """Nothing says goodbye: the process is gone."""
    query = "SELECT pg_terminate_backend(pid) FROM pg_stat_activity WHERE query LIKE '%pg_sleep(19)%' AND pid <> pg_backend_pid()"
    stop = threading.Event()

    def kill():
        while not stop.wait(0.1):
            database.run(query)

    killer = threading.Thread(target=kill)
    killer.start()
    try:
        text = _error(database, sql="SELECT 1 AS id FROM pg_sleep(19)")
    finally:
        stop.set()
        killer.join()
    assert "run again" in text.lower()


def test_shapes_of_several_srids_are_refused_with_how_many_have_each(database):
    database.run(
        "CREATE TABLE mixed AS SELECT n AS id, ST_SetSRID(ST_MakePoint(n, 1), CASE WHEN n < 4 THEN 0 ELSE 3879 END) AS geom "
        "FROM generate_series(1, 10) AS n"
    )
    text = _error(database, table="mixed", key="id")
    assert "its shapes have 2 SRIDs: 0 (3 rows), 3879 (7 rows); expected one." in text


def test_an_srid_that_cannot_be_right_or_is_missing_is_refused_unless_the_crs_is_set(database):
    """Metres declared as degrees, and no SRID at all."""
    for table, srid, said in (
        ("wrong", 4326, r"the CRS is EPSG:4326, in degrees, but its coordinates extend from 478,010.*Set roads\.crs"),
        ("missing", 0, r"declares no CRS and none is set. Set roads\.crs"),
    ):
        database.run(
            f"CREATE TABLE {table} AS SELECT 1 AS id, ST_SetSRID('LINESTRING(478010 4963000, 478090 4963000)'::geometry, {srid}) "
            "AS geom"
        )
        given = {"path": database.address, "table": table, "key": "id"}
        for crs in (None, "EPSG:32617"):
            section = Layer(**given, crs=crs)
            raw = read_raw(section, None, "roads", None)
            if crs is None:
                with pytest.raises(InputError, match=said):
                    place_layer(raw, section, "roads", ("LineString",))
            else:
                assert place_layer(raw, section, "roads", ("LineString",)).crs == CRS.from_epsg(32617)


def test_two_columns_of_shapes_are_refused(database):
    database.run("CREATE TABLE two (id int, geom geometry, centre geometry)")
    assert "2 columns of shapes (geom, centre), expected one" in _error(database, table="two")


@pytest.mark.parametrize("more", [0, 30_000])
def test_curves_are_refused(database, monkeypatch, more):
    """Also where the server has more to send."""
    monkeypatch.setattr(server_rows, "_BATCH_BYTES", 10_000)
    database.run("CREATE TABLE curves AS SELECT 1 AS id, 'CIRCULARSTRING(0 0, 1 1, 2 0)'::geometry AS geom")
    database.run(f"INSERT INTO curves SELECT n, ST_MakePoint(n, n) FROM generate_series(2, {more}) AS n")
    assert "there are curves" in _error(database, table="curves")
    table = read_raw(
        Layer(path=database.address, sql="SELECT id, ST_CurveToLine(geom) FROM curves", key="id"), None, "roads", None
    )
    assert table.geometry[0].geom_type == "LineString"


@pytest.mark.usefixtures("database")
def test_text_that_is_not_in_the_encoding_of_its_database_is_told(postgres_server):
    with postgres_server.fresh("template0", "ENCODING 'SQL_ASCII' LC_COLLATE 'C' LC_CTYPE 'C'") as ascii_only:
        with ascii_only.connect() as connection:
            connection.execute("SET client_encoding = 'SQL_ASCII'")
            connection.execute("CREATE TABLE a (id int PRIMARY KEY, street text)")
            connection.execute(rb"INSERT INTO a VALUES (1, E'Rue de l\'\351glise')")
        text = _error(ascii_only, table="a")
        assert 'invalid byte sequence for encoding "UTF8": 0xe9' in text
        assert "not in its own encoding" in text


@pytest.mark.usefixtures("database")
def test_text_in_latin_1_is_converted_by_the_server(postgres_server):
    with postgres_server.fresh("template0", "ENCODING 'LATIN1' LC_COLLATE 'C' LC_CTYPE 'C'") as latin:
        latin.run("CREATE TABLE a AS SELECT 1 AS id, 'Rue de l''église' AS street")
        table = read_raw(Layer(path=latin.address, table="a", key="id"), None, "roads", None)
        assert table.frame["street"].tolist() == ["Rue de l'église"]


def test_a_key_that_is_no_column_is_told_with_those_that_are(database):
    database.run("CREATE TABLE a (id int, street text)")
    text = _error(database, SettingsError, table="a", key="gid")
    assert (
        text == f"roads.key: found 'gid', expected one column of {database.address}, table a: id, street. Correct it."
    )


def test_a_server_that_cannot_be_reached_is_told(database):
    text = _error(database, address="postgresql://127.0.0.1:1/gis", table="a")
    assert re.match(
        r"postgresql://127\.0\.0\.1:1/gis, table a: no connection to the database \(.*Connection refused", text
    )


def test_a_server_that_does_not_answer_is_not_waited_for(database, monkeypatch):
    """Something listens there, and never says anything."""
    monkeypatch.setenv("PGCONNECT_TIMEOUT", "2")
    with socket.create_server(("127.0.0.1", 0)) as silent:
        port = silent.getsockname()[1]
        text = _error(database, address=f"postgresql://127.0.0.1:{port}/gis", table="a")
    assert "no connection to the database (connection timeout expired)" in text
