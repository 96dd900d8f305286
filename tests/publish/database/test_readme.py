"""What the README tells an administrator, and who looks at runs, is so in a real database."""

import re
from pathlib import Path

import psycopg
import pytest

from tests.publish.database.runs import TABLES, counts, keep

_SECTION = (
    (Path(__file__).parents[3] / "README.md")
    .read_text("utf-8")
    .split("## Keep runs in a database")[1]
    .split("\n## ")[0]
)
_ROLES = ("auditor", "viewer")


@pytest.fixture
def prepared(database, monkeypatch, small_town, tmp_path):
    """A database that an administrator prepared as the README says, with a run by the user who audits."""
    database.run(*(f"CREATE ROLE {role} LOGIN PASSWORD 'x'" for role in _ROLES))
    (statements,) = re.findall(r"```sql\n(.*?)```", _SECTION, re.DOTALL)
    database.run(*re.sub(r"--.*", "", statements).strip().rstrip(";").split(";"))
    monkeypatch.setenv("PGUSER", "auditor")
    monkeypatch.setenv("PGPASSWORD", "x")
    keep(database, small_town, tmp_path)
    yield database
    database.run(*(f"DROP OWNED BY {role} CASCADE" for role in _ROLES), *(f"DROP ROLE {role}" for role in _ROLES))


def _as(database, role):
    return psycopg.connect(
        host=str(database.server.folder), port=database.server.port, dbname=database.name, user=role, autocommit=True
    )


def test_the_statements_suffice_for_those_who_audit_and_those_who_look(prepared):
    with _as(prepared, "viewer") as viewer:
        for name in TABLES:
            for seen in (name, f"{name}_latest"):
                assert viewer.execute(f"SELECT count(*) > 0 FROM kerfbook.{seen}").fetchone() == (True,)
        with pytest.raises(psycopg.errors.InsufficientPrivilege):
            viewer.execute("DELETE FROM kerfbook.runs")


def test_the_tables_and_views_are_those_that_it_names(prepared):
    rows = [line.split("|")[1] for line in _SECTION.splitlines() if line.startswith("| `")]
    assert (
        sorted(name for row in rows for name in re.findall("`(.*?)`", row))
        == sorted(counts(prepared))
        == sorted(TABLES)
    )
    views = set(re.findall(r"`(\w+_latest)`", _SECTION))
    assert {f"{name}_latest" for name in TABLES} == views


def test_what_it_shows_in_sql_works(prepared):
    with _as(prepared, "auditor") as auditor:
        (permit,) = re.findall(r"`(own_columns ->> '\w+')`", _SECTION)
        permits = auditor.execute(f"SELECT DISTINCT {permit} FROM kerfbook.cores").fetchall()
        assert permits == [("=P-1+1",)]
        # a thousandth of a degree of longitude at 44.8 degrees north: by hand, 111.320 km x cos 44.8 / 1000 = 79.0 m
        ((apart,),) = auditor.execute(
            "SELECT ST_Distance(a.geom::geography, b.geom::geography) FROM kerfbook.cores_latest a, kerfbook.cores_latest b "
            "WHERE a.core_id = 'HV-1' AND b.core_id = 'HV-2'"
        ).fetchall()
        assert apart == pytest.approx(79.0, abs=0.3)
        kept = auditor.execute("SELECT count(*) FROM kerfbook.cores_latest WHERE copy_of IS NULL").fetchone()
        assert kept == (7,)
        days = auditor.execute(
            "SELECT DISTINCT opened_date, reinstated_date FROM kerfbook.cores_latest ORDER BY 2"
        ).fetchall()
        assert [[str(day) for day in row] for row in days] == [["2026-08-01", "2026-08-03"], ["2026-08-01", "None"]]
        (delete,) = re.findall(r"`(DELETE FROM kerfbook\.runs .*?)`", _SECTION)
        auditor.execute(delete.replace("2026-01-01", "2027-01-01"))
    assert counts(prepared) == dict.fromkeys(TABLES, 0)
