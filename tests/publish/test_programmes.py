"""The summary over several programmes: its table, and its page."""

import csv
import dataclasses
import datetime as dt
import json
import re
from pathlib import Path
from urllib.parse import unquote

import pytest

from pipeline.publish.programmes import COUNTS, ProgrammeRow, row_of, write_summary


@pytest.fixture
def out(tmp_path):
    return tmp_path / "out"


@pytest.fixture
def rows(demo, out):
    # the folder may be named in any way
    folder = out / "north & <south>" / "2026-09-30"
    folder.mkdir(parents=True)
    for name in ("map.html", "report.html", "orders.xlsx"):
        (folder / name).touch()
    own = row_of(dataclasses.replace(demo, folder=folder), Path("north/programme.toml"), 1)
    odd = ProgrammeRow(
        Path("=1+1.toml"), "<b>=2+2</b>", dt.date(2026, 9, 30), 0, dict.fromkeys(COUNTS, 1_000), own.folder
    )
    return [own, odd, ProgrammeRow(Path("gone.toml"), "", None, 3, error="<i>gone.csv</i>: no such file")]


def test_the_counts_of_a_programme_are_those_of_its_own_outputs(rows, demo):
    """Read from the files of the run, not from its result."""
    record = json.loads((demo.folder / "run.json").read_text("utf-8"))
    for name in ("cores", "pending", "reinstated", "flagged"):
        assert rows[0].counts[name] == record["account"][name]
    with (demo.folder / "orders.csv").open(encoding="utf-8", newline="") as file:
        lines = [line for line in csv.DictReader(file) if line["item"].startswith("grout ")]
    assert rows[0].counts["bags_to_mix"] == sum(int(float(line["packs"])) for line in lines)
    with (demo.folder / "purchases.csv").open(encoding="utf-8", newline="") as file:
        lines = [line for line in csv.DictReader(file) if line["item"].startswith("grout ")]
    assert rows[0].counts["bags_to_buy"] == sum(int(float(line["packs_ordered"])) for line in lines)
    with (demo.folder / "plan.csv").open(encoding="utf-8", newline="") as file:
        assert rows[0].counts["planned"] == len(list(csv.DictReader(file)))


def test_the_hazards_are_those_of_the_report(rows, demo):
    """The first page of the report counts the cores to act on by their most urgent finding, too."""
    with (demo.folder / "findings.csv").open(encoding="utf-8", newline="") as file:
        found = list(csv.DictReader(file))
    copies = {row["row"] for row in _cores(demo) if row["copy_of"]}
    hazards = {
        one["row"]
        for one in found
        if one["urgency"] == "hazard" and one["severity"] != "note" and one["row"] not in copies
    }
    assert rows[0].counts["hazard"] == len(hazards)


def _cores(demo):
    with (demo.folder / "cores.csv").open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


def test_the_table_has_a_row_for_each_and_no_cell_that_runs(rows, out):
    write_summary(rows, out)
    with (out / "summary.csv").open(encoding="utf-8", newline="") as file:
        table = list(csv.DictReader(file))
    assert [row["exit_code"] for row in table] == ["1", "0", "3"]
    assert table[0]["folder"] == "north & <south>/2026-09-30"
    assert table[1]["programme_file"] == "'=1+1.toml"
    assert table[2]["cores"] == table[2]["as_of"] == ""
    assert table[2]["error"] == "<i>gone.csv</i>: no such file"


def test_the_page_leads_to_what_is_there_adds_up_and_holds_no_markup_of_a_programme(rows, out):
    page = write_summary(rows, out)
    text = page.read_text("utf-8")
    links = re.findall('href="([^"]+)"', text)
    assert len(links) == 6
    for link in links:
        assert (out / unquote(link)).is_file()
    assert "2 of 3 programmes audited" in text
    (total,) = re.findall(r'<th scope="row">All</th><td></td><td class="n">([\d,]+)<', text)
    assert int(total.replace(",", "")) == rows[0].counts["cores"] + 1_000
    assert "<b>=2+2" not in text
    assert "<i>gone" not in text
    assert "&lt;i&gt;gone.csv" in text
    before = page.read_bytes()
    assert write_summary(rows, out).read_bytes() == before


def test_a_summary_of_failures_alone_is_a_page_too(tmp_path):
    page = write_summary([ProgrammeRow(Path("a.toml"), "", None, 2, error="wrong")], tmp_path / "new")
    assert "0 of 1 programme audited" in page.read_text("utf-8")
