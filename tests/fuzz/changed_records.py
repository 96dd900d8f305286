"""The record of a finished run changed at random, and every command that reads one."""

import json
import shutil

import numpy as np

from tests.fuzz.odd_entries import change_entry
from tests.fuzz.whole_runs import run_command, wrong_with


def check_record(programme, run, folder, seed, most=None):
    """Read a run with a changed record by commands that read one; return what is wrong, and the entry changed.

    ``most``: how many of the commands, other ones for other seeds; all if it is missing.
    """
    rng = np.random.default_rng(seed)
    record = json.loads((run / "run.json").read_text("utf-8"))
    key = change_entry(record, rng)
    spoiled = folder / "runs" / run.parent.name / run.name
    if not spoiled.exists():
        shutil.copytree(run, spoiled)
    (spoiled / "run.json").write_text(json.dumps(record), encoding="utf-8")
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
