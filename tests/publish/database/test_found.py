"""Databases that cannot take a run: found out before anything is done, with what to do about it."""

import re

import pytest

from pipeline.errors import OutputError
from pipeline.programme.outputs import Database
from pipeline.publish.database import refuse_unusable_database
from tests.publish.database.runs import counts, keep

_GUEST = "kerfbook_guest"


def _target(database, schema="kerfbook"):
    return Database.model_validate({"path": database.address, "schema": schema})


@pytest.fixture
def guest(database, monkeypatch):
    """A user of the database who may do nothing but connect; runs are written as that user."""
    with database.connect() as admin:
        admin.execute(f"DROP ROLE IF EXISTS {_GUEST}")
        admin.execute(f"CREATE ROLE {_GUEST} LOGIN PASSWORD 'guest'")
    monkeypatch.setenv("PGUSER", _GUEST)
    monkeypatch.setenv("PGPASSWORD", "guest")
    yield _GUEST
    database.run("DROP SCHEMA IF EXISTS kerfbook CASCADE", f"DROP OWNED BY {_GUEST} CASCADE", f"DROP ROLE {_GUEST}")


def _refusal(database):
    with pytest.raises(OutputError) as refused:
        refuse_unusable_database(_target(database))
    return str(refused.value)


def _granted(database, expected):
    """Run what the refusal tells the administrator to run, which must be as expected."""
    said = _refusal(database)
    assert _GUEST not in said
    advice = re.fullmatch(
        r".*: the user of this connection lacks rights that writing a run needs in database town_\w+\. Have its administrator "
        r'run, with that user\'s name for "the user": (.*;)', said,
    )  # fmt: skip
    assert advice, said
    assert advice[1] == expected
    database.run(*advice[1].replace('"the user"', _GUEST).rstrip(";").split("; "))


def test_a_database_that_is_ready_is_left_as_it_is(database):
    refuse_unusable_database(_target(database))
    assert counts(database) == {}


@pytest.mark.usefixtures("guest")
def test_the_right_to_make_a_schema_is_asked_for_and_suffices(database, small_town, tmp_path):
    _granted(database, 'CREATE SCHEMA "kerfbook" AUTHORIZATION "the user";')
    keep(database, small_town, tmp_path)
    assert counts(database)["cores"] == 7
    refuse_unusable_database(_target(database))


@pytest.mark.usefixtures("guest")
def test_the_right_to_make_tables_is_asked_for_and_suffices(database, small_town, tmp_path):
    database.run("CREATE SCHEMA kerfbook")
    _granted(database, 'GRANT USAGE, CREATE ON SCHEMA "kerfbook" TO "the user";')
    keep(database, small_town, tmp_path)
    assert counts(database)["cores"] == 7


def test_the_rights_to_tables_that_another_user_made_are_asked_for_and_suffice(
    database, guest, small_town, tmp_path, monkeypatch
):
    with monkeypatch.context() as before:
        for name, value in database.environment.items():
            before.setenv(name, value)
        keep(database, small_town, tmp_path)
    whole = "SELECT, INSERT, UPDATE, DELETE"
    _granted(
        database,
        'GRANT USAGE ON SCHEMA "kerfbook" TO "the user"; '
        + " ".join(f'GRANT {whole} ON "kerfbook"."{name}" TO "the user";' for name in ("cores", "findings", "orders", "plan", "runs")),
    )  # fmt: skip
    database.run(f"REVOKE DELETE ON kerfbook.plan FROM {guest}")
    _granted(database, 'GRANT DELETE ON "kerfbook"."plan" TO "the user";')
    # a guest may write rows into tables of somebody else, and a second run is one of them
    keep(database, small_town, tmp_path, name="Bay")
    assert counts(database)["runs"] == 2
    # but only an owner adds a column
    database.run("ALTER TABLE kerfbook.cores DROP COLUMN core_kg CASCADE")
    said = _refusal(database)
    assert 'ALTER TABLE "kerfbook"."cores" OWNER TO "the user";' in said
    assert 'GRANT CREATE ON SCHEMA "kerfbook" TO "the user";' in said  # for the view that went with the column


@pytest.mark.usefixtures("database")
def test_a_database_without_postgis_is_refused(postgres_server):
    with postgres_server.fresh("template1") as bare:
        assert re.search("has no PostGIS.*CREATE EXTENSION postgis;", _refusal(bare))
        with bare.connect() as admin:
            admin.execute("CREATE SCHEMA gis")
            admin.execute("CREATE EXTENSION postgis SCHEMA gis")
        refuse_unusable_database(_target(bare))


@pytest.mark.usefixtures("database")
def test_postgis_may_be_in_a_schema_of_its_own(postgres_server, small_town, tmp_path):
    with postgres_server.fresh("template1") as other:
        other.run("CREATE SCHEMA gis", "CREATE EXTENSION postgis SCHEMA gis")
        for _ in range(2):
            keep(other, small_town, tmp_path)
        assert other.rows("SELECT srid, type FROM gis.geometry_columns WHERE f_table_name = 'cores_latest'") == [(4326, "POINT")]  # fmt: skip


@pytest.mark.usefixtures("database")
def test_a_database_of_an_encoding_without_every_character_is_refused(postgres_server):
    with postgres_server.fresh("template0", "ENCODING 'SQL_ASCII'") as other:
        assert "is encoded in SQL_ASCII, expected UTF8" in _refusal(other)


@pytest.mark.parametrize("kind", ["TABLE", "VIEW"])
def test_a_table_of_somebody_else_is_refused_and_left_as_it_is(database, small_town, tmp_path, kind):
    made = "(n int)" if kind == "TABLE" else "AS SELECT 1 AS n"
    database.run("CREATE SCHEMA kerfbook", f"CREATE {kind} kerfbook.orders {made}")
    said = _refusal(database)
    assert 'found kerfbook.orders, which Kerfbook did not make: its comment does not begin with "Kerfbook:"' in said
    with pytest.raises(OutputError, match="did not make"):
        keep(database, small_town, tmp_path)
    assert database.rows("SELECT relname FROM pg_class WHERE relnamespace = 'kerfbook'::regnamespace") == [("orders",)]
    assert [file for file in tmp_path.rglob("*") if file.is_file()] == []


def test_a_column_of_another_type_is_refused(database, small_town, tmp_path):
    keep(database, small_town, tmp_path)
    database.run(
        "DROP VIEW kerfbook.orders_latest", "ALTER TABLE kerfbook.orders ALTER packs TYPE text",
    )  # fmt: skip
    said = _refusal(database)
    assert "column packs of kerfbook.orders is of type text, expected bigint. Rename or drop that column" in said


@pytest.mark.usefixtures("database")
def test_a_server_that_is_not_there_is_an_error_of_the_output():
    # nobody listens on the port that is for nobody
    target = Database.model_validate({"path": "postgresql://127.0.0.1:1/town"})
    with pytest.raises(
        OutputError, match=r"postgresql://127\.0\.0\.1:1/town: no connection.*Check the address in publish\.database"
    ):
        refuse_unusable_database(target)
