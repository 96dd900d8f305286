"""Texts that try to run, in every column, name and layer: each stays text, in our process and in every output."""

import json
import os
import re
import zipfile
from itertools import cycle
from pathlib import Path

import geopandas as gpd
import pandas as pd
import pytest
import shapely

from pipeline.cli.summary import summary
from pipeline.commands.compare import compare_runs
from pipeline.commands.verify import verify
from pipeline.contracts import REGISTER_COLUMNS
from pipeline.readback.pack_map import read_map_columns
from pipeline.run import run_programme
from pipeline.spreadsheet_text import as_written

_CELLS = [
    "{{ 7 * 191 }}",
    "{{ cycler.__init__.__globals__.os.mkdir('ran') }}",
    "{% raw %}",
    "{% include 'x' %}",
    "{# comment",
    "</script><script>alert(1)</script>",
    "<img src=x onerror=alert(1)>",
    "javascript:alert(1)",
    "`${alert(1)}`",
    "@@title@@ @@core_data@@",
    '=HYPERLINK("http://example.org")',
    "a\u202eb\u2028c",
    "nul \x00 here",
    "x;=1+1",
    "x\t@SUM(1+1)\n=1+1",
    "[/x] [bold]b[/] :bomb:",
    "\x1b]0;owned\x07\x1b[2J\x9b31m",
    "A\u200b1 \ufeffB \u2066C\xad",
    "{row} {core_id} {0.__class__}",
    "%s %(x)s \\1 \\g<0> $1",
    "'; DROP TABLE cores; --",
    "Egg and also in West",
]
_UNSEEN = re.compile("[\x00-\x08\x0b-\x1f\x7f-\x9f\xad\u200b\u2028-\u202e\u2066\ufeff]")
# a core with nothing wrong, by column of the register; what is not named here is empty
_SOUND = {
    "diameter_mm": "450", "depth_mm": "200", "position_accuracy_m": "0.5", "opened_on": "2026-09-20", "cover_m": "1",
    "backfilled_on": "2026-09-21", "planned_on": "2026-10-05", "permit_expires_on": "2026-11-30",
}  # fmt: skip
_COLUMNS = [column for column in REGISTER_COLUMNS if column.name != "core_id"]
_PROGRAMME = """
[programme]
name = '{{{{ 7 * 191 }}}} </script><img src=x onerror=alert(1)> {{% raw %}}'
as_of = 2026-09-30
[cores]
path = "cores.csv"
x = "lon"
y = "lat"
crs = "EPSG:4326"
attribution = '<script>alert(1)</script>{{{{ 7 * 191 }}}}'
columns = {{ {columns} }}
units = {{ {units} }}
[roads]
path = "roads.gpkg"
columns = {{ segment_id = "seg", street = "name", surface = "surface", road_class = "class", road_authority = "owner" }}
[surfaces]
path = "surfaces.gpkg"
columns = {{ surface = "surface" }}
[districts]
path = "districts.gpkg"
columns = {{ district = "name" }}
[orders.yards]
'{{% raw %}}' = '<img src=x onerror=alert(1)>'
[handover]
columns = [{handed}]
contact = '<img src=x onerror=alert(1)> {{{{ 7 * 191 }}}}'
"""


def _rows():
    """Return the register: rows of one text throughout, then rows with one hostile cell each, column by column."""
    texts_throughout = [*_CELLS, "x" * 20_000]
    rows = [dict.fromkeys((column.name for column in _COLUMNS), text) | {"core_id": text} for text in texts_throughout]
    rows.append(_SOUND | {"core_id": "long", "remarks": "x" * 200_000, "crew": "x" * 200_000})
    texts = cycle(_CELLS)
    for column in _COLUMNS:
        rows += [_SOUND | {column.name: next(texts), "core_id": f"{column.name} {nth}"} for nth in range(5)]
    rows = [
        row | {"lon": f"{-82.2 + 1e-4 * (at % 60 - 30):.6f}", "lat": f"{44.8 + 1e-4 * (at // 60):.6f}"}
        for at, row in enumerate(rows)
    ]
    rows.append({**rows[0], "core_id": "no place", "lon": "<b>", "lat": "{{ 7 * 191 }}"})
    return pd.DataFrame(rows).fillna("")


def _write_layers(folder):
    lines = [shapely.LineString([(-82.21, lat), (-82.19, lat)]) for lat in (44.8, 44.8005, 44.81)]
    texts = [_CELLS[5], _CELLS[0], "{row}"]
    roads = dict.fromkeys(("seg", "name", "class", "owner"), texts) | {"surface": [_CELLS[6], "asphalt", "asphalt"]}
    gpd.GeoDataFrame(roads, geometry=lines, crs=4326).to_file(folder / "roads.gpkg")
    boxes = [shapely.box(-82.21, 44.79, -82.2, 44.82), shapely.box(-82.2, 44.79, -82.19, 44.82)]
    names = {"name": ["{% raw %}", "Egg and also in West"]}
    gpd.GeoDataFrame(names, geometry=boxes, crs=4326).to_file(folder / "districts.gpkg")
    pads = [shapely.box(-82.2035, 44.7995, -82.2, 44.8008), shapely.box(-82.2, 44.7995, -82.1995, 44.8)]
    surfaces = {"surface": ["asphalt", "{{ 7 * 191 }}"]}
    gpd.GeoDataFrame(surfaces, geometry=pads, crs=4326).to_file(folder / "surfaces.gpkg")


@pytest.fixture(scope="module")
def hostile(tmp_path_factory):
    folder = tmp_path_factory.mktemp("hostile")
    before = Path.cwd()
    os.chdir(folder)
    # a register's own column names can be hostile too
    headings = {column.name: f"{column.short} {{{{ 7 * 191 }}}} <img src=x>" for column in _COLUMNS}
    _rows().rename(columns={**headings, "core_id": "id"}).assign(**{"=1+1": "=1+1"}).to_csv("cores.csv", index=False)
    _write_layers(folder)
    columns = {"core_id": "id", **{column.short: headings[column.name] for column in _COLUMNS}}
    (folder / "programme.toml").write_text(
        _PROGRAMME.format(
            columns=", ".join(f"{key} = '{name}'" for key, name in columns.items()),
            units=", ".join(f'{column.short} = "{column.unit}"' for column in _COLUMNS if column.unit),
            handed=", ".join(f'"{column.name}"' for column in _COLUMNS if column.name != "street"),
        ),
        encoding="utf-8",
    )
    try:
        # the second run reports what changed since the first
        run_programme(folder / "programme.toml", folder / "out", as_of=pd.Timestamp("2026-09-01").date())
        yield run_programme(folder / "programme.toml", folder / "out")
    finally:
        os.chdir(before)


@pytest.fixture(scope="module")
def pages(hostile):
    """Every page of the run and of its comparison with the run before, by name."""
    (earlier,) = [run for run in hostile.folder.parent.iterdir() if run != hostile.folder]
    comparison = compare_runs(earlier, hostile.folder)
    files = [*hostile.folder.rglob("*.html"), *comparison.folder.rglob("*.html")]
    return {str(file.relative_to(hostile.folder.parent)): file.read_text("utf-8") for file in files}


def test_nothing_runs_in_our_process(pages):
    assert not Path("ran").exists()
    assert len(pages) == 7
    for name, text in pages.items():
        # 7 x 191 = 1337: the sum of a template that was compiled
        assert "1337" not in re.sub(r"[A-Za-z0-9+/=]{200,}", "", text).replace(" ", ""), name


def test_no_text_becomes_markup(pages):
    for name, text in pages.items():
        assert "<img src=x" not in text, name
        assert "<script>alert" not in text, name
        assert "{{ 7 * 191 }}" in text, name


def test_a_cell_as_long_as_a_file_is_cut_in_the_report_which_says_so(pages, hostile):
    text = pages[f"{hostile.folder.name}/report.html"]
    assert "x" * 401 not in text
    assert "characters in full)" in text


def test_what_nobody_sees_is_shown_by_its_number(pages, hostile):
    for name, text in pages.items():
        # what a map packs into its scripts is looked at below; isolates are our own, in pairs
        bare = re.sub(r"<script.*?</script>", "", text, flags=re.DOTALL)
        assert not _UNSEEN.search(bare), name
        assert bare.count("\u2068") == bare.count("\u2069"), name
    held = read_map_columns(hostile.folder / "map.html")
    assert not _UNSEEN.search(json.dumps(held.page, ensure_ascii=False))
    for table in (held.cores, held.findings, *held.lists.values()):
        assert not table.astype("str").apply(lambda texts: texts.str.contains(_UNSEEN)).any(axis=None)
    assert "a<U+202E>b<U+2028>c" in set(held.cores["core_id"])
    assert any("a&lt;U+202E&gt;b&lt;U+2028&gt;c" in text for text in pages.values())


def test_nothing_that_is_printed_controls_the_terminal(hostile, capsys):
    summary(hostile)
    printed = capsys.readouterr().out
    assert all(letter.isprintable() or letter == "\n" for letter in printed)
    assert "{{ 7 * 191 }} </script><img src=x onerror=alert(1)> {% raw %}" in printed


def test_every_row_is_in_every_table(hostile):
    cores = pd.read_csv(hostile.folder / "cores.csv", dtype=str, keep_default_na=False)
    assert len(cores) == len(_rows())
    assert cores["status"].isin(["flagged", "pending", "reinstated"]).all()
    assert len(gpd.read_file(hostile.folder / "cores.gpkg", layer="cores")) == len(cores)
    record = json.loads((hostile.folder / "run.json").read_text("utf-8"))
    assert record["account"]["rows_read"] == len(cores)


def test_every_cell_of_every_column_comes_back_as_it_was_written(hostile):
    cores = pd.read_csv(hostile.folder / "cores.csv", dtype=str, keep_default_na=False)
    rows = _rows()
    # a NUL would cut the text short in other programs
    written = rows.map(lambda cell: cell.replace("\x00", "\N{REPLACEMENT CHARACTER}"))
    for column in _COLUMNS:
        (name,) = [name for name in cores if as_written(pd.Series([name]))[0].startswith(f"{column.short} {{{{")]
        assert as_written(cores[name]).tolist() == written[column.name].tolist(), column.name


def test_a_finding_quotes_a_hostile_cell_of_every_column_that_is_read_as_a_number_or_a_date(hostile):
    findings = hostile.audit.findings
    for column in _COLUMNS:
        if column.kind != "text":
            own = findings[findings["core_id"].fillna("").str.startswith(f"{column.name} ")]
            assert own["rule"].str.endswith("unreadable").any(), column.name


def test_no_cell_of_any_csv_would_run_in_a_spreadsheet(hostile):
    files = sorted(hostile.folder.rglob("*.csv"))
    assert len(files) > 8
    for file in files:
        table = pd.read_csv(file, dtype=str, keep_default_na=False, header=None)
        for name in table:
            runs = table[name].str.match(r"[=@\t\r\n]|[+-](?![0-9]+([.,][0-9]+)?$)")
            assert not runs.any(), (file.name, table.loc[runs, name].iloc[0])
        for separator in ";\t|":
            cells = [cell for line in file.read_text("utf-8").splitlines() for cell in line.split(separator)]
            # of a table's own numbers, the first of a line is a count and never below zero
            assert not [cell for cell in cells if re.match(r"[=@]|[+-](?![0-9.,]+($|,))", cell)], (file.name, separator)


def test_no_cell_of_the_workbook_is_a_formula_or_a_link(hostile):
    with zipfile.ZipFile(hostile.folder / "orders.xlsx") as workbook:
        sheets = [name for name in workbook.namelist() if name.startswith("xl/worksheets/")]
        for name in sheets:
            text = workbook.read(name).decode("utf-8")
            assert "<f>" not in text, name
            assert "hyperlink" not in text, name


def test_the_pack_for_the_road_authority_verifies(hostile):
    assert verify(hostile.folder / "handover.zip").identity["cores"] == len(_rows())


def test_the_folder_is_named_in_plain_letters(hostile):
    assert hostile.folder.parent.name == "7-191-script-img-src-x-onerror-alert-1-raw"
