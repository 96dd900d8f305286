"""A schema that an earlier version made, or that somebody has changed since."""

import pytest

from pipeline.errors import OutputError
from tests.publish.database.runs import counts, frame, keep


@pytest.fixture
def older(database, small_town, tmp_path):
    """A database as a version without two of the columns left it."""
    keep(database, small_town, tmp_path)
    database.run(
        "DROP VIEW kerfbook.cores_latest",
        "ALTER TABLE kerfbook.cores DROP road_class, DROP core_kg, ADD our_note text DEFAULT 'mine'",
    )
    left = database.rows(
        "SELECT attname FROM pg_attribute WHERE attrelid = 'kerfbook.cores'::regclass AND attnum > 0 AND NOT attisdropped "
        "AND attname NOT IN ('id', 'run', 'our_note') ORDER BY attnum"
    )
    database.run(
        "CREATE VIEW kerfbook.cores_latest AS SELECT c.id, c.run, r.programme, r.as_of, left(opened_on, 10)::date AS "
        f"opened_date, left(reinstated_at, 10)::date AS reinstated_date, {', '.join(name for (name,) in left)} "
        "FROM kerfbook.cores c JOIN kerfbook.runs r USING (run)",
        "COMMENT ON VIEW kerfbook.cores_latest IS 'Kerfbook: of an older version'",
        "CREATE VIEW public.ours AS SELECT id, status, geom FROM kerfbook.cores_latest",
    )
    return database


def test_a_missing_column_is_added_and_described_and_what_others_made_stays(older, small_town, tmp_path):
    keep(older, small_town, tmp_path, name="Bay")
    cores, seen = frame(older, "cores"), frame(older, "cores_latest")
    first = cores["run"].eq(1)
    assert cores.loc[first, "road_class"].isna().all()
    assert cores.loc[~first, "core_kg"].dropna().tolist() == small_town[1].table["core_kg"].dropna().tolist() != []
    assert set(cores["our_note"]) == {"mine"}
    # those of a view that others use stay in their places
    assert [*seen][-3:] == ["our_note", "road_class", "core_kg"] or [*seen][-3:] == [
        "our_note",
        "core_kg",
        "road_class",
    ]
    assert len(seen) == 14
    assert older.rows("SELECT count(*) FROM public.ours") == [(14,)]
    ((said,),) = older.rows(
        "SELECT col_description(attrelid, attnum) FROM pg_attribute "
        "WHERE attrelid = 'kerfbook.cores'::regclass AND attname = 'core_kg'"
    )
    assert said.startswith("Weight of the core (kg): ")


def test_a_view_that_cannot_be_made_anew_is_an_error_that_says_what_to_drop(older, small_town, tmp_path):
    older.run("DROP VIEW public.ours", "DROP VIEW kerfbook.cores_latest")
    older.run(
        "CREATE VIEW kerfbook.cores_latest AS SELECT 1 AS other",
        "COMMENT ON VIEW kerfbook.cores_latest IS 'Kerfbook: of another version'",
    )
    with pytest.raises(OutputError, match="A view has to be made anew: drop the views of the schema"):
        keep(older, small_town, tmp_path, name="Bay")
    assert counts(older)["runs"] == 1
    assert "core_kg" not in frame(older, "cores")
    older.run("DROP VIEW kerfbook.cores_latest")
    keep(older, small_town, tmp_path, name="Bay")
    assert len(frame(older, "cores_latest")) == 14


def test_a_schema_that_is_as_it_should_be_is_not_altered(database, small_town, tmp_path, monkeypatch):
    """Otherwise each run would wait for everybody who looks at a view."""
    monkeypatch.setenv("PGOPTIONS", "-c lock_timeout=2s")
    keep(database, small_town, tmp_path)
    query = (
        "SELECT oid, xmin::text FROM pg_class WHERE relnamespace = 'kerfbook'::regnamespace AND relkind IN ('r', 'v')"
    )
    before = database.rows(query)
    with database.connect() as looking:
        looking.autocommit = False
        assert len(looking.execute("SELECT * FROM kerfbook.cores_latest").fetchall()) == 7
        keep(database, small_town, tmp_path, name="Bay")
    assert database.rows(query) == before


def test_comments_that_a_later_version_words_anew_are_renewed(database, small_town, tmp_path):
    keep(database, small_town, tmp_path)
    database.run("COMMENT ON COLUMN kerfbook.cores.status IS 'as it was called'")
    keep(database, small_town, tmp_path)
    ((said,),) = database.rows(
        "SELECT col_description(attrelid, attnum) FROM pg_attribute "
        "WHERE attrelid = 'kerfbook.cores'::regclass AND attname = 'status'"
    )
    assert said.startswith("Status: ")
