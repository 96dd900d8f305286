"""The record of a finished run changed at random, and every command that reads one."""

import copy
import json
import shutil

import numpy as np

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


def check_record(programme, run, folder, seed, most=None):
    """Read a run with a changed record by commands that read one; return what is wrong, and the entry changed.

    ``most``: how many of the commands, other ones for other seeds; all if it is missing.
    """
    rng = np.random.default_rng(seed)
    record = json.loads((run / "run.json").read_text("utf-8"))
    changed, key = _changed(record, rng)
    spoiled = folder / "runs" / run.parent.name / run.name
    if not spoiled.exists():
        shutil.copytree(run, spoiled)
    (spoiled / "run.json").write_text(json.dumps(changed), encoding="utf-8")
    returned = folder / "returned.csv"
    returned.unlink(missing_ok=True)
    commands = [
        ["rules", spoiled],
        ["explain", spoiled, "--row", "1"],
        ["compare", run, spoiled, "--out", folder / "compared"],
        ["sample", spoiled, "--out", folder / "sampled"],
        ["decide", spoiled, "--out", folder / "decided.csv"],
        ["return", spoiled, spoiled / "return-sheet.csv", "--out", returned],
        ["plan", spoiled, programme, "--out", folder / "planned"],
        # an audit of a later day goes on from the runs before it
        ["audit", programme, "--as-of", "2026-10-31", "--out", folder / "runs", "--quiet"],
    ]
    for command in [commands[(seed + number) % len(commands)] for number in range(most or len(commands))]:
        if wrong := wrong_with(run_command(*command)):
            return f"{command[0]}: {wrong}", key
    return "", key
