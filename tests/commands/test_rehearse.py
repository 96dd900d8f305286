"""Rehearsals of a small town: what they plant is what a person would have planted, and nothing else is touched."""

import hashlib
import re
import shutil

import pandas as pd
import pytest

from pipeline import cli
from pipeline.commands.rehearse import rehearse_programme
from pipeline.errors import OutputError
from pipeline.rehearse.kinds import KINDS
from pipeline.run import run_programme
from tests.rehearsed_town import write_rehearsed_town

_HEADERS = {"core_id": "no", "x": "east", "y": "north", "diameter_mm": "dia", "depth_mm": "deep", "street": "road"}


@pytest.fixture(scope="module")
def town(tmp_path_factory):
    """The town with a run of its own."""
    path = write_rehearsed_town(tmp_path_factory.mktemp("town"))
    run_programme(path, path.parent / "outputs")
    return path


@pytest.fixture(scope="module")
def rehearsed(town, tmp_path_factory):
    out = tmp_path_factory.mktemp("rehearsal") / "out"
    found, folder = rehearse_programme(town, out, faults=150, seed=7)
    assert folder == out
    return found, out


def _bytes_of(folder):
    files = sorted(path for path in folder.rglob("*") if path.is_file())
    return {
        str(path): (path.stat().st_mtime_ns, hashlib.sha256(path.read_bytes()).hexdigest())
        for path in files
    }  # fmt: skip


def test_nothing_of_the_real_run_is_touched(town, tmp_path):
    before = _bytes_of(town.parent)
    assert len(before) > 30
    rehearse_programme(town, tmp_path / "out", faults=9, seed=2)
    assert _bytes_of(town.parent) == before
    assert sorted(path.name for path in (tmp_path / "out").iterdir()) == [
        "rehearsal.csv", "rehearsal.html", "rehearsal_faults.csv",
    ]  # fmt: skip


def test_without_a_folder_nothing_is_written(town, tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    before = _bytes_of(town.parent)
    found, folder = rehearse_programme(town, faults=6)
    assert folder is None
    assert len(found.faults) == 6
    assert _bytes_of(town.parent) == before
    assert list(tmp_path.iterdir()) == []


def _findings(path):
    found = run_programme(path, None).audit.findings
    return set(zip(found["row"], found["rule"], strict=True))


_BY_HAND = (
    "digits-exchanged-x", "axes-exchanged", "position-blank", "id-of-row-above", "diameter-tenfold", "depth-blank",
    "street-of-another", "letter-in-id",
)  # fmt: skip


def test_faults_planted_by_hand_into_the_file_are_found_by_the_same_rules(town, rehearsed, tmp_path):
    """The cells of the table of faults are typed into a copy of the file, and that is audited like any other."""
    faults = rehearsed[0].faults
    chosen = faults[faults["kind"].isin(_BY_HAND)].drop_duplicates("kind")
    assert len(chosen) == chosen["row"].nunique() == len(_BY_HAND)
    shutil.copytree(town.parent, tmp_path / "copy", ignore=shutil.ignore_patterns("outputs"))
    table = pd.read_csv(tmp_path / "copy" / "cores.csv", dtype="str")
    spoils = {kind.name: kind.spoils for kind in KINDS}
    for fault in chosen.to_dict("records"):
        at = fault["row"] - 1
        for name, piece in zip(spoils[fault["kind"]], fault["written"].split("; "), strict=True):
            before, after = piece.split(" \N{RIGHTWARDS ARROW} ")
            assert table.loc[at, _HEADERS[name]] == before
            table.loc[at, _HEADERS[name]] = None if after == "(blank)" else after
    table.to_csv(tmp_path / "copy" / "cores.csv", index=False)
    gained = _findings(tmp_path / "copy" / "programme.toml") - _findings(town)
    for fault in chosen.to_dict("records"):
        told = {rule for text in (fault["found_by"], fault["noticed_by"]) for rule in text.split(";") if rule}
        assert {rule for row, rule in gained if row == fault["row"]} == told, fault["kind"]


def test_the_counts_are_those_of_the_table_of_faults(rehearsed):
    found, out = rehearsed
    faults = pd.read_csv(out / "rehearsal_faults.csv", keep_default_na=False)
    kinds = pd.read_csv(out / "rehearsal.csv", keep_default_na=False).set_index("kind")
    assert len(faults) == 150
    assert kinds["planted"].sum() == 150
    for name, group in faults.groupby("kind"):
        assert kinds.loc[name, "planted"] == len(group)
        assert kinds.loc[name, "found"] == group["outcome"].eq("found").sum()
        assert kinds.loc[name, "blamed"] == group["blamed"].sum()
    assert (kinds["found"] + kinds["noticed"] + kinds["missed"] == kinds["planted"]).all()
    assert found.known["planted"] + found.unknown["planted"] == 150
    # at most a twentieth of the rows in one audit
    assert faults.groupby("audit").size().max() <= 15


def test_what_can_be_found_in_this_town_is_found(rehearsed):
    kinds = rehearsed[0].kinds.set_index("kind")
    sure = ["position-blank", "id-blank", "id-of-row-above", "diameter-blank", "depth-tenfold", "axes-exchanged"]
    assert (kinds.loc[sure, "found"] == kinds.loc[sure, "planted"]).all()
    assert (kinds.loc[sure, "planted"] > 0).all()
    assert kinds.loc["letter-in-id", ["found", "noticed"]].sum() == 0
    # 450 and 200 are in every row
    assert kinds.loc["diameter-of-another", "planted"] == 0


def test_columns_that_the_register_lacks_are_named(rehearsed):
    kinds = rehearsed[0].kinds.set_index("kind")
    assert kinds.loc["bags-tenfold", ["lacks", "planted"]].tolist() == ["bags_used", 0]
    assert kinds.loc["reopened-exchanged", "lacks"] == "reopened_at"
    assert kinds.loc["opened-word", "lacks"] == ""


def test_a_column_that_is_there_and_blank_is_lacking(town, tmp_path):
    shutil.copytree(town.parent, tmp_path / "copy", ignore=shutil.ignore_patterns("outputs"))
    table = pd.read_csv(tmp_path / "copy" / "cores.csv", dtype="str")
    table.assign(road="").to_csv(tmp_path / "copy" / "cores.csv", index=False)
    found, _ = rehearse_programme(tmp_path / "copy" / "programme.toml", faults=4)
    kinds = found.kinds.set_index("kind")
    assert kinds.loc["street-of-another", ["lacks", "planted"]].tolist() == ["street", 0]


def test_the_same_seed_gives_the_same_bytes_and_another_one_other_faults(town, tmp_path):
    for name, seed in (("one", 3), ("two", 3), ("other", 4)):
        rehearse_programme(town, tmp_path / name, faults=10, seed=seed)
    one, two, other = (
        {path.name: path.read_bytes() for path in (tmp_path / name).iterdir()} for name in ("one", "two", "other")
    )
    assert one == two
    assert one["rehearsal_faults.csv"] != other["rehearsal_faults.csv"]


def test_a_run_and_a_folder_with_other_files_are_refused_before_the_work(town, tmp_path):
    run = next((town.parent / "outputs").glob("*/*"))
    with pytest.raises(OutputError, match="is in a run's folder"):
        rehearse_programme(town, run / "rehearsal")
    (tmp_path / "mine.txt").write_text("mine")
    with pytest.raises(OutputError, match=re.escape("contains 'mine.txt'; a rehearsal needs a folder of its own")):
        rehearse_programme(town, tmp_path)
    with pytest.raises(OutputError, match="is a file"):
        rehearse_programme(town, tmp_path / "mine.txt")


def test_a_register_that_the_audit_refuses_with_a_fault_in_it_counts_as_found(town, tmp_path):
    """One core alone: with a wrong sign none lies near the roads, and the audit stops."""
    shutil.copytree(town.parent, tmp_path / "copy", ignore=shutil.ignore_patterns("outputs"))
    table = pd.read_csv(tmp_path / "copy" / "cores.csv", dtype="str").head(1)
    table.to_csv(tmp_path / "copy" / "cores.csv", index=False)
    found, _ = rehearse_programme(tmp_path / "copy" / "programme.toml", faults=10)
    refused = found.faults[found.faults["noticed_by"].str.contains("no core lies near the roads")]
    assert len(refused) > 0
    assert refused["outcome"].unique().tolist() == ["found"]


def test_what_a_row_does_not_hold_is_not_spoiled(town, tmp_path):
    shutil.copytree(town.parent, tmp_path / "copy", ignore=shutil.ignore_patterns("outputs"))
    table = pd.read_csv(tmp_path / "copy" / "cores.csv", dtype="str").head(1)
    table.assign(cut="", done="", road="", dia="x", deep="x", no="").to_csv(
        tmp_path / "copy" / "cores.csv", index=False
    )
    found, _ = rehearse_programme(tmp_path / "copy" / "programme.toml", faults=4)
    # only its position is left to spoil
    assert found.faults["kind"].nunique() > 0
    assert set(found.kinds.loc[found.kinds["planted"].gt(0), "group"]) == {"position"}


def test_the_command_prints_what_was_found(town, tmp_path, monkeypatch, capsys):
    monkeypatch.setattr(
        "sys.argv", ["kerfbook", "rehearse", str(town), "--faults", "40", "--quiet", "--out", str(tmp_path / "out")]
    )
    cli.main()
    printed = " ".join(capsys.readouterr().out.split())
    assert "Rehearsed town, as of 2026-09-30" in printed
    assert re.search(r"Of \d+ planted faults of kinds that a rule knows, the rules found \d+: \d+\.\d%", printed)
    assert "Ids and rows" in printed
    assert "What would raise this:" in printed
    assert "They say nothing about how many faults it has" in printed


def test_a_wrong_number_of_faults_is_refused(town, monkeypatch, capsys):
    monkeypatch.setattr("sys.argv", ["kerfbook", "rehearse", str(town), "--faults", "0"])
    with pytest.raises(SystemExit) as ended:
        cli.main()
    assert ended.value.code == 2
    assert "--faults" in capsys.readouterr().err


def test_a_register_in_a_database_is_rehearsed_as_the_same_file_is_and_stays_as_it_was(tmp_path, database):
    path = write_rehearsed_town(tmp_path)
    as_file = rehearse_programme(path, faults=60, seed=3)[0]
    cores = pd.read_csv(tmp_path / "cores.csv", dtype=str, keep_default_na=False)
    texts = ", ".join(f'"{name}" text' for name in cores)
    rows = ", ".join(str(tuple(row)) for row in cores.itertuples(index=False))
    database.run(f"CREATE TABLE cores ({texts})", f"INSERT INTO cores VALUES {rows}")
    before = database.rows("SELECT * FROM cores ORDER BY no")
    (tmp_path / "cores.csv").unlink()
    settings = path.read_text("utf-8").replace(
        'path = "cores.csv"', f'path = "{database.address}"\n        table = "cores"\n        key = "no"'
    )
    path.write_text(settings, encoding="utf-8")
    found = rehearse_programme(path, faults=60, seed=3)[0]
    same = ["row", "core_id", "kind", "written", "outcome", "found_by"]
    pd.testing.assert_frame_equal(found.faults[same], as_file.faults[same])
    assert database.rows("SELECT * FROM cores ORDER BY no") == before
