"""What a forger does to a pack whose checksums are made good again: one edit each."""

import os
import re
import shutil
import sqlite3
from contextlib import closing

import pandas as pd

from tests.commands.packs import resum


def in_table(file, column, value):
    """Put a value into the first row of a table, and leave every other byte as it is."""

    def spoil(pack):
        table = pd.read_csv(pack / file, dtype=str, keep_default_na=False, quotechar='"')
        lines = (pack / file).read_text("utf-8").splitlines(keepends=True)
        cells = re.findall(r'("(?:[^"]|"")*"|[^,\n]*)(?:,|\n)', lines[1])
        cells[table.columns.get_loc(column)] = value
        (pack / file).write_text("".join([lines[0], ",".join(cells) + "\n", *lines[2:]]), "utf-8")

    return spoil


def _in_text(file, old, new):
    def spoil(pack):
        text = (pack / file).read_text("utf-8")
        assert old in text, old
        (pack / file).write_text(text.replace(old, new, 1), "utf-8")

    return spoil


def _added(file, more):
    def spoil(pack):
        with (pack / file).open("ab") as target:
            target.write(more)

    return spoil


def in_package(*statements):
    def spoil(pack):
        with closing(sqlite3.connect(pack / "cores.gpkg")) as database:
            # the triggers of the spatial index call functions that SQLite alone does not have
            for name in ("ST_IsEmpty", "ST_MinX", "ST_MaxX", "ST_MinY", "ST_MaxY"):
                database.create_function(name, 1, lambda _: 0)
            for statement in statements:
                database.execute(statement)
            database.commit()

    return spoil


def _swap_the_map(pack):
    """Take the map of the same town with one core moved: a whole map, by the same program."""
    text = (pack / "map.html").read_text("utf-8")
    start = text.index('id="core-data">') + len('id="core-data">')
    end = text.index("</script>", start)
    # another bundle of the same page, well formed
    other = text[text.index('id="road-data">') + len('id="road-data">') :]
    (pack / "map.html").write_text(text[:start] + other[: other.index("</script>")] + text[end:], "utf-8")


def _nested_views(pack):
    """Views that double their rows at each step: to count those of the last would take longer than anyone waits."""
    doubled = [
        f"CREATE VIEW v{step} AS SELECT a.* FROM {'cores' if not step else f'v{step - 1}'} a, "
        f"{'cores' if not step else f'v{step - 1}'} b"
        for step in range(8)
    ]
    in_package(*doubled)(pack)


_TRIGGER = "CREATE TRIGGER {} AFTER UPDATE ON cores BEGIN UPDATE cores SET street = 'Elsewhere'; END"
FORGERIES = {
    "position": in_table("cores.csv", "lat", "44.8100000"),
    "position by a centimetre": in_table("cores.csv", "lat", "44.8000005"),
    "size": in_table("cores.csv", "diameter_mm", "300"),
    "street": in_table("cores.csv", "street", '"Other Road"'),
    "segment": in_table("cores.csv", "segment_id", '"S2"'),
    "date": in_table("cores.csv", "opened_on", '"2026-08-02"'),
    "surface": in_table("cores.csv", "surface", '"concrete"'),
    "district": in_table("cores.csv", "district", '"Elsewhere"'),
    "permit": in_table("cores.csv", "permit_no", '"P-2"'),
    "severity": in_table("findings.csv", "severity", '"note"'),
    "evidence": in_table("findings.csv", "evidence", '"x=1"'),
    "rules": in_table("rules.csv", "limits", '"max open 300 days"'),
    "how to read it": _in_text("how-to-read.html", "2 cores have no usable", "0 cores have no usable"),
    "contact": _in_text("handover.json", '"contact": null', '"contact": "call 555"'),
    "unplaced": _in_text("handover.json", '"unplaced": 2', '"unplaced": 0'),
    "caution": _in_text("handover.json", '"cautions": [\n    "', '"cautions": [\n    "Not so: '),
    "point": in_package("UPDATE cores SET geom = (SELECT geom FROM cores WHERE fid = 2) WHERE fid = 3"),
    "line by a bit": in_package(
        "UPDATE segments SET geom = CAST(substr(geom, 1, length(geom) - 8) || x'0000000000000040' AS BLOB)"
    ),
    "outline": in_package(
        "UPDATE districts SET geom = CAST(substr(geom, 1, length(geom) - 8) || x'0000000000000040' AS BLOB)"
    ),
    "segments": in_package("UPDATE segments SET street = 'Other Road'"),
    "districts": in_package("UPDATE districts SET cores_flagged = 0, cores_pending = 9"),
    "style": in_package("UPDATE layer_styles SET styleQML = styleQML || ' '"),
    "title of a column": in_package("UPDATE gpkg_data_columns SET title = 'Depth' WHERE column_name = 'diameter_mm'"),
    "extent": in_package("UPDATE gpkg_contents SET min_x = 0 WHERE table_name = 'cores'"),
    "trigger": in_package(_TRIGGER.format("mine")),
    "trigger by a known name": in_package(_TRIGGER.format("rtree_cores_geom_update7")),
    "view": in_package("CREATE VIEW mine AS SELECT * FROM cores"),
    "nested views": _nested_views,
    "view in place of a table": in_package(
        "ALTER TABLE findings RENAME TO gpkg_findings", "CREATE VIEW findings AS SELECT * FROM gpkg_findings"
    ),
    "virtual table": in_package("CREATE VIRTUAL TABLE mine USING fts5(a)"),
    "table": in_package("CREATE TABLE crews (name TEXT)"),
    "table by a name of the format": in_package("CREATE TABLE gpkg_crews (name TEXT)"),
    "column": in_package("ALTER TABLE segments ADD COLUMN crew TEXT"),
    "data of the map": _swap_the_map,
    "title of the map": _in_text("map.html", '"title":"Quay 2026"', '"title":"Quay 2027"'),
    "heading of the map": _in_text("map.html", "<title>Quay 2026", "<title>Quay 2027"),
    "script": _in_text("map.html", '"use strict";', '"use strict";alert(1);'),
    "policy": _in_text("map.html", "default-src 'none'", "default-src *"),
    "script after the end": _added("map.html", b"<script>alert(1)</script>"),
    "two points swapped": in_package(
        "CREATE TEMP TABLE sent AS SELECT fid, geom FROM cores",
        "UPDATE cores SET geom = (SELECT geom FROM sent WHERE sent.fid = 3 - cores.fid) WHERE fid IN (1, 2)",
    ),
    "index": in_package("CREATE INDEX mine ON cores (core_id)"),
    "check": in_package(
        "PRAGMA writable_schema = ON",
        'UPDATE sqlite_master SET sql = replace(sql, \'"row" INTEGER\', \'"row" INTEGER CHECK ("row" > 0)\') '
        "WHERE name = 'cores'",
    ),
    "computed column": in_package("ALTER TABLE segments ADD COLUMN mine AS (upper(street))"),
    "write-ahead log": in_package("PRAGMA journal_mode = WAL"),
    "bytes after its end": _added("cores.gpkg", b"x" * 4096),
    "not a GeoPackage": in_package("PRAGMA application_id = 5"),
    "other version of the standard": in_package("PRAGMA user_version = 10000"),
    "number in another spelling": _in_text("cores.csv", ",450,", ",4.5e2,"),
    "not a number": in_table("cores.csv", "chainage_m", "nan"),
    "zero below zero": in_table("cores.csv", "offset_m", "-0.0"),
    "other ends of lines": lambda pack: (pack / "cores.csv").write_bytes(
        (pack / "cores.csv").read_bytes().replace(b"\n", b"\r\n")
    ),
    "combining character": _in_text("cores.csv", '"HV-0"', '"HV\u0301-0"'),
    "empty line": _added("findings.csv", b"\n"),
    "fact of its own": _in_text("handover.json", '"programme"', '"note": "call 555",\n  "programme"'),
    "fact among the errors": _in_text(
        "handover.json", '"position_errors": {', '"position_errors": {"note": "call 555",'
    ),
    "fact twice": _in_text("handover.json", "{", '{"cores": 9999,'),
    "fact without effect": _in_text("handover.json", '_from_the_road": false', '_from_the_road": true'),
    "checksums of layers taken out": _in_text("handover.json", '"layers"', '"layer"'),
    "data package taken out": lambda pack: (pack / "datapackage.json").unlink(),
    "data package": _in_text("datapackage.json", "number", "string"),
    "grid of shifts by a path": _in_text(
        "handover.json", '"crs_definition": "', "\"crs_definition\": \"BOUNDCRS[PARAMETERFILE['a','/dev/tty']"
    ),
    "log beside the GeoPackage": lambda pack: (pack / "cores.gpkg-wal").write_bytes(b"x"),
    "name with another composition": lambda pack: (pack / "re\u0301gles.csv").write_text("x"),
    "whole map": lambda pack: (pack / "map.html").write_text("<!doctype html><title>Quay 2026</title>", "utf-8"),
}


def forge(pack, name):
    """Spoil a pack, and make its checksums right again."""
    FORGERIES[name](pack)
    resum(pack)


def pipe_for_checksums(pack):
    """A named pipe: whoever opens it waits for a writer."""
    (pack / "SHA256SUMS").unlink()
    os.mkfifo(pack / "SHA256SUMS")


def device_for_checksums(pack):
    """A device that never ends, by a link."""
    (pack / "SHA256SUMS").unlink()
    (pack / "SHA256SUMS").symlink_to("/dev/zero")


def link_for_a_table(pack):
    """A table that is elsewhere."""
    shutil.move(pack / "rules.csv", pack.parent / "rules.csv")
    (pack / "rules.csv").symlink_to(pack.parent / "rules.csv")
