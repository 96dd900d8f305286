"""The record of a finished run with entries of another shape: every command that reads it says so, or takes it."""

import copy
import json
import shutil

import numpy as np
import pytest

from tests.fuzz.whole_runs import run_command, wrong_with

_ODD = (None, 3, -1, 10**30, 1.5, True, "", "x", "2026-02-30", [], [1], {}, {"x": 1}, "\u0000", [{"rule": 3}])


def _changed(record, rng):
    """Return a record with one entry of it, however deep, lost or of another kind."""
    changed = copy.deepcopy(record)
    place = changed
    while True:
        keys = list(place) if isinstance(place, dict) else list(range(len(place)))
        key = keys[int(rng.integers(len(keys)))]
        inner = place[key]
        if not isinstance(inner, dict | list) or not inner or rng.random() < 0.4:
            break
        place = inner
    if rng.random() < 0.2:
        del place[key]
    else:
        place[key] = _ODD[int(rng.integers(len(_ODD)))]
    return changed, key


def check_record(run, folder, seed):
    """Read a run with a changed record by every command that reads one; return what is wrong, and the entry changed."""
    rng = np.random.default_rng(seed)
    record = json.loads((run / "run.json").read_text("utf-8"))
    changed, key = _changed(record, rng)
    spoiled = folder / "Town" / run.name
    if not spoiled.exists():
        shutil.copytree(run, spoiled)
    (spoiled / "run.json").write_text(json.dumps(changed), encoding="utf-8")
    commands = (
        ["rules", spoiled],
        ["explain", spoiled, "--row", "1"],
        ["compare", run, spoiled, "--out", folder / "compared"],
    )
    for command in commands:
        if wrong := wrong_with(run_command(*command)):
            return f"{command[0]}: {wrong}", key
    return "", key


@pytest.mark.parametrize("seed", range(12))
def test_a_record_of_another_shape_is_refused_in_words_or_read(run_folder, tmp_path, seed):
    wrong, key = check_record(run_folder, tmp_path, seed)
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
