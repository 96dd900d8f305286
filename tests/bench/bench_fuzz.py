"""Inputs changed at random, many more of them: ``python -m tests.bench.bench_fuzz cells --cases 1000000``.

``cells``: made-up cells through every reader of cells. ``long``: one long cell of each part. ``intake``: a small town's
inputs changed and read. ``runs``: the same, audited or checked whole. ``wide``: a sound town with settings, tables and names that few have together, audited, and one
command on the run. ``sheets``: what crews send back, taken back into a
run. ``records``: the record of a run changed, and every command that reads one. ``bytes``: tables, headers of
layers and the columns of a map, spoiled byte by byte. ``maps``: the columns of a map with entries of another kind.
``guided``: what a fuzzer that watches the code finds, for ``--of`` cells, tables, headers or map (needs ``atheris``, which
is no dependency of the tests). Each prints its seed with what is wrong; ``--seed`` begins there again.
"""

import argparse
import faulthandler
import shutil
import sys
import tempfile
import time
import warnings
from collections import Counter
from collections.abc import Callable, Sequence
from pathlib import Path

import numpy as np

from tests.fuzz.cells import check_cells, long_parts, made_up_cells, seconds_for_long_cell
from tests.fuzz.changed_maps import example_map, try_map
from tests.fuzz.changed_records import check_record
from tests.fuzz.fuzzed_town import write_town
from tests.fuzz.readers_of_bytes import (
    HEADERS,
    TABLES,
    columns_of_a_map,
    read_as_columns_of_a_map,
    read_as_header,
    read_as_table,
    spoiled,
)
from tests.fuzz.returned_sheets import try_sheet
from tests.fuzz.whole_runs import run_command, try_case, try_intake
from tests.fuzz.wider_town import try_wide

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
    parser.add_argument("--of", choices=["cells", *_READERS], default="cells")
    given = parser.parse_args()
    faulthandler.enable()
    if given.what == "guided":
        _guided(given.of, given.cases, given.seed)
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


def _wide(town: Path, folder: Path, seed: int) -> tuple[int, str]:
    wrong, done, _ = try_wide(town, folder, seed)
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


def _bytes(_town: Path, folder: Path, seed: int) -> tuple[int, str]:
    read, examples = list(_READERS.values())[seed % len(_READERS)]
    folder.mkdir(exist_ok=True)
    raw = spoiled(examples[seed // len(_READERS) % len(examples)], np.random.default_rng(seed))
    try:
        read(folder, raw)
    except Exception as error:  # noqa: BLE001 - any is what is looked for
        return 1, f"{type(error).__name__}: {error} ({raw[:200]!r})"
    return 1, ""


def _maps(_town: Path, folder: Path, seed: int) -> tuple[int, str]:
    folder.mkdir(exist_ok=True)
    wrong, done = try_map(example_map(), folder / "map.html", np.random.default_rng(seed))
    return 1, f"{wrong} ({done})" if wrong else ""


def _guided(of: str, cases: int, seed: int) -> None:
    """Let a fuzzer that sees which code its cases reach make them up."""
    import atheris  # noqa: PLC0415 - an extra

    parts = _INSTRUMENTED[of]
    with atheris.instrument_imports(include=[*parts], enable_loader_override=False):
        for name in [name for name in sys.modules if name.startswith((*parts, "tests.fuzz"))]:
            del sys.modules[name]
        from tests.fuzz import cells, readers_of_bytes  # noqa: PLC0415 - only now with its hooks

    kept = Path(tempfile.mkdtemp(prefix="fuzz-"))
    for number, example in enumerate(() if of == "cells" else _READERS[of][1]):
        (kept / f"example-{number}").write_bytes(example)

    def one(raw: bytes) -> None:
        if of == "cells":
            number, *texts = raw.decode("utf-8", errors="replace").split("\n")
            cells.check_cells(texts or [""], sum(map(ord, number)))
        else:
            getattr(readers_of_bytes, _READERS[of][0].__name__)(kept, raw)

    # its hook for patterns hands them on in a form that Arrow does not take
    longest = 400 if of == "cells" else 4 * max(len(example) for example in _READERS[of][1])
    given = [sys.argv[0], str(kept), f"-runs={cases}", f"-seed={seed + 1}", f"-max_len={longest}"]
    atheris.Setup([*given, f"-artifact_prefix={tempfile.mkdtemp(prefix='fuzz-')}/"], one)
    atheris.Fuzz()


_READERS: dict[str, tuple[Callable[[Path, bytes], None], Sequence[bytes]]] = {
    "tables": (read_as_table, TABLES),
    "headers": (read_as_header, HEADERS),
    "map": (read_as_columns_of_a_map, (columns_of_a_map(),)),
}
_INSTRUMENTED = {
    "cells": ("pipeline.intake.cells",),
    "tables": ("pipeline.intake.files",),
    "headers": ("pipeline.intake",),
    "map": ("pipeline.readback.pack_map",),
}
_TRIALS = {"cells": _cells, "long": _long, "intake": _intake, "runs": _runs, "wide": _wide, "sheets": _sheets,
           "records": _records, "bytes": _bytes, "maps": _maps}  # fmt: skip

if __name__ == "__main__":
    main()
