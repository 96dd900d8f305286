"""A run whose outputs are in parts: each part holds what is its own, together they hold all, and other commands read it."""

import json
import re
import shutil
import sqlite3
from collections import Counter
from contextlib import closing
from pathlib import Path
from urllib.parse import parse_qs, unquote

import geopandas as gpd
import pandas as pd
import pyogrio
import pytest

from pipeline.commands.compare import compare_runs
from pipeline.commands.explain import explain_core
from pipeline.errors import SettingsError
from pipeline.programme.settings import load_programme
from pipeline.readback.pack_map import read_map_columns
from pipeline.run import run_programme
from tests.small_town import write_town

_DATA = Path(__file__).parents[2] / "sample_data"
_PARTS = '\n[publish]\nmap = "by district"\ngeopackage = "by district"\nparquet = "in parts"\nparquet_rows = 150\n'
_MAPS = ("harbourside", "meadow-end", "mill-bank", "no-district", "north-fields", "old-market", "orchard-rise")


def _in_parts(folder):
    shutil.copytree(_DATA, folder / "data")
    programme = folder / "data" / "programme.toml"
    programme.write_text(programme.read_text("utf-8") + _PARTS, "utf-8")
    return run_programme(programme, folder / "out").folder


@pytest.fixture(scope="module")
def parts(tmp_path_factory):
    """The folder of the demo's run in parts."""
    return _in_parts(tmp_path_factory.mktemp("parts"))


def test_the_folder_has_the_parts_in_place_of_the_whole(parts):
    there = {file.name for file in parts.iterdir()}
    assert {"map.html", "maps", "geopackage", "cores", "cores.csv"} <= there
    assert not there & {"cores.gpkg", "cores.parquet"}
    assert sorted(file.stem for file in (parts / "maps").iterdir()) == [*_MAPS]
    assert sorted(file.stem for file in (parts / "geopackage").glob("*.gpkg")) == [*_MAPS]
    assert [file.name for file in sorted((parts / "cores").iterdir())] == [f"part-{n:04}.parquet" for n in (1, 2, 3)]


def test_all_tables_are_those_of_a_run_in_one_piece(parts, demo):
    for name in ("cores.csv", "findings.csv", "orders.csv", "plan.csv", "works.csv"):
        assert (parts / name).read_bytes() == (demo.folder / name).read_bytes()
    cores = gpd.read_parquet(parts / "cores").sort_values("row", ignore_index=True)
    assert cores.drop(columns="geometry").equals(
        gpd.read_parquet(demo.folder / "cores.parquet").drop(columns="geometry")
    )


def test_each_core_and_finding_is_in_the_map_of_its_district_and_in_no_other(parts, demo):
    whole = read_map_columns(demo.folder / "map.html")
    held = {name: read_map_columns(parts / "maps" / f"{name}.html") for name in _MAPS}
    of_row = demo.counted_table.set_index("row")["district"]
    for name, one in held.items():
        districts = of_row.loc[one.cores["row"]]
        expected = {None if name == "no-district" else name.replace("-", " ").title()}
        assert {None if pd.isna(district) else district for district in districts} == expected
        assert set(one.findings["row"]) <= set(one.cores["row"])
    columns = ["row", "core_id", "status", "street", "x", "y"]
    together = pd.concat([one.cores for one in held.values()])[columns].sort_values("row", ignore_index=True)
    assert together.equals(whole.cores[columns].sort_values("row", ignore_index=True))
    names = ["row", "rule", "message"]
    found = pd.concat([one.findings for one in held.values()])[names].sort_values(names, ignore_index=True)
    assert found.equals(whole.findings[names].sort_values(names, ignore_index=True))


def test_each_map_states_its_district_and_leads_to_the_index_and_to_the_report(parts):
    page = read_map_columns(parts / "maps" / "old-market.html").page
    assert page["title"] == "Old Market, Harbour Vale 2026"
    assert page["report"] == "../report.html"
    assert page["words"]["answers.open"] == "Open on this map"
    assert '<a href="../map.html">Maps of all districts</a>' in (parts / "maps" / "old-market.html").read_text("utf-8")


def test_the_index_leads_to_every_map_and_counts_its_cores(parts, demo):
    page = (parts / "map.html").read_text("utf-8")
    lines = re.findall(
        r'<a class="to-map" href="maps/([\w-]+)\.html" data-choice="=?([^"]*)">.*?</a></th><td class="n">(\d+)</td><td class="n">(\d+)',
        page,
    )
    cores = demo.counted_table.assign(district=demo.counted_table["district"].fillna(""))
    flagged = cores["status"].eq("flagged").groupby(cores["district"]).sum()
    expected = {name: (str(count), str(flagged[name])) for name, count in cores["district"].value_counts().items()}
    assert {name: (count, of) for _, name, count, of in lines} == expected
    assert {file for file, *_ in lines} == {*_MAPS}
    # the picture has each district but not what lies outside
    assert sorted(re.findall(r'<a class="to-map" href="maps/([\w-]+)\.html" data-choice="[^"]*"><title>', page)) == [
        name for name in _MAPS if name != "no-district"
    ]


def test_links_of_the_report_to_a_core_or_a_district_lead_to_the_map_that_has_it(parts, demo):
    page = (parts / "report.html").read_text("utf-8")
    links = [
        (file, parse_qs(unquote(choice), keep_blank_values=True))
        for file, choice in re.findall(r'href="((?:maps/[\w-]+|map)\.html)#([^"]*)"', page)
    ]
    district = demo.counted_table.drop_duplicates("core_id").set_index("core_id")["district"]
    to_core = [(file, choice["core"][0]) for file, choice in links if "core" in choice]
    assert len(to_core) > 20
    for file, core in to_core:
        name = "no-district" if pd.isna(district[core]) else district[core].lower().replace(" ", "-")
        assert file == f"maps/{name}.html"
    assert ("maps/old-market.html", {"district": ["=Old Market"]}) in links
    assert {file for file, choice in links if not {"core", "district"} & set(choice)} == {"map.html"}


def test_each_geopackage_has_the_layers_and_styles_of_the_whole_and_the_cores_of_its_district(parts, demo):
    index = pd.read_csv(parts / "geopackage" / "index.csv", keep_default_na=False)
    whole = gpd.read_file(demo.folder / "cores.gpkg", layer="cores")
    segments = gpd.read_file(demo.folder / "cores.gpkg", layer="segments")
    rows: Counter[int] = Counter()
    flagged = Counter()
    for line in index.to_dict("records"):
        file = parts / "geopackage" / line["file"]
        cores = gpd.read_file(file, layer="cores")
        assert set(cores["district"].fillna("")) == {line["district"]}
        assert cores["copy_of"].isna().sum() == line["cores"]
        rows.update(cores["row"])
        mine = whole[whole["row"].isin(cores["row"])].reset_index(drop=True)
        # a column without a cell has no kind when it is read
        texts = [frame.drop(columns="geometry").astype("str").fillna("") for frame in (cores, mine)]
        assert texts[0].equals(texts[1])
        assert cores.geometry.geom_equals(mine.geometry).equals(~mine.geometry.is_empty & mine.geometry.notna())
        here = gpd.read_file(file, layer="segments")
        assert len(here) == line["segments"]
        assert set(here["segment_id"]) <= set(segments["segment_id"])
        flagged.update(dict(zip(here["segment_id"], here["cores_flagged"], strict=True)))
        assert set(gpd.read_file(file, layer="findings")["row"]) <= set(cores["row"])
    assert rows == Counter(demo.table["row"].tolist())
    assert flagged == Counter(dict(zip(segments["segment_id"], segments["cores_flagged"], strict=True)))


def test_a_geopackage_is_described_and_styled_as_the_whole(parts, demo):
    described = []
    for file in (demo.folder / "cores.gpkg", parts / "geopackage" / "harbourside.gpkg"):
        with closing(sqlite3.connect(file)) as base:
            described.append(
                [
                    base.execute("SELECT f_table_name FROM layer_styles ORDER BY 1").fetchall(),
                    base.execute(
                        "SELECT table_name, column_name, title FROM gpkg_data_columns ORDER BY 1, 2"
                    ).fetchall(),
                ]
            )
    whole, part = described
    assert {name for (name,) in whole[0]} - {name for (name,) in part[0]} <= {"works", "works_lines"}
    assert set(part[1]) <= set(whole[1])
    assert {layer for layer, _ in pyogrio.list_layers(parts / "geopackage" / "no-district.gpkg")} >= {
        "cores",
        "segments",
    }


def test_the_pack_has_its_geopackage_whole_and_by_district(parts, demo):
    pack = parts / "handover"
    assert (pack / "cores.gpkg").read_bytes() == (demo.folder / "handover" / "cores.gpkg").read_bytes()
    table = pd.read_csv(pack / "cores.csv", dtype={"district": "str"}, keep_default_na=False)
    index = pd.read_csv(pack / "districts.csv", keep_default_na=False)
    assert sorted(index["file"]) == [f"cores-{name}.gpkg" for name in _MAPS]
    counts = {name: Counter[str]() for name in ("cores_flagged", "cores_open", "cores_hazard")}
    for line in index.to_dict("records"):
        file = pack / line["file"]
        here = table[table["district"].eq(line["district"])]
        once = here[here["copy_of"].eq("")]
        assert line["cores"] == len(once)
        assert {name: line[name] for name in ("flagged", "pending", "reinstated")} == {
            name: once["status"].eq(name).sum() for name in ("flagged", "pending", "reinstated")
        }
        lon = pd.to_numeric(once["lon"])
        assert (line["west"], line["east"]) == (lon.min(), lon.max())
        cores = gpd.read_file(file, layer="cores")
        assert cores["row"].tolist() == here["row"].tolist()
        assert cores["core_id"].fillna("").tolist() == here["core_id"].tolist()
        segments = gpd.read_file(file, layer="segments")
        assert len(segments) == line["segments"]
        for name, count in counts.items():
            count.update(dict(zip(segments["segment_id"], segments[name], strict=True)))
        layers = {layer for layer, _ in pyogrio.list_layers(file)}
        assert layers >= {"cores", "segments", "findings", "rules"}
        assert "orders" not in layers
    whole = gpd.read_file(pack / "cores.gpkg", layer="segments")
    for name, count in counts.items():
        assert count == Counter(dict(zip(whole["segment_id"], whole[name], strict=True)))


def test_the_pack_describes_them_for_people_and_for_programs(parts):
    page = (parts / "handover" / "how-to-read.html").read_text("utf-8")
    assert "<code>cores-….gpkg</code>" in page
    assert "<code>districts.csv</code>" in page
    described = json.loads((parts / "handover" / "datapackage.json").read_text("utf-8"))["resources"]
    fields = {one["path"]: one["schema"]["fields"] for one in described}["districts.csv"]
    head = (parts / "handover" / "districts.csv").read_text("utf-8").splitlines()[0]
    assert [f'"{field["name"]}"' for field in fields] == head.split(",")
    assert all(field["description"] != "the register's own column, as it was read" for field in fields)


def test_a_run_in_parts_can_be_compared_and_explained(parts, demo):
    assert compare_runs(demo.folder, parts).changes.lines.empty
    assert explain_core(parts, "HV-0142").run.as_of == demo.as_of


def test_what_an_earlier_run_of_the_day_wrote_otherwise_is_removed(tmp_path):
    path = write_town(tmp_path)
    one = run_programme(path, tmp_path / "out").folder
    written = path.read_text("utf-8")
    path.write_text(written + _PARTS, "utf-8")
    assert run_programme(path, tmp_path / "out").folder == one
    assert not {file.name for file in one.iterdir()} & {"cores.parquet", "cores.gpkg"}
    assert json.loads((one / "run.json").read_text())["settings"]["publish"]["map"] == "by district"
    path.write_text(written, "utf-8")
    run_programme(path, tmp_path / "out")
    assert not {file.name for file in one.iterdir()} & {"cores", "geopackage", "maps"}
    assert (one / "cores.gpkg").is_file()


def test_maps_are_by_district_only_beyond_the_size_that_is_set(tmp_path):
    # six of seven rows are cores: one repeats another
    path = write_town(tmp_path, "[publish]\nlargest_map = 7\n")
    assert not (run_programme(path, tmp_path / "out").folder / "maps").exists()
    path.write_text(path.read_text("utf-8").replace("largest_map = 7", "largest_map = 6"), "utf-8")
    folder = run_programme(path, tmp_path / "out").folder
    assert sorted(file.name for file in (folder / "maps").iterdir()) == ["no-district.html", "quayside.html"]


@pytest.mark.parametrize("key", ["map", "geopackage"])
def test_parts_by_district_without_districts_are_refused(tmp_path, key):
    path = write_town(tmp_path, f'[publish]\n{key} = "by district"\n')
    text = path.read_text("utf-8")
    path.write_text(re.sub(r"\[districts\][\s\S]*?(?=\[publish\])", "", text), "utf-8")
    with pytest.raises(SettingsError, match=rf'publish: found {key} = "by district" without \[districts\]'):
        load_programme(path)


@pytest.mark.parametrize(
    "line", ['map = "by street"', "largest_map = 0", "largest_map = 1.5", 'parquet = "many"', "parquet_rows = -1"]
)
def test_settings_of_no_sense_are_refused(tmp_path, line):
    with pytest.raises(SettingsError, match=f"publish.{line.partition(' ')[0]}"):
        load_programme(write_town(tmp_path, f"[publish]\n{line}\n"))
