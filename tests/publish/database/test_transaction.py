"""What can go wrong while a run is written into a real database: in it and in the folder all stays as it was."""

import time
from pathlib import Path

import psycopg
import pytest

from pipeline.errors import OutputError
from pipeline.publish import exchange
from pipeline.publish.database.transaction import RunTransaction
from tests.postgres import PASSWORD
from tests.publish.database.runs import TABLES, Updates, counts, frame, is_ours, keep

_END = "SELECT pg_terminate_backend(pid) FROM pg_stat_activity WHERE application_name = 'kerfbook' AND datname = current_database()"


@pytest.fixture(params=["a first run", "a run made again"])
def before(request, database, small_town, tmp_path):
    """What is in database and folder before something goes wrong; ``unchanged()`` checks that it still is."""
    out = tmp_path / "out"
    if request.param == "a run made again":
        keep(database, small_town, out)

    def state():
        files = {str(file.relative_to(out)): file.read_bytes() for file in out.rglob("*") if file.is_file()}
        tables = {name: frame(database, name, "1").astype(str).to_numpy().tolist() for name in counts(database)}
        return files, tables

    as_it_was = state()

    class Before:
        folder = out
        is_first = as_it_was == ({}, {})

        def keep(self, told=lambda *_: None):
            # another time zone: the folder that is there is to be replaced
            return keep(database, small_town, out, told, timezone="Europe/Paris")

        def unchanged(self):
            return state() == as_it_was

    return Before()


def _refused(before, told=lambda *_: None):
    with pytest.raises(OutputError) as refused:
        before.keep(told)
    said = str(refused.value)
    assert PASSWORD not in said
    assert before.unchanged()
    assert not isinstance(refused.value.__cause__, psycopg.Error)
    return said


def _slow(database, statement="pg_sleep(30)"):
    """Let each row of orders take long, or be refused."""
    database.run(
        f"CREATE FUNCTION public.slow() RETURNS trigger LANGUAGE plpgsql AS $$ BEGIN PERFORM {statement}; RETURN NEW; END $$",
        "CREATE TRIGGER slow BEFORE INSERT ON kerfbook.orders FOR EACH ROW EXECUTE FUNCTION public.slow()",
    )


@pytest.mark.parametrize("at", [1, 2, 7])
def test_a_connection_that_is_lost_while_rows_are_written(database, before, at):
    said = _refused(before, Updates(lambda: database.run(_END), at))
    assert "the connection ended before the run was kept (terminating connection due to administrator command)" in said
    assert "Nothing of this run was written" in said
    assert "The server ended the connection; run again when it is up." in said
    before.keep()
    assert counts(database)["runs"] == 1


def test_a_connection_that_is_lost_once_the_folder_is_there(database, before, monkeypatch):
    settle = RunTransaction.settle

    def settled(self, folder):
        assert (folder / "cores.csv").exists()
        database.run(_END)
        settle(self, folder)

    monkeypatch.setattr(RunTransaction, "settle", settled)
    assert "terminating connection" in _refused(before)


@pytest.mark.parametrize("is_kept", [True, False])
def test_a_connection_that_is_lost_while_it_commits_is_asked_about_anew(database, before, monkeypatch, is_kept):
    """Whether the server got as far as keeping the run is found out by the number of the transaction."""
    commit = psycopg.Connection.commit

    def lost(self):
        if not is_ours(self):
            return commit(self)
        if is_kept:
            commit(self)
        self.close()
        raise psycopg.OperationalError("server closed the connection unexpectedly")

    monkeypatch.setattr(psycopg.Connection, "commit", lost)
    if is_kept:
        folder = before.keep()
        assert (folder / "run.json").exists()
        assert frame(database, "runs", "run")["record"][0]["settings"]["programme"]["timezone"] == "Europe/Paris"
    else:
        assert "the connection ended before the run was kept (server closed" in _refused(before)


def test_a_server_that_is_gone_for_good_while_it_commits_leaves_the_folder_before(database, before, monkeypatch):
    commit = psycopg.Connection.commit

    def lost(self):
        if not is_ours(self):
            return commit(self)
        self.close()
        # nobody can be asked any more
        monkeypatch.setenv("PGPASSWORD", "another")
        raise psycopg.OperationalError("server closed the connection unexpectedly")

    monkeypatch.setattr(psycopg.Connection, "commit", lost)
    monkeypatch.setattr(time, "sleep", lambda _: None)
    said = _refused(before)
    assert "it cannot be found out whether the database kept it. Its folder is as it was before. Run again" in said
    assert database.address in said


def test_a_statement_that_takes_too_long(database, small_town, tmp_path, monkeypatch):
    keep(database, small_town, tmp_path)
    kept = counts(database)
    _slow(database)
    monkeypatch.setenv("PGOPTIONS", "-c statement_timeout=500ms")
    with pytest.raises(
        OutputError, match=r"canceling statement due to statement timeout.*Allow more time: statement_timeout"
    ):
        keep(database, small_town, tmp_path, name="Bay")
    assert counts(database) == kept
    assert not (tmp_path / "bay" / "2026-09-30").exists()


@pytest.mark.parametrize("lock", ["LOCK TABLE kerfbook.plan IN ACCESS EXCLUSIVE MODE", "a run"])
def test_a_table_that_somebody_keeps_locked(database, small_town, tmp_path, monkeypatch, lock):
    keep(database, small_town, tmp_path)
    kept = counts(database)
    monkeypatch.setenv("PGOPTIONS", "-c lock_timeout=300ms")

    def try_another():
        with pytest.raises(
            OutputError, match=r"canceling statement due to lock timeout.*somebody keeps its tables locked"
        ):
            keep(database, small_town, tmp_path, name="Bay")

    if lock == "a run":
        keep(database, small_town, tmp_path, Updates(try_another))
    else:
        with database.connect() as other:
            other.autocommit = False
            other.execute(lock)
            try_another()
    assert counts(database) == kept
    assert not (tmp_path / "bay" / "2026-09-30").exists()


@pytest.mark.parametrize(
    ("state", "advice"),
    [
        ("53100", "The disk of the server is full; have its administrator free some space."),
        ("53200", "The server has no room for it just now"),
        ("40P01", "Others changed the same rows meanwhile; run again."),
        ("23514", "A table has a rule of its own that these rows break"),
        ("XX000", "Run again; if it happens again, ask the server's administrator."),
    ],
)
def test_a_server_that_cannot_go_on_says_why_and_what_to_do(database, small_town, tmp_path, state, advice):
    keep(database, small_town, tmp_path)
    kept = counts(database)
    database.run(
        "CREATE FUNCTION public.refuse() RETURNS trigger LANGUAGE plpgsql AS "
        f"$$ BEGIN RAISE EXCEPTION 'no more' USING ERRCODE = '{state}'; END $$",
        "CREATE TRIGGER refuse BEFORE INSERT ON kerfbook.plan FOR EACH ROW EXECUTE FUNCTION public.refuse()",
    )
    with pytest.raises(OutputError, match=rf"the database refused the run \(no more\)\. .*{advice}"):
        keep(database, small_town, tmp_path, name="Bay")
    assert counts(database) == kept


def test_a_folder_that_cannot_be_put_in_place_leaves_the_database_too(before, monkeypatch):
    real = Path.rename

    def refuse(self, other):
        if self.name.startswith(".2026") and not self.name.endswith(".old"):
            raise OSError(28, "No space left on device")
        return real(self, other)

    monkeypatch.setattr(Path, "rename", refuse)
    # as on a system that cannot exchange two folders in one step
    monkeypatch.setattr(exchange, "_exchange", lambda *_: False)
    assert "No space left" in _refused(before)


def test_a_right_that_is_taken_away_during_the_run(database, small_town, tmp_path):
    keep(database, small_town, tmp_path)
    database.run("ALTER DATABASE " + database.name + " SET default_transaction_read_only = on")
    with pytest.raises(OutputError, match="read-only transaction"):
        keep(database, small_town, tmp_path, name="Bay")
    assert counts(database) == dict.fromkeys(TABLES, 0) | counts(database)
    assert counts(database)["runs"] == 1
