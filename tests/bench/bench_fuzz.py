"""Inputs changed at random, many more of them: ``python -m tests.bench.bench_fuzz cells --cases 1000000``.

``cells``: made-up cells through every reader of cells. ``long``: one long cell of each part. ``intake``: a small town's
inputs changed and read. ``runs``: the same, audited or checked whole. ``sheets``: what crews send back, taken back into a
run. ``records``: the record of a run changed, and every command that reads one. ``guided``: cells that a coverage-guided
fuzzer finds (needs ``atheris``, which is no dependency of the tests). Each prints its seed with what is wrong; ``--seed``
begins there again.
"""

import argparse
import faulthandler
import shutil
import sys
import tempfile
import time
import warnings
from collections import Counter
from pathlib import Path

import numpy as np

from tests.fuzz.cells import check_cells, long_parts, made_up_cells, seconds_for_long_cell
from tests.fuzz.changed_records import check_record
from tests.fuzz.fuzzed_town import write_town
from tests.fuzz.returned_sheets import try_sheet
from tests.fuzz.whole_runs import run_command, try_case, try_intake

_CELLS_EACH = 2000
_LONG = 20_000
_SAID_EACH = 1000
_MOST_SECONDS = 2.0


def main() -> None:
    """Try cases until as many, or as many seconds, have passed; end with code 1 if anything was wrong."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("what", choices=[*_TRIALS, "guided"])
    parser.add_argument("--cases", type=int, default=1000)
    parser.add_argument("--seconds", type=float, default=float("inf"))
    parser.add_argument("--seed", type=int, default=0)
    given = parser.parse_args()
    faulthandler.enable()
    if given.what == "guided":
        _guided(given.cases, given.seed)
        return
    found: Counter[str] = Counter()
    began, worked, tried, seed = time.monotonic(), time.process_time(), 0, given.seed
    with tempfile.TemporaryDirectory() as folder:
        town = Path(folder, "town")
        town.mkdir()
        write_town(town)
        while tried < given.cases and time.monotonic() - began < given.seconds:
            count, wrong = _TRIALS[given.what](town, Path(folder, "case"), seed)
            if wrong:
                found[wrong[:100]] += 1
                print(f"seed {seed}: {wrong}", flush=True)
            tried, seed = tried + count, seed + 1
            if tried // _SAID_EACH > (tried - count) // _SAID_EACH:
                print(f"{tried:,} cases", file=sys.stderr, flush=True)
    print(f"{tried:,} cases, seeds {given.seed} to {seed - 1}, {time.process_time() - worked:.0f} s of processor")
    for wrong, times in found.most_common():
        print(f"{times} x {wrong}")
    sys.exit(1 if found else 0)


def _cells(_town: Path, _folder: Path, seed: int) -> tuple[int, str]:
    rng = np.random.default_rng(seed)
    cells = made_up_cells(rng, _CELLS_EACH)
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("error")
            check_cells(cells, int(rng.integers(1_000_000)))
    except Exception as error:  # noqa: BLE001 - any is what is looked for
        return len(cells), f"{type(error).__name__}: {error}"
    return len(cells), ""


def _long(_town: Path, _folder: Path, seed: int) -> tuple[int, str]:
    parts = long_parts()
    part = parts[seed % len(parts)]
    seconds = seconds_for_long_cell(part, _LONG)
    return 1, f"{part!r} times over takes {seconds:.1f} s" if seconds > _MOST_SECONDS else ""


def _intake(town: Path, folder: Path, seed: int) -> tuple[int, str]:
    wrong, done = try_intake(town, folder, seed)
    return 1, f"{wrong} ({'; '.join(done)})" if wrong else ""


def _runs(town: Path, folder: Path, seed: int) -> tuple[int, str]:
    _, wrong, done = try_case(town, folder, seed)
    return 1, f"{wrong} ({'; '.join(done)})" if wrong else ""


def _run_of(town: Path) -> Path:
    """Return the folder of a run of the sound town."""
    runs = town.parent / "out"
    if not runs.exists():
        run_command("audit", town / "programme.toml", "--out", runs, "--quiet")
    (record,) = runs.glob("*/*/run.json")
    return record.parent


def _sheets(town: Path, folder: Path, seed: int) -> tuple[int, str]:
    return 1, try_sheet(_run_of(town), folder, np.random.default_rng(seed))[0]


def _records(town: Path, folder: Path, seed: int) -> tuple[int, str]:
    shutil.rmtree(folder, ignore_errors=True)
    wrong, key = check_record(town / "programme.toml", _run_of(town), folder, seed)
    return 1, f"{wrong} ({key})" if wrong else ""


def _guided(cases: int, seed: int) -> None:
    """Let a fuzzer that sees which code its cells reach make up the cells."""
    import atheris  # noqa: PLC0415 - an extra

    with atheris.instrument_imports(include=["pipeline.intake.cells"], enable_loader_override=False):
        for name in [name for name in sys.modules if name.startswith(("pipeline.intake.cells", "tests.fuzz"))]:
            del sys.modules[name]
        from tests.fuzz import cells as instrumented  # noqa: PLC0415 - only now with its hooks

    def one(raw: bytes) -> None:
        number, *texts = raw.decode("utf-8", errors="replace").split("\n")
        instrumented.check_cells(texts or [""], sum(map(ord, number)))

    # its hook for patterns hands them on in a form that Arrow does not take
    kept = f"-artifact_prefix={tempfile.mkdtemp(prefix='fuzz-')}/"
    atheris.Setup([sys.argv[0], f"-runs={cases}", f"-seed={seed + 1}", "-max_len=400", kept], one)
    atheris.Fuzz()


_TRIALS = {"cells": _cells, "long": _long, "intake": _intake, "runs": _runs, "sheets": _sheets, "records": _records}

if __name__ == "__main__":
    main()
