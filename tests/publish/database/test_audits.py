"""Whole audits that are kept in a database: what is printed and written, and that no credential is in any of it."""

import re
import signal
import subprocess
import sys
import zipfile
from pathlib import Path

import psycopg
import pytest

from pipeline import cli
from pipeline.errors import SettingsError
from pipeline.run import run_programme
from tests.postgres import OWNER, PASSWORD
from tests.publish.database.runs import counts, frame, is_ours
from tests.small_town import write_town

# sends itself what the keyboard sends when the first rows of the database are written
_INTERRUPTED = """
import os, signal, sys
from pipeline.cli.progress import _Lines
signal.signal(signal.SIGINT, signal.default_int_handler)
told, seen = _Lines.detail, []
def detail(self, text, *rest):
    told(self, text, *rest)
    seen.append(text == "database")
    if sum(seen) == at:
        os.kill(os.getpid(), signal.SIGINT)
_Lines.detail = detail
from pipeline.cli import main
at = int(sys.argv.pop())
main()
"""


def _town(folder, table):
    return write_town(folder, f"[publish]\ndatabase = {table}\n")


def _audit(monkeypatch, capsys, *arguments):
    """Run the command, and return its exit code and all that it printed."""
    monkeypatch.setattr(sys, "argv", ["kerfbook", "audit", *map(str, arguments)])
    handlers = {number: signal.getsignal(number) for number in (signal.SIGINT, signal.SIGTERM)}
    code = 0
    try:
        cli.main()
    except SystemExit as ended:
        code = ended.code
    finally:
        for number, handler in handlers.items():
            signal.signal(number, handler)
    printed = capsys.readouterr()
    return code, printed.out + printed.err


def _everything(folder):
    """All bytes of the files of a folder, and of those inside zipped ones."""
    for file in folder.rglob("*"):
        if file.is_file():
            yield str(file), file.read_bytes()
        if file.suffix in {".zip", ".xlsx"}:
            with zipfile.ZipFile(file) as packed:
                yield from ((f"{file}/{name}", packed.read(name)) for name in packed.namelist())


def _dump(database):
    """Everything that the database holds, definitions and comments included, as text."""
    with database.connect() as connection:
        names = [
            name
            for (name,) in connection.execute(
                "SELECT relname FROM pg_class WHERE relnamespace = 'kerfbook'::regnamespace AND relkind IN ('r', 'v')"
            )
        ]
        rows = [str(connection.execute(f"SELECT * FROM kerfbook.{name}").fetchall()) for name in names]
        said = connection.execute(
            "SELECT description FROM pg_description JOIN pg_class c ON c.oid = objoid WHERE relnamespace = 'kerfbook'::regnamespace"
        )
        return "".join([*rows, str(said.fetchall())]).encode()


def test_an_audit_says_where_its_run_is_and_shows_no_credential(database, tmp_path, monkeypatch, capsys):
    programme = _town(tmp_path, f'{{ path = "{database.address}?sslmode=prefer" }}')
    code, printed = _audit(monkeypatch, capsys, programme, "--out", tmp_path / "out")
    assert code == 0
    assert f"Database: {database.address}, schema kerfbook\n" in printed
    (folder,) = (tmp_path / "out" / "quay-2026").iterdir()
    report = re.sub("<.*?>", "", (folder / "report.html").read_text())
    assert f"This run is also kept in a database: {database.address}, schema kerfbook." in report
    written = {**dict(_everything(tmp_path / "out")), "printed": printed.encode(), "database": _dump(database)}
    assert b"HV-shifted" in written["database"]
    assert [
        name for name, content in written.items() if PASSWORD.encode() in content or OWNER.encode() in content
    ] == []
    # where the utility keeps its runs is not the road authority's business
    port = str(database.server.port).encode()
    named = {
        Path(name).name for name, content in written.items() if database.name.encode() in content and port in content
    }
    assert named == {"run.json", "report.html", "printed", "database"}


def test_a_service_is_enough(database, tmp_path, monkeypatch):
    (tmp_path / "services").write_text(
        f"[town]\nhost=127.0.0.1\nport={database.server.port}\ndbname={database.name}\nuser={OWNER}\npassword={PASSWORD}\n"
    )
    monkeypatch.delenv("PGUSER")
    monkeypatch.delenv("PGPASSWORD")
    monkeypatch.setenv("PGSERVICEFILE", str(tmp_path / "services"))
    run_programme(_town(tmp_path, '{ service = "town" }'), tmp_path / "out")
    assert counts(database)["runs"] == 1
    written = [*_everything(tmp_path / "out"), ("database", _dump(database))]
    assert [name for name, content in written if PASSWORD.encode() in content or OWNER.encode() in content] == []


def test_the_answers_and_the_identity_are_those_of_a_run_without_a_database(database, tmp_path, small_town):
    programme, _ = small_town
    (tmp_path / "town").mkdir()
    made = _town(tmp_path / "town", f'{{ path = "{database.address}" }}')
    folder = run_programme(made, tmp_path / "out").folder
    without = programme.parent / "out" / folder.parent.name / folder.name
    files = [str(file.relative_to(without)) for file in without.rglob("*") if file.is_file()]
    other = [name for name in files if (without / name).read_bytes() != (folder / name).read_bytes()]
    # the programme file differs, and with it whatever holds its checksum or the run's identity
    assert {name.split("/")[0] for name in other} <= {
        "run.json",
        "report.html",
        "map.html",
        "handover",
        "handover.zip",
        "basis",
    }
    assert not {name for name in other if name.endswith((".csv", ".parquet", ".gpkg", ".xlsx"))} - {
        "handover/SHA256SUMS"
    }


def test_nothing_is_written_into_a_database_by_a_run_that_writes_nothing(database, tmp_path):
    run_programme(_town(tmp_path, f'{{ path = "{database.address}" }}'), None)
    assert counts(database) == {}


@pytest.mark.usefixtures("database")
def test_a_database_out_of_reach_is_found_before_the_inputs_are_read(tmp_path, monkeypatch, capsys):
    programme = _town(tmp_path, '{ path = "postgresql://127.0.0.1:1/town" }')
    (tmp_path / "cores.csv").unlink()
    code, printed = _audit(monkeypatch, capsys, programme, "--out", tmp_path / "out")
    assert code == 4
    assert "Error: postgresql://127.0.0.1:1/town: no connection to the database" in printed
    assert not (tmp_path / "out").exists()


def test_a_wrong_password_is_found_at_once_and_not_shown(database, tmp_path, monkeypatch, capsys):
    monkeypatch.setenv("PGPASSWORD", "wrong-and-secret")
    programme = _town(tmp_path, f'{{ path = "{database.address}" }}')
    code, printed = _audit(monkeypatch, capsys, programme, "--out", tmp_path / "out")
    assert code == 4
    assert "the database refuses the user or the password" in printed
    assert "wrong-and-secret" not in printed


@pytest.mark.parametrize("at", [1, 3, 7])
def test_an_interrupted_run_is_in_neither(database, tmp_path, at):
    out = tmp_path / "out"
    programme = _town(tmp_path, f'{{ path = "{database.address}" }}')
    command = [sys.executable, "-c", _INTERRUPTED, "audit", str(programme), "--out", str(out), str(at)]
    done = subprocess.run(command, capture_output=True, text=True, cwd=Path(__file__).parents[3], check=False)
    assert done.returncode == 130, done.stderr
    assert done.stderr.endswith("Interrupted. No outputs were written.\n")
    assert not [file for file in out.rglob("*") if file.is_file()]
    assert counts(database) == {}


def test_one_who_interrupts_while_the_run_is_being_kept_gets_it_whole(database, tmp_path, monkeypatch, capsys):
    """The folder is there and the database commits: what comes from the keyboard then is let go."""
    commit = psycopg.Connection.commit

    def interrupted(self):
        if is_ours(self):
            signal.raise_signal(signal.SIGINT)
        commit(self)

    monkeypatch.setattr(psycopg.Connection, "commit", interrupted)
    programme = _town(tmp_path, f'{{ path = "{database.address}" }}')
    code, _ = _audit(monkeypatch, capsys, programme, "--out", tmp_path / "out")
    assert code == 0
    assert len(frame(database, "runs", "run")) == len([*(tmp_path / "out").rglob("run.json")]) == 1


def test_a_database_without_its_library_is_found_before_the_inputs_are_read(tmp_path, monkeypatch):
    monkeypatch.setitem(sys.modules, "psycopg", None)
    programme = _town(tmp_path, '{ path = "postgresql://db/town" }')
    (tmp_path / "cores.csv").unlink()
    with pytest.raises(SettingsError, match=r"publish\.database: a database needs the library psycopg.*\[database\]"):
        run_programme(programme, tmp_path / "out")
