"""A register and layers that try to run: every text of theirs stays text, in our process and in every output."""

import json
import os
import re
from pathlib import Path

import geopandas as gpd
import pandas as pd
import pytest
import shapely

from pipeline.commands.verify import verify
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
    "x" * 200_000,
    "nul \x00 here",
    "{row} {core_id} {0.__class__}",
    "%s %(x)s \\1 \\g<0> $1",
    "'; DROP TABLE cores; --",
]


@pytest.fixture(scope="module")
def hostile(tmp_path_factory):
    folder = tmp_path_factory.mktemp("hostile")
    before = Path.cwd()
    os.chdir(folder)
    rows = [
        {
            "id": cell, "lon": -82.2 + place * 1e-4, "lat": 44.8, "dia": cell, "depth": cell, "road": cell, "surf": cell,
            "cut": cell, "done": cell, "shade": cell, "crew": cell, "remarks": cell,
        }
        for place, cell in enumerate(_CELLS)
    ]  # fmt: skip
    rows.append({**rows[0], "id": "no place", "lon": "<b>", "lat": "{{ 7 * 191 }}"})
    pd.DataFrame(rows).to_csv(folder / "cores.csv", index=False)
    line = [
        shapely.LineString([(-82.21, 44.8), (-82.19, 44.8)]),
        shapely.LineString([(-82.21, 44.81), (-82.19, 44.81)]),
    ]
    text = [_CELLS[5], _CELLS[0]]
    gpd.GeoDataFrame({"seg": text, "name": text, "surface": text}, geometry=line, crs=4326).to_file(
        folder / "roads.gpkg"
    )
    boxes = [shapely.box(-82.21, 44.79, -82.2, 44.82), shapely.box(-82.2, 44.79, -82.19, 44.82)]
    gpd.GeoDataFrame({"name": [_CELLS[1], _CELLS[6]]}, geometry=boxes, crs=4326).to_file(folder / "districts.gpkg")
    (folder / "programme.toml").write_text(
        """
        [programme]
        name = "{{ 7 * 191 }} </script><img src=x onerror=alert(1)> {% raw %}"
        as_of = 2026-09-30
        [cores]
        path = "cores.csv"
        x = "lon"
        y = "lat"
        crs = "EPSG:4326"
        attribution = "<script>alert(1)</script>{{ 7 * 191 }}"
        columns = { core_id = "id", diameter = "dia", depth = "depth", street = "road", surface_recorded = "surf", opened_on = "cut", reinstated_at = "done", shade_used = "shade" }
        units = { diameter = "mm", depth = "mm" }
        [roads]
        path = "roads.gpkg"
        columns = { segment_id = "seg", street = "name", surface = "surface" }
        [districts]
        path = "districts.gpkg"
        columns = { district = "name" }
        """,
        encoding="utf-8",
    )
    try:
        yield run_programme(folder / "programme.toml", folder / "out")
    finally:
        os.chdir(before)


def test_nothing_runs_in_our_process(hostile):
    assert not Path("ran").exists()
    for page in ("map.html", "report.html"):
        # 7 x 191 = 1337: the sum of a template that was compiled
        assert "1337" not in (hostile.folder / page).read_text("utf-8").replace(" ", ""), page


def test_no_text_becomes_markup(hostile):
    for page in ("map.html", "report.html", "handover/map.html", "handover/how-to-read.html"):
        text = (hostile.folder / page).read_text("utf-8")
        assert "<img src=x" not in text, page
        assert "<script>alert" not in text, page
        assert "{{ 7 * 191 }}" in text, page


def test_a_cell_as_long_as_a_file_is_cut_in_the_report_and_said_to_be(hostile):
    text = (hostile.folder / "report.html").read_text("utf-8")
    assert "x" * 401 not in text
    assert "characters in all)" in text


def test_text_that_turns_directions_stands_in_an_element_of_its_own(hostile):
    text = (hostile.folder / "report.html").read_text("utf-8")
    outside = re.sub(r"<bdi>[^<]*</bdi>", "", text)
    assert "\u202e" not in outside


def test_every_row_is_in_every_table(hostile):
    cores = pd.read_csv(hostile.folder / "cores.csv", dtype=str, keep_default_na=False)
    assert len(cores) == len(_CELLS) + 1
    assert cores["status"].isin(["flagged", "pending", "reinstated"]).all()
    # a NUL would cut the text short in other programs
    assert as_written(cores["id"]).tolist()[:-1] == [
        cell.replace("\x00", "\N{REPLACEMENT CHARACTER}") for cell in _CELLS
    ]
    assert len(gpd.read_file(hostile.folder / "cores.gpkg", layer="cores")) == len(cores)
    record = json.loads((hostile.folder / "run.json").read_text("utf-8"))
    assert record["account"]["rows_read"] == len(cores)


def test_no_cell_of_any_csv_would_run_in_a_spreadsheet(hostile):
    for file in sorted(hostile.folder.rglob("*.csv")):
        cells = pd.read_csv(file, dtype=str, keep_default_na=False)
        for name in cells:
            runs = cells[name].str.match(r"[=@\t\r\n]|[+-](?![0-9]+([.,][0-9]+)?$)")
            assert not runs.any(), (file.name, cells.loc[runs, name].iloc[0])


def test_the_pack_for_the_road_authority_is_whole(hostile):
    assert verify(hostile.folder / "handover.zip").identity["cores"] == len(_CELLS) + 1


def test_the_folder_is_named_in_plain_letters(hostile):
    assert hostile.folder.parent.name == "7-191-script-img-src-x-onerror-alert-1-raw"
