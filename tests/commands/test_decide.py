"""The command that writes a sheet of what awaits a decision."""

import shutil
from pathlib import Path

import pandas as pd
import pytest

from tests.commands.sheets import refused


@pytest.fixture(scope="module")
def small_run(run_folder, tmp_path_factory):
    """A copy of the small town's run: a sheet is written beside it."""
    return Path(shutil.copytree(run_folder, tmp_path_factory.mktemp("decide") / run_folder.name))


def _read(path):
    return pd.read_csv(path, dtype="str", keep_default_na=False, encoding="utf-8-sig")


def test_the_command_writes_beside_the_run_and_leaves_the_run_as_it_was(kerfbook, small_run):
    before = {file: file.read_bytes() for file in small_run.rglob("*") if file.is_file()}
    code, said, _ = kerfbook("decide", small_run)
    assert code == 0
    assert {file: file.read_bytes() for file in small_run.rglob("*") if file.is_file()} == before
    sheet = _read(small_run.parent / "decide-2026-09-30.csv")
    assert "Quay 2026, as of 2026-09-30: 18 findings to decide." in " ".join(said.split())
    assert sheet["fingerprint"].is_unique
    assert sheet["message"].ne("").all()
    assert sheet["core_id"].tolist().count("HV-0") == 3


def test_urgencies_narrow_the_sheet(kerfbook, small_run, tmp_path):
    code, said, _ = kerfbook("decide", small_run, "--urgency", "overdue", "--out", tmp_path / "a.xlsx")
    assert code == 0
    assert "5 findings to decide" in said
    assert "Left out by --urgency or --owner: 13 findings." in said


def test_what_cannot_be_written_or_is_unknown_is_refused_in_words(kerfbook, small_run, tmp_path):
    refused(kerfbook("decide", small_run, "--out", small_run / "a.csv"), 2, "in a run's folder", "--out")
    refused(kerfbook("decide", small_run, "--out", tmp_path / "a.pdf"), 2, "a.pdf", ".csv or .xlsx")
    refused(kerfbook("decide", small_run, "--owner", "nobody"), 2, '--owner: found "nobody"')
    refused(kerfbook("decide", tmp_path), 3, "no run.json")
    (tmp_path / "mine.csv").write_text("filled in", encoding="utf-8")
    refused(kerfbook("decide", small_run, "--out", tmp_path / "mine.csv"), 4, "filled in", "--out")
