"""A finished run planned anew: the same settings give the same plan, other ones another, and the run stays as it is."""

import hashlib
import json
import shutil
from pathlib import Path

import pandas as pd
import pytest

from pipeline.commands.plan import plan_again
from pipeline.errors import InputError, OutputError, SettingsError

_FILES = (
    "plan.csv",
    "not_planned.csv",
    "plan_days.csv",
    "orders.csv",
    "purchases.csv",
    "loads.csv",
    "return-sheet.csv",
)


@pytest.fixture(scope="module")
def town(small_town, tmp_path_factory):
    """A copy of the small town's programme and run: a new plan is written beside the run."""
    programme, run = small_town
    folder = Path(shutil.copytree(programme.parent, tmp_path_factory.mktemp("replanned") / "town"))
    return folder / programme.name, folder / run.folder.relative_to(programme.parent)


def _digests(folder):
    return {
        file.relative_to(folder): hashlib.sha256(file.read_bytes()).hexdigest()
        for file in folder.rglob("*")
        if file.is_file()
    }


def _plan(folder):
    return pd.read_csv(folder / "plan.csv", dtype=str, keep_default_na=False)


def test_the_same_settings_give_the_plan_and_the_orders_of_the_run_and_leave_it_as_it_is(town):
    programme, run = town
    before = _digests(run)
    replanned = plan_again(run, programme)
    assert replanned.folder == run.parent / "2026-09-30-plan"
    for name in (*_FILES, "crew-sheets.html"):
        assert (replanned.folder / name).read_bytes() == (run / name).read_bytes(), name
    assert _digests(run) == before


def test_a_sheet_filled_in_beside_a_plan_is_kept_as_the_plan_is_written_again(town, tmp_path):
    sheet = plan_again(town[1], town[0], out=tmp_path / "plan").folder / "return-sheet.csv"
    filled = pd.read_csv(sheet, dtype=str, keep_default_na=False).assign(remarks="no access")
    filled.to_csv(sheet, index=False)
    again = plan_again(town[1], town[0], out=tmp_path / "plan").folder
    assert set(pd.read_csv(again / "return-sheet-kept-1.csv", dtype=str)["remarks"]) == {"no access"}
    assert pd.read_csv(again / "return-sheet.csv", dtype=str)["remarks"].isna().all()


def test_the_programme_is_found_above_the_run(town, tmp_path):
    assert len(plan_again(town[1], out=tmp_path / "plan").plan.stops) == 3


def test_another_start_moves_the_plan(town, tmp_path):
    start = pd.Timestamp("2026-11-02")
    replanned = plan_again(town[1], town[0], {"start": start.date()}, tmp_path / "plan")
    assert replanned.plan.stops["day"].min() == start


def test_a_promised_plan_is_kept_on_another_start(town, tmp_path):
    programme, run = town
    promised = _plan(run)
    promised.head(1).to_csv(tmp_path / "promised.csv", index=False)
    keep = str(tmp_path / "promised.csv")
    replanned = plan_again(run, programme, {"keep": keep}, tmp_path / "plan")
    kept = replanned.plan.stops[replanned.plan.stops["is_kept"]]
    assert kept["core_id"].tolist() == promised["core_id"].tolist()[:1]
    assert kept["day"].dt.strftime("%Y-%m-%d").tolist() == promised["day"].tolist()[:1]


def test_a_programme_that_cannot_be_found_or_is_another_one_is_refused(town, tmp_path):
    programme, run = town
    shutil.copytree(run, tmp_path / "alone")
    with pytest.raises(SettingsError, match=r"programme\.toml is not in this folder"):
        plan_again(tmp_path / "alone")
    other = programme.with_name("other.toml")
    other.write_text(programme.read_text("utf-8").replace("Quay 2026", "Dock 2026"), encoding="utf-8")
    with pytest.raises(SettingsError, match="found 'Dock 2026', expected 'Quay 2026'"):
        plan_again(run, other)


def _altered(town, folder, **entries):
    """Return a copy of the run whose record has other entries."""
    run = Path(shutil.copytree(town[1], folder / "2026-09-30"))
    record = json.loads((run / "run.json").read_text("utf-8"))
    (run / "run.json").write_text(json.dumps(record | entries), encoding="utf-8")
    return run


def test_the_table_of_rules_may_be_lost_since_the_record_has_them(town, tmp_path):
    run = _altered(town, tmp_path)
    (run / "rules.csv").unlink()
    replanned = plan_again(run, town[0])
    assert (replanned.folder / "crew-sheets.html").read_bytes() == (run / "crew-sheets.html").read_bytes()


@pytest.mark.parametrize("rules", [[], [{"rule": "too-deep", "title": "Too deep", "severity": "fail"}]])
def test_a_record_without_the_rules_that_the_sheets_show_is_refused(town, tmp_path, rules):
    with pytest.raises(InputError, match=r"run\.json: cannot be used \(rules without"):
        plan_again(_altered(town, tmp_path, rules=rules), town[0])


def test_a_record_that_names_no_programme_file_asks_for_one(town, tmp_path):
    with pytest.raises(SettingsError, match="names no programme file"):
        plan_again(_altered(town, tmp_path, programme_file=None, basis=None))


def test_it_writes_into_no_run_and_over_no_other_files(town, tmp_path):
    with pytest.raises(SettingsError, match="is a run's folder"):
        plan_again(town[1], town[0], out=town[1])
    (tmp_path / "mine").mkdir()
    with pytest.raises(OutputError, match="holds no plan"):
        plan_again(town[1], town[0], out=tmp_path / "mine")


def test_a_run_whose_basis_was_altered_is_refused(town, tmp_path):
    shutil.copytree(town[1], tmp_path / "run")
    (tmp_path / "run" / "basis" / "segments.parquet").write_bytes(b"x")
    with pytest.raises(InputError, match="checksum"):
        plan_again(tmp_path / "run", town[0], out=tmp_path / "plan")
