"""GeoPackages: data of their own only, with the part of it that is still in the log."""

import sqlite3
from contextlib import closing

import pytest

from pipeline.errors import InputError
from pipeline.intake.files.databases import refuse_endless_views, refuse_links_in_database, settled_copy


def _database(path, *statements):
    with closing(sqlite3.connect(path)) as database, database:
        for statement in statements:
            database.execute(statement)
    return path


def _declare(path, name, sql):
    """Write a table into the schema whose module this SQLite does not have."""
    with closing(sqlite3.connect(path)) as database, database:
        database.execute("PRAGMA writable_schema = 1")
        database.execute("INSERT INTO sqlite_master VALUES ('table', ?, ?, 0, ?)", (name, name, sql))


def test_tables_views_and_indexes_of_its_own_pass(tmp_path):
    path = _database(
        tmp_path / "a.gpkg",
        "CREATE TABLE t (a, ogr_fid, exported_on)",
        "CREATE VIEW v AS SELECT lower(a) FROM t JOIN t AS u USING (a)",
        "CREATE VIRTUAL TABLE r USING rtree(id, minx, maxx)",
    )
    refuse_links_in_database(path, "a.gpkg")


@pytest.mark.parametrize(
    "sql",
    [
        "CREATE VIRTUAL TABLE x USING VirtualOGR('/etc/hostname')",
        "create virtual table x using VirtualShape('a', 'UTF-8', 1)",
        "CREATE VIRTUAL TABLE x /* USING rtree */ USING VirtualXPath(1)",
        'CREATE VIRTUAL TABLE x USING "VirtualOGR"(1)',
    ],
)
def test_a_table_that_takes_its_data_from_elsewhere_is_refused(tmp_path, sql):
    path = _database(tmp_path / "a.gpkg", "CREATE TABLE t (a)")
    _declare(path, "x", sql)
    with pytest.raises(InputError) as error:
        refuse_links_in_database(path, "a.gpkg")
    assert str(error.value) == (
        "a.gpkg: 'x' in it is a link to other data, not data; expected tables that hold the data. Export the layer to a "
        "new file."
    )


def test_an_index_in_a_name_hides_no_link(tmp_path):
    path = _database(tmp_path / "a.gpkg", "CREATE TABLE t (a)")
    _declare(path, "x USING rtree(", 'CREATE VIRTUAL TABLE "x USING rtree(" USING VirtualOGR(1)')
    with pytest.raises(InputError, match=r"'x USING rtree\(' in it is a link to other data"):
        refuse_links_in_database(path, "a.gpkg")


@pytest.mark.parametrize(
    "sql",
    [
        "CREATE VIEW x AS SELECT ogr_geocode(a) FROM t",
        "CREATE VIEW x AS SELECT \"gdal_get_pixel_value\"('x', 1, 'georef', 1, 1) FROM t",
        "CREATE TRIGGER x AFTER INSERT ON t BEGIN SELECT load_extension('x'); END",
    ],
)
def test_a_view_or_a_trigger_that_reaches_outside_is_refused(tmp_path, sql):
    path = _database(tmp_path / "a.gpkg", "CREATE TABLE t (a)", sql)
    with pytest.raises(InputError, match="'x' in it is a link to other data"):
        refuse_links_in_database(path, "a.gpkg")


def test_a_file_that_is_no_database_is_refused(tmp_path):
    (tmp_path / "a.gpkg").write_bytes(b"SQLite format 3\x00" + b"?" * 500)
    with pytest.raises(
        InputError, match=r"^a\.gpkg: cannot be read as a map layer \(.*\)\. Check that the file is compl"
    ):
        refuse_links_in_database(tmp_path / "a.gpkg", "a.gpkg")


def test_a_database_at_rest_is_read_where_it_lies(tmp_path):
    path = _database(tmp_path / "a.gpkg", "CREATE TABLE t (a)")
    assert settled_copy(path, "a.gpkg", tmp_path) == path


def test_what_is_only_in_the_log_is_read_and_nothing_is_made_beside_the_input(tmp_path):
    folder, scratch = tmp_path / "inputs", tmp_path / "scratch"
    folder.mkdir()
    scratch.mkdir()
    writer = sqlite3.connect(folder / "a.gpkg")
    writer.execute("PRAGMA journal_mode = WAL")
    writer.execute("PRAGMA wal_autocheckpoint = 0")
    writer.execute("CREATE TABLE t (a)")
    writer.execute("INSERT INTO t VALUES ('in the log')")
    writer.commit()
    before = {file.name: file.read_bytes() for file in folder.iterdir() if not file.name.endswith("-shm")}
    copy = settled_copy(folder / "a.gpkg", "a.gpkg", scratch)
    with closing(sqlite3.connect(copy)) as database:
        assert database.execute("SELECT a FROM t").fetchall() == [("in the log",)]
    assert {file.name for file in copy.parent.iterdir()} == {"a.gpkg"}
    assert {name: (folder / name).read_bytes() for name in before} == before
    assert before["a.gpkg-wal"]
    writer.close()


def test_a_change_that_was_never_finished_is_refused(tmp_path):
    path = _database(tmp_path / "a.gpkg", "CREATE TABLE t (a)")
    journal = tmp_path / "a.gpkg-journal"
    # the first bytes of a journal in SQLite's file format; zeros once the change is finished
    journal.write_bytes(bytes.fromhex("d9d505f920a163d7") + bytes(20))
    with pytest.raises(
        InputError, match=r"^a\.gpkg: a change to it was never finished \(a\.gpkg-journal is beside it\)"
    ):
        settled_copy(path, "a.gpkg", tmp_path)
    journal.write_bytes(bytes(28))
    assert settled_copy(path, "a.gpkg", tmp_path) == path


_ENDLESS = "WITH RECURSIVE r(n) AS (SELECT 1 UNION ALL SELECT n + 1 FROM r) "


@pytest.mark.parametrize(
    ("view", "is_refused"),
    [
        (f"{_ENDLESS}SELECT n, name FROM r, roads", True),
        (f"{_ENDLESS}SELECT name FROM roads WHERE (SELECT max(n) FROM r) > 0", True),
        (f"{_ENDLESS}SELECT name, (SELECT max(n) FROM r) AS other FROM roads", True),
        ("SELECT a.name FROM " + ", ".join(f"roads {letter}" for letter in "abcdefg"), True),
        (f"{_ENDLESS}SELECT n, ST_Area(n) FROM r", True),
        (f"{_ENDLESS}SELECT n FROM r LIMIT 5", False),
        ("SELECT name, ST_Length(name), ST_Area(name) FROM roads", False),
        # it fails, and whoever reads it says so
        ("SELECT name FROM elsewhere", False),
        ('SELECT "a b"(name) FROM roads', True),
    ],
)
def test_a_view_that_does_not_end_is_refused(tmp_path, monkeypatch, view, is_refused):
    monkeypatch.setattr("pipeline.intake.files.databases._MOST_THOUSANDS", 300)
    with closing(sqlite3.connect(tmp_path / "a.gpkg")) as database:
        database.execute("CREATE TABLE roads (name)")
        database.executemany("INSERT INTO roads VALUES (?)", [[str(number)] for number in range(40)])
        database.execute(f"CREATE VIEW v AS {view}")
        database.commit()
    if not is_refused:
        refuse_endless_views(tmp_path / "a.gpkg", "a.gpkg")
        return
    with pytest.raises(InputError, match=r"a\.gpkg: the view 'v' in it takes more steps or rows .* Export the layer"):
        refuse_endless_views(tmp_path / "a.gpkg", "a.gpkg")
