"""A run's folder: what is in it, when it is left untouched, and which it never replaces."""

import json
import os
import re
import shutil
from dataclasses import replace
from pathlib import Path

import geopandas as gpd
import pandas as pd
import pytest
import shapely

from pipeline.errors import OutputError
from pipeline.programme.settings import load_programme
from pipeline.publish import _same_run
from pipeline.publish.geopackage.by_district import with_counts
from pipeline.publish.map.page import draw_map
from pipeline.publish.map_input import map_input
from pipeline.run import run_programme
from tests.publish.handover.packs import pack_of
from tests.small_town import write_town


def _files_of_the_readme():
    """The files that the README's table of outputs names, in the first cell of each row."""
    section = (
        (Path(__file__).parents[2] / "README.md").read_text("utf-8").split("## What comes out")[1].split("\n## ")[0]
    )
    rows = [line.split("|")[1] for line in section.splitlines() if line.startswith("| `")]
    return {name.removesuffix("/") for row in rows for name in re.findall("`([^`]+)`", row)}


def test_a_run_leaves_the_files_that_the_readme_names(run_folder):
    named = _files_of_the_readme()
    assert len(named) >= 17
    # PDFs are written on request, the others for a programme with works, decisions, returns or owners, or for several
    others = {
        "report.pdf",
        "crew-sheets.pdf",
        "decisions_report.csv",
        "corrections.csv",
        "returns_report.csv",
        "owners",
        "works.csv",
        "works_cores.csv",
        "summary.csv",
        "summary.html",
        "maps",
        "geopackage",
        "cores",
    }
    assert {file.name for file in run_folder.iterdir()} == named - others
    # text files end their lines alike on every system
    for name in ("map.html", "report.html", "run.json"):
        assert b"\r" not in (run_folder / name).read_bytes()


def test_the_record_names_the_pack_as_it_is(run_folder):
    handed = json.loads((run_folder / "run.json").read_text())["handover"]
    files = {file.name for file in (run_folder / "handover").iterdir()} - {"SHA256SUMS"}
    assert set(handed["files"]) == files
    heading = (run_folder / "handover" / "cores.csv").read_text().splitlines()[0]
    assert handed["columns"] == heading.replace('"', "").split(",")


class _Updates:
    """Keeps what the stage that publishes tells."""

    def __init__(self):
        self.told, self.is_publishing = [], False

    def stage(self, name, *_):
        self.is_publishing = name == "publish"

    def detail(self, *update):
        if self.is_publishing:
            self.told.append(update)


@pytest.mark.parametrize("wanted", ["", '\n[publish]\noutputs = ["crew-sheets.html", "map.html"]\n'])
def test_every_output_is_counted_once_and_what_is_counted_inside_one_never_goes_beyond_it(tmp_path, wanted):
    updates = _Updates()
    run_programme(write_town(tmp_path, wanted), tmp_path / "out", progress=updates)
    assert all(0 <= done <= total for _, done, total, _ in updates.told)
    outputs = [(done, total) for _, done, total, unit in updates.told if unit == "outputs"]
    assert outputs == [(done, len(outputs)) for done in range(len(outputs))]
    counted = {text: unit for text, _, _, unit in updates.told if unit != "outputs"}
    assert {"tables": "rows", "crew-sheets.html": "days", "map.html": "parts"}.items() <= counted.items()


def test_a_run_of_another_programme_with_the_same_folder_name_is_never_replaced(run_folder, tmp_path):
    inputs = shutil.copytree(run_folder.parents[2], tmp_path / "inputs", ignore=shutil.ignore_patterns("out"))
    path = inputs / "programme.toml"
    path.write_text(path.read_text().replace('"Quay 2026"', '"QUAY-2026"'))
    out = shutil.copytree(run_folder.parents[1], tmp_path / "out")
    with pytest.raises(OutputError, match=r"run of another programme, 'Quay 2026', .* as 'QUAY-2026'\..*--out"):
        run_programme(path, out)
    assert json.loads((out / "quay-2026" / "2026-09-30" / "run.json").read_text())["programme"] == "Quay 2026"


def test_a_pipe_in_the_place_of_a_record_is_not_waited_for(tmp_path):
    programme = write_town(tmp_path)
    for day in ("2026-08-31", "2026-09-30"):
        (tmp_path / "out" / "quay-2026" / day).mkdir(parents=True)
        os.mkfifo(tmp_path / "out" / "quay-2026" / day / "run.json")
    run_programme(programme, tmp_path / "out")
    record = json.loads((tmp_path / "out" / "quay-2026" / "2026-09-30" / "run.json").read_text())
    assert "Folder 2026-08-31 is not in the history: run.json is not a file." in record["notices"]


@pytest.mark.parametrize(
    ("change", "is_same"),
    [({"stages": []}, True), ({"versions": {}}, True), ({"notices": ["new"]}, False), ({"run": "0"}, False)],
)
def test_a_run_is_the_same_if_only_times_and_versions_differ(tmp_path, change, is_same):
    entries = {"run": "1", "notices": [], "stages": ["x"], "versions": {"kerfbook": "1"}}
    for name, written in (("new", entries | change), ("old", entries)):
        (tmp_path / name).mkdir()
        (tmp_path / name / "run.json").write_text(json.dumps(written))
        (tmp_path / name / "a.csv").write_text("1")
    assert _same_run(tmp_path / "new", tmp_path / "old") == is_same
    (tmp_path / "old" / "run.json").write_text("{")
    assert not _same_run(tmp_path / "new", tmp_path / "old")


def test_segments_and_districts_carry_the_number_of_their_cores_by_status():
    """Two flagged cores on S1, one pending on S2; none on S3, and one core without a segment."""
    layer = gpd.GeoDataFrame(
        {"segment_id": ["S1", "S2", "S3"], "start_m": [0.0] * 3}, geometry=[shapely.Point(0, 0)] * 3, crs=32617
    )
    cores = pd.DataFrame(
        {
            "segment_id": ["S1", "S1", "S2", None],
            "status": ["flagged", "flagged", "pending", "reinstated"],
            "state": ["back", "open", "plated", "back"],
            "urgency": ["hazard", "overdue", None, None],
        }
    )
    counted = with_counts(layer, "segment_id", cores)
    assert counted["cores_flagged"].tolist() == [2, 0, 0]
    assert counted["cores_pending"].tolist() == [0, 1, 0]
    assert counted["cores_reinstated"].tolist() == [0, 0, 0]
    assert counted["cores_flagged"].dtype == "int64"
    assert counted[["cores_open", "cores_hazard", "cores_overdue"]].to_numpy().tolist() == [
        [1, 1, 1],
        [1, 0, 0],
        [0, 0, 0],
    ]
    # where a line begins on its segment is internal
    assert "start_m" not in counted


def _opens_with(page):
    return json.loads(re.search(r'"units": ?("[a-z]+")', page)[1])


def test_us_units_of_the_orders_reach_report_tables_and_map(tmp_path):
    """The map has units of its own only where the programme sets them."""
    run = run_programme(write_town(tmp_path, '[orders]\nunits = "us"\n'), tmp_path / "out")
    assert set(pd.read_csv(run.folder / "orders.csv")["unit"]) == {"lb", "US gal"}
    report = (run.folder / "report.html").read_text("utf-8").split('id="orders"')[1].split('id="costs"')[0]
    assert re.search(r"\d lb\b", report)
    assert not re.search(r"\d kg\b", report)
    for page in ("map.html", "handover/map.html"):
        assert _opens_with((run.folder / page).read_text("utf-8")) == "us"
    own = '[orders]\nunits = "us"\n[map]\nunits = "metric"\n'
    assert _opens_with((pack_of(run, tmp_path, own) / "map.html").read_text("utf-8")) == "metric"
    changed = replace(run, settings=load_programme(tmp_path / "programme.toml"))
    assert _opens_with(draw_map(map_input(changed, None))) == "metric"
