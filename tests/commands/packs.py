"""Ways to spoil a pack: by accident, and as a forger would, with checksums that are right again."""

import hashlib
import sqlite3
from contextlib import closing

import pandas as pd


def resum(pack):
    """Make the checksums right again."""
    lines = [
        f"{hashlib.sha256(file.read_bytes()).hexdigest()}  {file.name}\n"
        for file in sorted(pack.iterdir())
        if file.name != "SHA256SUMS"
    ]
    (pack / "SHA256SUMS").write_text("".join(lines))


def fingerprint(pack):
    """Return the fingerprint that the sender would give."""
    return hashlib.sha256((pack / "SHA256SUMS").read_bytes()).hexdigest()


def flip_a_bit(pack):
    """Change one bit of the map, without new checksums."""
    raw = bytearray((pack / "map.html").read_bytes())
    raw[len(raw) // 2] ^= 1
    (pack / "map.html").write_bytes(raw)


def _forged(change):
    def spoil(pack):
        change(pack)
        resum(pack)

    return spoil


@_forged
def drop_a_core(pack):
    lines = (pack / "cores.csv").read_text().splitlines(keepends=True)
    (pack / "cores.csv").write_text("".join(lines[:-1]))


@_forged
def add_a_column(pack):
    frame = pd.read_csv(pack / "cores.csv").assign(crew="A")
    frame.to_csv(pack / "cores.csv", index=False)


@_forged
def close_a_core(pack):
    text = (pack / "cores.csv").read_text()
    (pack / "cores.csv").write_text(text.replace('"flagged"', '"reinstated"', 1))


@_forged
def change_the_maps_count(pack):
    text = (pack / "map.html").read_text("utf-8")
    (pack / "map.html").write_text(text.replace('"cores":7', '"cores":6'), "utf-8")


@_forged
def change_the_maps_date(pack):
    text = (pack / "map.html").read_text("utf-8")
    (pack / "map.html").write_text(text.replace('"asOf":"2026-09-30"', '"asOf":"2026-10-30"'), "utf-8")


@_forged
def replace_the_map(pack):
    (pack / "map.html").write_text("<p>no map</p>")


@_forged
def replace_the_geopackage(pack):
    (pack / "cores.gpkg").write_bytes(b"not a database at all" * 100)


@_forged
def replace_the_identity(pack):
    (pack / "handover.json").write_text('{"programme": 1}')


@_forged
def swap_ids(pack):
    text = (pack / "cores.csv").read_text()
    text = text.replace('"HV-0"', '"HV-x"').replace('"HV-4"', '"HV-0"').replace('"HV-x"', '"HV-4"')
    (pack / "cores.csv").write_text(text)


@_forged
def replace_the_findings(pack):
    rows = len(pd.read_csv(pack / "findings.csv"))
    (pack / "findings.csv").write_text("a,b\n" + "1,2\n" * rows)


@_forged
def add_a_table(pack):
    with closing(sqlite3.connect(pack / "cores.gpkg")) as database, database:
        database.execute("CREATE TABLE crews (name TEXT)")


@_forged
def nest_the_map(pack):
    deep = "[" * 200_000 + "]" * 200_000
    (pack / "map.html").write_text(f'<script type="application/json" id="page-data">{deep}</script>')


@_forged
def drop_a_finding(pack):
    lines = (pack / "findings.csv").read_text().splitlines(keepends=True)
    (pack / "findings.csv").write_text("".join(lines[:-1]))


@_forged
def miscount(pack):
    text = (pack / "handover.json").read_text()
    pending = text.split('"pending": ')[1].split(",")[0]
    (pack / "handover.json").write_text(text.replace(f'"pending": {pending}', f'"pending": {int(pending) + 1}'))
