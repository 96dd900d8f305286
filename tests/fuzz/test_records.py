"""The record of a finished run with entries of another shape: every command that reads it says so, or takes it."""

import json
import re
import shutil

import pytest

from tests.fuzz.changed_records import check_record
from tests.fuzz.whole_runs import run_command


@pytest.mark.parametrize("seed", range(12))
def test_a_record_of_another_shape_is_refused_in_words_or_read(small_town, tmp_path, seed):
    programme, run = small_town
    wrong, key = check_record(programme, run.folder, tmp_path, seed, most=3)
    assert not wrong, key


@pytest.mark.parametrize(
    ("entry", "value"),
    [("inputs", {}), ("settings", {"cores": []}), ("account", []), ("rules", "none"), ("crs", "nowhere"), ("basis", 3),
     ("programme_file", []), ("versions", []), ("orders", []), ("units_of_bare_numbers", "mm"), ("as_of", 20260930)],
)  # fmt: skip
def test_a_record_with_an_entry_of_another_kind_is_refused_by_its_name(run_folder, tmp_path, entry, value):
    spoiled = tmp_path / "Town" / run_folder.name
    shutil.copytree(run_folder, spoiled)
    record = json.loads((spoiled / "run.json").read_text("utf-8"))
    (spoiled / "run.json").write_text(json.dumps({**record, entry: value}), encoding="utf-8")
    outcome = run_command("explain", spoiled, "--row", "1")
    assert outcome.code == 3
    assert f"run.json: cannot be used ({entry}" in outcome.printed.replace("\n", " ")


def test_a_count_that_is_missing_is_named(run_folder, tmp_path):
    spoiled = tmp_path / "Town" / run_folder.name
    shutil.copytree(run_folder, spoiled)
    record = json.loads((spoiled / "run.json").read_text("utf-8"))
    del record["findings_by_severity"]["fail"]
    (spoiled / "run.json").write_text(json.dumps(record), encoding="utf-8")
    outcome = run_command("compare", run_folder, spoiled, "--out", tmp_path / "compared")
    assert outcome.code == 3
    assert re.search(r"findings_by_severity: found .*, expected a count of 'fail'", outcome.printed)
