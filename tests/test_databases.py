"""Addresses, connections and errors of databases; the errors against a real server."""

import re
import sys

import pytest

from pipeline.databases import address_of, connected, is_database, shown, without_credentials
from pipeline.errors import InputError, OutputError, SettingsError
from tests.postgres import OWNER, PASSWORD


@pytest.mark.parametrize(
    ("text", "parameters", "as_shown"),
    [
        ("postgresql://db.city.example/gis", {"host": "db.city.example", "dbname": "gis"}, "postgresql://db.city.example/gis"),
        ("postgres://db:5433/gis", {"host": "db", "port": "5433", "dbname": "gis"}, "postgresql://db:5433/gis"),
        ("PostgreSQL:///gis", {"dbname": "gis"}, "postgresql:///gis"),
        ("postgresql://?service=town", {"service": "town"}, "postgresql:///?service=town"),
        ("postgresql:///?service=town", {"service": "town"}, "postgresql:///?service=town"),
        ("postgresql:///gis?service=town", {"service": "town", "dbname": "gis"}, "postgresql:///gis?service=town"),
        ("postgresql://[::1]:5433/gis", {"host": "::1", "port": "5433", "dbname": "gis"}, "postgresql://[::1]:5433/gis"),
        ("postgresql://a,b:5433/gis", {"host": "a,b", "port": ",5433", "dbname": "gis"}, "postgresql://a,b:5433/gis"),
        ("postgresql://a:1,b:2/gis", {"host": "a,b", "port": "1,2", "dbname": "gis"}, "postgresql://a:1,b:2/gis"),
        ("postgresql://%2Fvar%2Frun/gis", {"host": "/var/run", "dbname": "gis"}, "postgresql:///gis"),
        (
            "postgresql:///gis?host=/var/run&port=5433",
            {"host": "/var/run", "port": "5433", "dbname": "gis"}, "postgresql:///gis",
        ),
        (
            "postgresql://db/my%20town?sslmode=require",
            {"host": "db", "dbname": "my town", "sslmode": "require"}, "postgresql://db/my%20town",
        ),
    ],
)  # fmt: skip
def test_an_address_is_read_and_shown_without_options(text, parameters, as_shown):
    assert is_database(text)
    assert address_of(text, "cores.path").parameters == parameters
    assert shown(text) == as_shown


@pytest.mark.parametrize(
    "path", ["cores.csv", "postgresql.csv", "C:\\postgres\\cores.csv", "https://a.example/b", "mysql://a/b"]
)
def test_a_path_is_no_database(path):
    assert not is_database(path)


@pytest.mark.parametrize(
    "text",
    [
        "postgresql://reader:geheim@db/gis",
        "postgresql://reader@db/gis?password=geheim",
        "postgresql://reader@geheim/gis",
        "postgresql://reader:ge/heim?geheim#@db/gis",
        "postgresql://db/gis?user=geheim",
        "postgresql://db/gis?password=geheim",
        "postgresql://db/gis?sslpassword=geheim",
    ],
)
def test_a_user_or_a_password_in_the_address_is_refused_and_not_repeated(text):
    with pytest.raises(
        SettingsError, match=r"^cores\.path: found a user or a password.*service=NAME.*PGPASSWORD"
    ) as error:
        address_of(text, "cores.path")
    assert "heim" not in str(error.value)
    assert shown(text) == "postgresql://..."


@pytest.mark.parametrize(
    ("text", "what"),
    [
        ("postgresql://db/gis?options=geheim", "1 parameter"),
        ("postgresql://db:geheim/gis", "cannot be read"),
        ("postgresql://db", "names no database"),
        ("postgresql://", "names no database"),
    ],
)
def test_an_address_that_cannot_be_used_is_refused_and_not_repeated(text, what):
    with pytest.raises(SettingsError, match=what) as error:
        address_of(text, "cores.path")
    assert "geheim" not in str(error.value)


def test_users_and_passwords_are_taken_out_of_texts():
    text = "a postgresql://me:se/c@ret@db/x b password='two words' c user=me"
    assert without_credentials(text) == "a postgresql://...@db/x b password=... c user=..."


def test_without_psycopg_the_extra_is_named(monkeypatch):
    monkeypatch.setitem(sys.modules, "psycopg", None)
    with (
        pytest.raises(SettingsError, match=re.escape("pip install 'kerfbook[database]'")),
        connected("postgresql:///gis", "cores.path"),
    ):
        pass


def test_a_connection_reads_dates_and_text_in_one_way_and_cannot_write(database):
    with connected(database.address, "cores.path") as connection:
        asked = "SELECT current_setting('DateStyle'), current_setting('client_encoding'), current_setting('application_name')"
        assert connection.execute(asked).fetchone() == ("ISO, YMD", "UTF8", "kerfbook")
    with pytest.raises(InputError, match="may only read"), connected(database.address, "cores.path") as connection:
        connection.execute("CREATE TABLE a (b int)")
    with connected(database.address, "publish.database", writes=True) as connection, connection.transaction():
        connection.execute("CREATE TABLE a (b int)")
    assert database.rows("SELECT count(*) FROM a") == [(0,)]


def test_the_options_of_the_user_hold(database, monkeypatch):
    monkeypatch.setenv("PGOPTIONS", "-c statement_timeout=50")
    with pytest.raises(InputError, match="Allow more time"), connected(database.address, "cores.path") as connection:
        connection.execute("SELECT pg_sleep(5)")


def test_a_service_and_a_password_file_let_in(database, monkeypatch, tmp_path):
    monkeypatch.delenv("PGUSER")
    monkeypatch.delenv("PGPASSWORD")
    services, passwords = tmp_path / "services", tmp_path / "passwords"
    services.write_text(f"[town]\nhost=127.0.0.1\nport={database.server.port}\nuser={OWNER}\ndbname={database.name}\n")
    passwords.write_text(f"*:*:*:{OWNER}:{PASSWORD}\n")
    passwords.chmod(0o600)
    monkeypatch.setenv("PGSERVICEFILE", str(services))
    monkeypatch.setenv("PGPASSFILE", str(passwords))
    with connected("postgresql:///?service=town", "cores.path") as connection:
        assert connection.execute("SELECT current_user").fetchone() == (OWNER,)
    with (
        pytest.raises(InputError, match=r'^postgresql:///\?service=villa: .*service .*"villa" not found'),
        connected("postgresql:///?service=villa", "cores.path"),
    ):
        pass


def _refused(address, error=InputError, **more):
    with pytest.raises(error) as caught, connected(address, "cores.path", **more):
        pass
    text = str(caught.value)
    assert OWNER not in text
    assert PASSWORD not in text
    # nor by what the error came from
    assert caught.value.__cause__ is None
    return text


def test_what_keeps_a_connection_from_being_made_is_told(database, monkeypatch):
    # what libpq writes on two lines
    assert "Connection refused. Is the server running" in _refused("postgresql://127.0.0.1:1/gis")
    assert "Check the address in cores.path" in _refused("postgresql://127.0.0.1:1/gis", OutputError, writes=True)
    missing = database.address.replace(database.name, "villa")
    assert _refused(missing).startswith(f"{missing}: ")
    assert 'database "villa" does not exist' in _refused(missing)
    assert "host" in _refused("postgresql://no-such-host.invalid/gis")
    monkeypatch.setenv("PGPASSWORD", "wrong-4711")
    wrong = _refused(database.address)
    assert "refuses the user or the password" in wrong
    assert "wrong-4711" not in wrong
    monkeypatch.delenv("PGPASSWORD")
    assert "asks for a password, and none is known" in _refused(database.address)


def _ended(database):
    with connected(database.address, "cores.path") as connection:
        database.run(f"SELECT pg_terminate_backend({connection.info.backend_pid})")
        connection.execute("SELECT 1")


def test_a_connection_that_ends_in_the_middle_is_told(database):
    with pytest.raises(InputError, match="ended the connection") as caught:
        _ended(database)
    assert OWNER not in str(caught.value)


def test_a_role_in_a_message_of_the_server_is_not_shown(database):
    with (
        pytest.raises(InputError, match=r'relation "pg_catalog\.\.\.\."') as caught,
        connected(database.address, "a") as connection,
    ):
        connection.execute(f'SELECT * FROM pg_catalog."{OWNER}"')
    assert OWNER not in str(caught.value)
