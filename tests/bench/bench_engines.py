"""The run on a cluster of this machine: ``python -m tests.bench.bench_engines [10k 100k] [--workers 1 2 4] [--programme FILE]``.

Audits a town of each size in this process and with a Dask cluster of so many workers, each time in a process of its own, and
prints processor seconds of all processes together, the seconds by the clock, the peak memory of the program and of the
largest worker, and the most that the folder for pieces held. ``--cores-each`` as for the command, ``--json`` keeps the figures, ``--outputs`` writes every
output instead of the tables alone.
"""

import argparse
import json
import os
import subprocess
import sys
import tempfile
import time
from pathlib import Path
from typing import Any

import psutil

from tests.bench.whole import SIZES

_ROOT = Path(__file__).parents[2]
_MAKE = "import sys; from pathlib import Path; from tests.bench.whole_town import make_town; make_town(Path(sys.argv[1]), *map(int, sys.argv[2:5]), 'likeliest')"
_PAUSE_S = 0.2


def _megabytes(folder: Path) -> float:
    total = 0
    for path in folder.rglob("*"):
        try:
            total += path.stat().st_size
        except OSError:
            continue
    return total / 1e6


def watched(command: list[str], scratch: Path) -> dict[str, Any]:
    """Return what a command takes: seconds of all its processes, and the peaks of memory and of pieces."""
    start = time.monotonic()
    with tempfile.TemporaryFile() as said:
        child = subprocess.Popen(command, cwd=_ROOT, stdout=said, stderr=subprocess.STDOUT)
        own, worker, pieces = 0.0, 0.0, 0.0
        while True:
            process, status, used = os.wait4(child.pid, os.WNOHANG)
            if process:
                break
            try:
                tree = psutil.Process(child.pid)
                own = max(own, tree.memory_info().rss / 1e6)
                worker = max([worker, *(one.memory_info().rss / 1e6 for one in tree.children(recursive=True))])
            except psutil.Error:
                pass
            pieces = max(pieces, _megabytes(scratch))
            time.sleep(_PAUSE_S)
        child.returncode = os.waitstatus_to_exitcode(status)
        said.seek(0)
        if child.returncode:
            raise SystemExit(f"{' '.join(command)}\nended with {child.returncode}:\n{said.read().decode()[-3000:]}")
    return {
        "processor_s": round(used.ru_utime + used.ru_stime, 1),
        "clock_s": round(time.monotonic() - start, 1),
        "own_mb": round(own),
        "worker_mb": round(worker),
        "pieces_mb": round(pieces, 1),
    }


def engines(programme: Path, workers: list[int], cores_each: int) -> dict[str, Any]:
    """Return what a programme takes in this process and with each number of workers, with the seconds by stage."""
    found = {}
    for count in [0, *workers]:
        with tempfile.TemporaryDirectory() as place:
            scratch = Path(place) / "scratch"
            scratch.mkdir()
            command = [sys.executable, "-m", "pipeline", "audit", str(programme), "--out", f"{place}/out", "--quiet"]
            if count:
                command += ["--engine", "dask", "--workers", str(count), "--scratch", str(scratch)]
                command += ["--cores-each", str(cores_each)]
            taken = watched(command, scratch)
            record = next(Path(place, "out").rglob("run.json"))
            taken["stages"] = {one["stage"]: one["seconds"] for one in json.loads(record.read_text("utf-8"))["stages"]}
            found["here" if not count else f"{count} workers"] = taken
    return found


def _print(name: str, found: dict[str, Any]) -> None:
    here = found["here"]
    for what, one in found.items():
        stages = ", ".join(f"{stage} {seconds:.0f}" for stage, seconds in one["stages"].items() if seconds >= 1)
        ratio = one["processor_s"] / here["processor_s"]
        print(
            f"| {name} | {what} | {one['processor_s']} | {ratio:.2f} | {one['clock_s']} | {one['own_mb']:,} | "
            f"{one['worker_mb']:,} | {one['pieces_mb']} | {stages} |",
            flush=True,
        )


def main() -> None:
    """Measure what is asked for and print it."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").splitlines()[0])
    parser.add_argument("sizes", nargs="*", default=["10k", "100k"], choices=[*SIZES])
    parser.add_argument("--workers", type=int, nargs="*", default=[1, 2])
    parser.add_argument("--cores-each", type=int, default=50_000)
    parser.add_argument("--outputs", action="store_true")
    parser.add_argument("--programme", type=Path)
    parser.add_argument("--json", type=Path)
    asked = parser.parse_args()
    print("| town | engine | processor s | of here | clock s | own MB | worker MB | pieces MB | seconds by stage |")
    print("|" + " --- |" * 9)
    kept = {}
    for name in [str(asked.programme)] if asked.programme else asked.sizes:
        with tempfile.TemporaryDirectory() as place:
            programme = asked.programme or Path(place) / "programme.toml"
            if asked.programme is None:
                subprocess.run([sys.executable, "-c", _MAKE, place, *map(str, SIZES[name])], cwd=_ROOT, check=True)
                if not asked.outputs:
                    programme.write_text(programme.read_text() + "\n[publish]\noutputs = []\n")
            kept[name] = engines(programme, asked.workers, asked.cores_each)
            _print(name, kept[name])
    if asked.json:
        asked.json.write_text(json.dumps(kept, indent=1) + "\n", encoding="utf-8")


if __name__ == "__main__":
    main()
