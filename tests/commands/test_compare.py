"""The command that compares two runs: what it says and writes, and what it refuses."""

import csv
import datetime as dt
import json
import shutil
import sys
from pathlib import Path

import pandas as pd
import pytest
from python_calamine import CalamineWorkbook

from pipeline import cli
from pipeline.commands.compare import compare_runs
from pipeline.run import run_programme
from pipeline.spreadsheet_text import as_written

_TRICKS = ['=HYPERLINK("http://example.org")', "</td><script>alert(1)</script>", "{{ 7 * 191 }}", "+1+1", "nul\x00"]  # fmt: skip


@pytest.fixture(scope="module")
def months(small_town, tmp_path_factory):
    """Two runs of the small town: five cores of the second have ids that try to run, and another is far too wide."""
    programme, run = small_town
    folder = Path(shutil.copytree(programme.parent, tmp_path_factory.mktemp("months") / "town"))
    with (folder / "cores.csv").open(encoding="utf-8", newline="") as file:
        head, *rows = csv.reader(file)
    for row, trick in zip(rows[:5], _TRICKS, strict=True):
        row[head.index("id")] = row[head.index("remarks")] = trick
    rows[5][head.index("dia")] = "4500"
    with (folder / "cores.csv").open("w", encoding="utf-8", newline="") as file:
        csv.writer(file).writerows([head, *rows])
    run_programme(folder / programme.name, folder / "out", dt.date(2026, 10, 2))
    return folder / run.folder.parent.relative_to(programme.parent)


@pytest.fixture
def kept(months, tmp_path):
    """A copy that a test may spoil."""
    return Path(shutil.copytree(months, tmp_path / "kept"))


@pytest.fixture
def command(capsys, monkeypatch):
    def run(*arguments):
        monkeypatch.setattr(sys, "argv", ["kerfbook", "compare", *map(str, arguments)])
        try:
            cli.main()
            code = 0
        except SystemExit as done:
            code = done.code
        said = capsys.readouterr()
        return code, said.out, said.err

    return run


def _files(folder):
    return {str(file.relative_to(folder)): file.read_bytes() for file in sorted(folder.rglob("*")) if file.is_file()}


def test_it_says_the_counts_and_leaves_three_files_beside_the_runs(kept, command):
    runs = _files(kept)
    code, out, err = command(kept / "2026-09-30", kept / "2026-10-02")
    assert (code, err) == (0, "")
    place = kept / "compare-2026-09-30-to-2026-10-02"
    assert sorted(file.name for file in place.iterdir()) == ["changes.csv", "changes.xlsx", "compare.html"]
    assert "from 2026-09-30 to 2026-10-02" in out
    for kind in ("opened", "removed"):
        assert [line.split("│")[2].strip() for line in out.splitlines() if line.startswith(f"│ {kind} ")] == ["5"]
    # no run was touched
    assert {name: raw for name, raw in _files(kept).items() if not name.startswith("compare-")} == runs


def test_the_same_runs_give_the_same_bytes_in_any_folder_and_either_order(kept, command, tmp_path):
    command(kept / "2026-09-30", kept / "2026-10-02")
    first = _files(kept / "compare-2026-09-30-to-2026-10-02")
    code, out, _ = command(kept / "2026-10-02", kept / "2026-09-30", "--out", tmp_path / "elsewhere")
    assert code == 0
    assert "The later run was given first" in out
    assert _files(tmp_path / "elsewhere") == first
    assert str(tmp_path).encode() not in b"".join(first.values())
    # a comparison may be written again where one stands
    assert command(kept / "2026-09-30", kept / "2026-10-02", "--out", tmp_path / "elsewhere")[0] == 0


def test_the_workbook_and_the_table_hold_the_same_changes(kept, command):
    command(kept / "2026-09-30", kept / "2026-10-02")
    place = kept / "compare-2026-09-30-to-2026-10-02"
    table = pd.read_csv(place / "changes.csv", dtype=str, keep_default_na=False)
    assert list(table) == ["row_before", "row_after", "core_id", "change", "before", "after", "district", "street"]
    book = CalamineWorkbook.from_path(str(place / "changes.xlsx"))
    head, *rows = book.get_sheet_by_name("Changes").to_python()
    assert head == list(table)
    table = table.apply(as_written)
    assert [row[2:5] for row in rows] == table[["core_id", "change", "before"]].to_numpy().tolist()
    counts = dict(row[:2] for row in book.get_sheet_by_name("Counts").to_python()[1:])
    assert counts["opened"] == table["change"].eq("opened").sum() == 5
    xml = (place / "changes.xlsx").read_bytes()
    assert b"<f>" not in xml


def test_register_text_stays_text(kept, command):
    command(kept / "2026-09-30", kept / "2026-10-02")
    page = (kept / "compare-2026-09-30-to-2026-10-02/compare.html").read_text("utf-8")
    assert "<script" not in page
    assert "1337" not in page
    assert "{{ 7 * 191 }}" in page
    assert "&lt;script&gt;alert(1)" in page
    assert "default-src 'none'" in page


def test_the_page_has_the_account_the_trend_and_the_cautions(kept):
    found = compare_runs(kept / "2026-09-30", kept / "2026-10-02")
    page = (found.folder / "compare.html").read_text("utf-8")
    words = " ".join(page.split())
    assert "Rows before: 7, of which 0 repeat a core; rows after: 7, of which 0 repeat a core." in words
    assert "removed: 5; added: 5." in words
    flagged = pd.read_csv(kept / "2026-09-30/cores.csv")["status"].eq("flagged").sum()
    assert f'<desc id="trend-flagged-desc">Flagged: {flagged} (30 Sept 2026), ' in page
    assert "some of the changes may not come from the road" not in page
    # the bars before and after, and a trend of each of nine measures
    assert page.count('role="img"') == 1 + 9
    assert "Local codes" in page.split("<h2>Cautions</h2>")[1]


def test_the_page_has_labels_where_the_table_has_short_names_of_rules(kept):
    found = compare_runs(kept / "2026-09-30", kept / "2026-10-02")
    lines = (found.folder / "changes.csv").read_text("utf-8")
    page = (found.folder / "compare.html").read_text("utf-8")
    assert '"new finding","","diameter-implausible"' in lines
    assert "<bdi>Diameter implausible</bdi>" in page
    assert "<bdi>diameter-implausible</bdi>" not in page


def test_other_settings_and_rules_are_said_before_the_counts(kept, command):
    path = kept / "2026-09-30/run.json"
    record = json.loads(path.read_text("utf-8"))
    record["settings"]["matching"]["max_distance"] = "[red]20"
    record["versions"]["kerfbook"] = "0.0.1"
    next(rule for rule in record["rules"] if rule["rule"] == "open-too-long")["limits"] = "max open 90 days"
    path.write_text(json.dumps(record), "utf-8")
    _, out, _ = command(kept / "2026-09-30", kept / "2026-10-02")
    words = " ".join(out.split())
    assert "matching.max_distance was [red]20, is 15.0" in words
    assert "made by Kerfbook 0.0.1 and " in words
    assert "open-too-long (was max open 90 days, is max open 30 days)" in words
    assert words.index("Read first") < words.index("opened")
    page = (kept / "compare-2026-09-30-to-2026-10-02/compare.html").read_text("utf-8")
    assert "some of the changes may not come from the road" in page


def test_a_run_of_another_programme_is_compared_and_reported_as_such(kept, command, tmp_path):
    path = kept / "2026-09-30/run.json"
    path.write_text(path.read_text("utf-8").replace('"Quay 2026"', '"Quay 2025"'), "utf-8")
    code, out, _ = command(kept / "2026-09-30", kept / "2026-10-02", "--out", tmp_path / "new")
    assert code == 0
    assert 'of different programmes, "Quay 2025" and "Quay 2026"' in " ".join(out.split())


def _refused(said, code, *words):
    found, out, err = said
    assert found == code, err
    assert err.startswith("Error: ")
    assert err.count("\n") == 1
    assert "Traceback" not in err
    for word in words:
        assert word in err
    assert "Outputs" not in out


def test_one_run_given_twice_is_refused(kept, command):
    _refused(command(kept / "2026-09-30", kept / "../kept/2026-09-30"), 2, "was given twice", "the earlier one first")


@pytest.mark.parametrize("name", ["run.json", "cores.parquet", "findings.csv"])
@pytest.mark.parametrize("harm", ["gone", "empty", "cut", "noise"])
def test_a_spoiled_run_is_refused(kept, command, name, harm):
    path = kept / "2026-09-30" / name
    raw = path.read_bytes()
    if harm == "gone":
        path.unlink()
    else:
        path.write_bytes({"empty": b"", "cut": raw[: len(raw) // 2], "noise": b"\xff\x00{" * 500}[harm])
    _refused(command(kept / "2026-09-30", kept / "2026-10-02"), 3, str(kept / "2026-09-30"))
    assert not list(kept.glob("compare*"))


def test_a_folder_that_is_no_run_is_refused(kept, command, tmp_path):
    (tmp_path / "empty").mkdir()
    _refused(command(tmp_path / "empty", kept / "2026-10-02"), 3, "no run.json", "kerfbook audit")
    _refused(command(kept, kept / "2026-10-02"), 3, "no run.json")
    _refused(command(tmp_path / "nowhere", kept / "2026-10-02"), 3, "no run.json")


def test_no_output_goes_into_a_run_or_into_somebodys_folder(kept, command, tmp_path):
    runs = (kept / "2026-09-30", kept / "2026-10-02")
    before = _files(kept)
    for inside in (runs[0], runs[1] / "more" / "deep"):
        _refused(command(*runs, "--out", inside), 4, "in a run's folder", "--out")
    (tmp_path / "own").mkdir()
    (tmp_path / "own/letter.txt").write_text("mine", "utf-8")
    _refused(command(*runs, "--out", tmp_path / "own"), 4, "contains 'letter.txt'", "--out")
    (tmp_path / "own/file").write_text("mine", "utf-8")
    _refused(command(*runs, "--out", tmp_path / "own/file/below"), 4, "--out")
    assert _files(kept) == before
    assert not list(tmp_path.glob(".*"))


def test_spoiled_runs_beside_are_left_out_of_the_trend_and_named(kept, command):
    for name in ("2026-01-31", "2026-02-28"):
        (kept / name).mkdir()
    (kept / "2026-01-31/run.json").write_text("{", "utf-8")
    (kept / "2026-13-01").mkdir()
    code, out, _ = command(kept / "2026-09-30", kept / "2026-10-02")
    assert code == 0
    words = " ".join(out.split())
    assert "Folder 2026-01-31 is not in the history: run.json is incomplete or damaged." in words
    assert "2026-02-28" in words
    assert "2026-13-01" not in words
