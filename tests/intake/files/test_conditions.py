"""A condition selects rows and does nothing else."""

import sqlite3
from contextlib import closing

import pytest

from pipeline.errors import SettingsError
from pipeline.intake.files.conditions import confine, refuse_statement


@pytest.mark.parametrize(
    "condition",
    [
        "class = 'main' AND (width > 3 OR \"road name\" IS NULL)",
        "note = 'select; drop -- it' OR note = 'O''Hara (SELECT 1)'",
        '"select" = 1',
        "id IN (1, 2) AND lower(street) LIKE 'q%' AND NOT (a BETWEEN (1) AND (2))",
        "CAST(width AS numeric(10,2)) > 3",
        "ST_Area(geom) > 10",
        "highway = 'residential' AND HSTORE_GET_VALUE(other_tags, 'surface') = 'asphalt'",
        "street ILIKE 'quay%'",
        "selected = 1 AND created > '2026-01-01'",
    ],
)
def test_a_condition_on_the_columns_passes(condition):
    refuse_statement(condition, "roads.where")


@pytest.mark.parametrize(
    ("condition", "what"),
    [
        ("1 = 1; VACUUM INTO 'x.db'", "';'"),
        ("id IN (SELECT id FROM other)", "'SELECT'"),
        ("1) UNION select 1 FROM t WHERE (1", "'select'"),
        ("1 -- no more", "'--'"),
        ("1 /* no more", "'/*'"),
        ("load_extension('x')", "the function 'load_extension'"),
        ("ogr_geocode('Quay') IS NULL", "the function 'ogr_geocode'"),
        ("\"writefile\" ('x', 'y')", "the function 'writefile'"),
        ("[readfile]('x')", "the function 'readfile'"),
        ("id IN pragma_table_info('t')", "the function 'pragma_table_info'"),
    ],
)
def test_a_statement_or_a_function_of_other_things_is_refused(condition, what):
    with pytest.raises(SettingsError) as error:
        refuse_statement(condition, "roads.where")
    assert str(error.value) == (
        f"roads.where: found {condition!r}, expected a condition on the columns of the file, such as "
        f"\"class <> 'trail'\"; {what} is not allowed in one. Correct it."
    )


def test_a_confined_database_reads_its_tables_and_nothing_more(tmp_path):
    with closing(sqlite3.connect(":memory:")) as database:
        database.executescript("CREATE TABLE t (a); INSERT INTO t VALUES (1);")
        confine(database)
        assert database.execute("SELECT lower(a) FROM t WHERE abs(a) = 1").fetchall() == [("1",)]
        for statement in (
            f"ATTACH '{tmp_path / 'x.db'}' AS x",
            f"VACUUM INTO '{tmp_path / 'x.db'}'",
            "DELETE FROM t",
            "PRAGMA journal_mode",
        ):
            with pytest.raises(sqlite3.DatabaseError):
                database.execute(statement)
    assert list(tmp_path.iterdir()) == []
