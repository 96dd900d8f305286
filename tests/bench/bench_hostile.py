"""Hostile texts in every column, name and path, for as long as one likes: ``python -m tests.bench.bench_hostile``.

Each case is a whole run of a small town whose register, layers, headers, folder and programme are named with random
pieces of formulas, markup, templates, escapes and characters that nobody sees. Its outputs must hold none of them live.
"""

import argparse
import io
import random
import re
import sys
import tempfile
import time
import zipfile
from contextlib import redirect_stderr, redirect_stdout
from pathlib import Path
from xml.etree import ElementTree as ET

import geopandas as gpd
import pandas as pd
import shapely

from pipeline.cli.summary import summary
from pipeline.cli.terminal import printer
from pipeline.commands.verify import verify
from pipeline.errors import KerfbookError
from pipeline.run import run_programme
from pipeline.spreadsheet_text import PLAIN_NUMBER
from tests.readback.hostile_zips import ZIPS

_PIECES = [
    "=1+1", "@SUM(A1)", "-2+3", "+cmd|' /C calc'!A0", ";", "|", "\t", "'", '"', "\uff1d1", "{{ 7 * 191 }}", "{% raw %}", "{#",
    "</script>", "<img src=x onerror=alert(1)>", "<b>", "&amp;", "javascript:", "`${1}`", "@@title@@", "{row}", "{0.__class__}",
    "%s", "\\1", "$1", "--", "'; DROP TABLE cores; --", "[/x]", "[bold]", ":bomb:", "\x1b[31m", "\x1b]0;x\x07", "\x9b2J",
    "\u202e", "\u2066", "\u200b", "\ufeff", "\xad", "\u2028", "\U000e0041", "\U0001f6a7" * 16, "x" * 30, "../", "C:\\", "NUL", " ",
    "\n", "\r", "\r\n", "ß", "İ", "e\u0301", "العربية", "_x0041_",
]  # fmt: skip
_UNSEEN = re.compile("[\x00-\x08\x0b-\x1f\x7f-\x9f\xad\u200b\u2028-\u202e\u2066\ufeff]")
_RUNS = re.compile(r"[=@\uff1d\uff0b\uff0d\uff20]|[+-](?![0-9.,]+($|,|\"))")
_NOT_IN_A_NAME = re.compile(r"[/\x00\r\n\t]")


# a text file with many controls is refused as a binary one
_CONTROLS = re.compile(r"[\x00-\x08\x0b-\x1f\x7f-\x9f]")
_SHARE_OF_CONTROLS = 0.02


def _text(chance, most=5):
    return "".join(chance.choice(_PIECES) for _ in range(chance.randint(1, most)))


def _cell(chance, most=5):
    text = _text(chance, most)
    return text if chance.random() < _SHARE_OF_CONTROLS else _CONTROLS.sub("", text)


def _town(chance, folder):
    """Write a town of which every name is hostile, and return its programme file."""
    count = 24
    east, north = 478_000, 4_963_000
    cores = pd.DataFrame(
        {
            "id": [f"{_cell(chance)} {number}" for number in range(count)],
            "x": [east + 40 * number + 3 for number in range(count)],
            "y": north + 2,
            "dia": ["450 mm"] * (count - 3) + [_cell(chance) for _ in range(3)],
            "depth": ["200 mm"] * (count - 3) + [_cell(chance) for _ in range(3)],
            "opened": ["2026-09-01"] * (count - 3) + [_cell(chance) for _ in range(3)],
            "crew": [_cell(chance) for _ in range(count)],
            "remarks": [_cell(chance, 9) for _ in range(count)],
            # the row keeps headers apart
            f"own {_cell(chance)}".replace("\n", " ").replace("\r", " "): [_cell(chance) for _ in range(count)],
        }
    )
    cores.to_csv(folder / "cores.csv", index=False)
    lines = [
        shapely.LineString([(east + 100 * at, north), (east + 100 * (at + 1), north)])
        for at in range(count * 40 // 100 + 1)
    ]
    roads = {"seg": [f"{_text(chance)} {at}" for at in range(len(lines))], "name": [_text(chance) for _ in lines]}
    gpd.GeoDataFrame(roads | {"surface": "asphalt"}, geometry=lines, crs=32617).to_file(folder / "roads.gpkg")
    halves = [
        shapely.box(east - 50, north - 99, east + 500, north + 99),
        shapely.box(east + 500, north - 99, east + 1200, north + 99),
    ]
    names = {"name": [f"{_text(chance)} {at}" for at in range(2)]}
    gpd.GeoDataFrame(names, geometry=halves, crs=32617).to_file(folder / "districts.gpkg")
    (folder / "programme.toml").write_text(
        f"""[programme]
name = {_toml(" ".join(_text(chance).splitlines()) or "plain")}
as_of = 2026-09-30
[cores]
path = "cores.csv"
x = "x"
y = "y"
crs = "EPSG:32617"
columns = {{ core_id = "id", diameter = "dia", depth = "depth", opened_on = "opened", crew = "crew", remarks = "remarks" }}
[roads]
path = "roads.gpkg"
columns = {{ segment_id = "seg", street = "name", surface = "surface" }}
[districts]
path = "districts.gpkg"
columns = {{ district = "name" }}
[handover]
contact = {_toml(_text(chance))}
columns = ["crew", "remarks"]
""",
        encoding="utf-8",
    )
    return folder / "programme.toml", count


def _toml(text):
    return '"' + "".join(f"\\U{ord(letter):08X}" for letter in text) + '"'


def problems_of(result, count):
    """Return what a run of a hostile town holds that could run, hide or be lost."""
    found = []
    folder = result.folder
    for file in folder.rglob("*.csv"):
        table = pd.read_csv(file, dtype=str, keep_default_na=False, header=None)
        for cells in (table[name] for name in table):
            found += [
                f"{file.name}: {cell!r}" for cell in cells if _RUNS.match(cell) and not re.match(PLAIN_NUMBER, cell)
            ]
        text = file.read_bytes().decode()
        for separator in ";\t|":
            parts = [part for line in re.split(r"\r?\n|\r", text) for part in line.split(separator)]
            found += [f"{file.name} at {separator!r}: {part[:60]!r}" for part in parts if _RUNS.match(part)]
        if file.name == "cores.csv" and len(table) != count + 1:
            found.append(f"{file}: {len(table) - 1} rows, expected {count}")
    with zipfile.ZipFile(folder / "orders.xlsx") as book:
        for part in book.namelist():
            ET.fromstring(book.read(part))
    for page in folder.rglob("*.html"):
        bare = re.sub(r"<script.*?</script>", "", page.read_text("utf-8"), flags=re.DOTALL)
        found += [f"{page.name}: {word}" for word in ("<img src=x", "<script>alert", "1337") if word in bare]
        found += [f"{page.name}: {unseen[0]!r}" for unseen in _UNSEEN.finditer(bare)][:1]
    verify(folder / "handover.zip")
    return found


def _case(seed, scratch):
    """Run one case; return what is wrong, and whether the run was refused with a clear error."""
    chance = random.Random(seed)
    name = _NOT_IN_A_NAME.sub("", _text(chance))[:40] or "plain"
    folder = scratch / f"{seed} {name.replace('..', '')}"
    # the library that writes the layers does not take every path
    (scratch / "plain").mkdir()
    programme, count = _town(chance, scratch / "plain")
    programme = (scratch / "plain").rename(folder) / programme.name
    printed = io.StringIO()
    try:
        with redirect_stdout(printed), redirect_stderr(printed):
            result = run_programme(programme, folder / "out")
            summary(result)
        problems = problems_of(result, count)
    except KerfbookError as error:
        with redirect_stdout(printed):
            printer().print(str(error))
        problems = [f"printed: {unseen[0]!r}" for unseen in _UNSEEN.finditer(printed.getvalue())]
        return problems, str(error)
    return problems + [f"printed: {unseen[0]!r}" for unseen in _UNSEEN.finditer(printed.getvalue())], ""


def main():
    """Run cases until so many are done, or so many seconds have passed."""
    options = argparse.ArgumentParser(description=__doc__)
    options.add_argument("--cases", type=int, default=1_000)
    options.add_argument("--seconds", type=float, default=3_600)
    options.add_argument("--seed", type=int, default=0)
    asked = options.parse_args()
    begin, wrong, refused, done = time.monotonic(), [], [], 0
    while done < asked.cases and time.monotonic() - begin < asked.seconds:
        seed = asked.seed + done
        with tempfile.TemporaryDirectory() as scratch:
            try:
                problems, error = _case(seed, Path(scratch))
            except Exception as failure:  # noqa: BLE001 - whatever it is, it is what is looked for
                problems, error = [f"{type(failure).__name__}: {failure}"], ""
        done += 1
        refused += [f"{seed}: {error}"] if error else []
        wrong += [f"{seed}: {problem}" for problem in problems[:3]]
        for problem in problems[:3]:
            print(f"{seed}: {problem[:300]!r}", flush=True)
    print(f"{done:,} runs of hostile towns, {len(refused):,} refused with an error, {len(wrong):,} problems")
    for error in sorted({line.partition(": ")[2][-120:] for line in refused})[:10]:
        print(f"  refused: {error!r}")
    print(f"{len(ZIPS)} kinds of hostile zips are in tests/readback/test_pack_entries.py")
    sys.exit(bool(wrong))


if __name__ == "__main__":
    main()
