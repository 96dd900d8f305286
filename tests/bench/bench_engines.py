"""The run on a cluster of this machine: ``python -m tests.bench.bench_engines [1k 10k 100k] [--workers 1 2 4] [--programme FILE]``.

Audits a town of each size in this process and with a Dask cluster of so many workers, each time in a process of its own, and
prints processor seconds of all processes together, the seconds by the clock, how many of them the pieces took, the peak memory
of the program and of the largest worker, and the most that the folder for pieces held. Every file of every run is then compared
with that of this process alone, byte for byte; of ``run.json``, all but stages (seconds) and versions. Ends with 3 if one
differs. ``--cores-each`` as for the command,
``--json`` keeps the figures, ``--outputs`` writes every output instead of the tables alone, ``--chart`` draws the seconds beside
those that the first size's run with one worker predicts: its seconds without pieces and those of the pieces by the number of
workers, no more than there are processors, times the number of cores.
"""

import argparse
import hashlib
import json
import os
import subprocess
import sys
import tempfile
import time
from pathlib import Path
from typing import Any

import psutil

from pipeline.engines.asked import engine_of
from pipeline.engines.wanted import Wanted
from pipeline.publish.record import COST_KEYS
from pipeline.run import run_programme
from tests.bench.whole import SIZES

_ROOT = Path(__file__).parents[2]
_MAKE = "import sys; from pathlib import Path; from tests.bench.whole_town import make_town; make_town(Path(sys.argv[1]), *map(int, sys.argv[2:5]), 'likeliest')"
_PAUSE_S = 0.2


def run(programme: Path, out: Path, scratch: Path, workers: int, cores_each: int) -> float:
    """Audit a programme with so many workers, 0 for this process; return the seconds that the pieces took."""
    in_pieces = 0.0
    with engine_of("dask" if workers else "local", Wanted(None, workers or None, scratch, cores_each)) as engine:
        plain = engine.each

        def timed(*given: Any) -> Any:
            nonlocal in_pieces
            start = time.monotonic()
            made = plain(*given)
            in_pieces += time.monotonic() - start
            return made

        if workers:
            engine.each = timed  # type: ignore[method-assign]
        run_programme(programme, out, engine=engine)
    return in_pieces


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
        told = said.read().decode()
        if child.returncode:
            raise SystemExit(f"{' '.join(command)}\nended with {child.returncode}:\n{told[-3000:]}")
    return {
        "processor_s": round(used.ru_utime + used.ru_stime, 1),
        "clock_s": round(time.monotonic() - start, 1),
        "in_pieces_s": round(float(told.split()[-1]), 1),
        "own_mb": round(own),
        "worker_mb": round(worker),
        "pieces_mb": round(pieces, 1),
    }


def contents(out: Path) -> dict[str, str]:
    """Return the SHA-256 of each file of a run; of its record, without what two equal runs may differ in."""
    found = {}
    for path in sorted(file for file in out.rglob("*") if file.is_file()):
        content = path.read_bytes()
        if path.name == "run.json":
            record = json.loads(content)
            content = json.dumps({key: record[key] for key in record if key not in COST_KEYS}).encode()
        found[path.relative_to(out).as_posix()] = hashlib.sha256(content).hexdigest()
    return found


def differing(one: dict[str, str], other: dict[str, str]) -> list[str]:
    """Return the names of the files that two runs do not both have with the same content."""
    return sorted(name for name in one.keys() | other.keys() if one.get(name) != other.get(name))


def engines(programme: Path, workers: list[int], cores_each: int) -> dict[str, Any]:
    """Return what a programme takes in this process and with each number of workers, with the seconds by stage."""
    found: dict[str, Any] = {}
    here: dict[str, str] = {}
    for count in [0, *workers]:
        with tempfile.TemporaryDirectory() as place:
            scratch, out = Path(place) / "scratch", Path(place) / "out"
            scratch.mkdir()
            words = [programme, out, scratch, count, cores_each]
            command = [sys.executable, "-m", "tests.bench.bench_engines", "--one", *map(str, words)]
            taken = watched(command, scratch)
            record = next(out.rglob("run.json"))
            taken["stages"] = {one["stage"]: one["seconds"] for one in json.loads(record.read_text("utf-8"))["stages"]}
            found[str(count)] = taken
            _print(str(programme.parent.name), count, taken, found["0"])
            made = contents(out)
            here = here or made
            taken["files"], taken["differing"] = len(made), differing(made, here)
    return found


def _print(name: str, count: int, taken: dict[str, Any], here: dict[str, Any]) -> None:
    stages = ", ".join(f"{stage} {seconds:.0f}" for stage, seconds in taken["stages"].items() if seconds >= 1)
    cells = [name, count or "here", taken["processor_s"], f"{taken['processor_s'] / here['processor_s']:.2f}"]
    cells += [taken[key] for key in ("clock_s", "in_pieces_s", "own_mb", "worker_mb", "pieces_mb")]
    print("| " + " | ".join(map(str, [*cells, stages])) + " |", flush=True)


def said(kept: dict[str, dict[str, Any]]) -> bool:
    """Print whether the files of all runs are the same, and return whether one is not."""
    different = False
    for name, of in kept.items():
        for count, taken in of.items():
            if count != "0":
                names, files = taken["differing"], taken["files"]
                what = f"differ: {', '.join(names)}" if names else "are the same bytes as those of this process alone"
                print(f"{name}, {count} workers: {len(names) or files} of {files} files {what}")
                different |= bool(names)
    return different


def predicted(one: dict[str, Any], workers: int, times: float) -> float:
    """Return the seconds for so many times the cores, from a run with one worker."""
    at_once = min(workers, os.cpu_count() or 1)
    return times * (one["clock_s"] - one["in_pieces_s"] + one["in_pieces_s"] / at_once)


def chart(kept: dict[str, dict[str, Any]]) -> str:
    """Return measured and predicted seconds as an SVG: a row for each size and number of workers."""
    names = list(kept)
    rows = [
        (f"{name}, {count} worker" + "s" * (count != "1"), taken["clock_s"],
         predicted(kept[names[0]]["1"], int(count), SIZES[name][0] / SIZES[names[0]][0]))
        for name, of in kept.items() for count, taken in of.items() if count != "0"
    ]  # fmt: skip
    most = max(max(row[1:]) for row in rows)
    high = 34 * len(rows) + 60
    drawn = [
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 640 {high}" font-family="sans-serif" font-size="13" fill="#222">',
        "<title>Seconds by the clock, measured and predicted</title>",
        f'<rect width="640" height="{high}" fill="#fff"/>',
        '<rect x="150" y="12" width="12" height="12" fill="#1b6e8c"/><text x="168" y="23">measured, seconds</text>',
        '<path d="M310 12v12" stroke="#b3430f" stroke-width="3"/><text x="320" y="23">predicted from the first row</text>',
    ]
    for at, (name, measured, expected) in enumerate(rows):
        top = 40 + 34 * at
        wide, there = 400 * measured / most, 150 + 400 * expected / most
        drawn += [
            f'<text x="142" y="{top + 15}" text-anchor="end">{name}</text>',
            f'<rect x="150" y="{top}" width="{wide:.1f}" height="20" fill="#1b6e8c"/>',
            f'<path d="M{there:.1f} {top - 3}v26" stroke="#b3430f" stroke-width="3"/>',
            f'<text x="{max(150 + wide, there) + 8:.1f}" y="{top + 15}">{measured:.0f} ({expected:.0f})</text>',
        ]
    return "\n".join([*drawn, "</svg>"]) + "\n"


def main() -> None:
    """Measure what is asked for and print it."""
    if sys.argv[1:2] == ["--one"]:
        programme, out, scratch = map(Path, sys.argv[2:5])
        print(run(programme, out, scratch, *map(int, sys.argv[5:7])))
        return
    parser = argparse.ArgumentParser(description=(__doc__ or "").splitlines()[0])
    parser.add_argument("sizes", nargs="*", default=["10k", "100k"], choices=[*SIZES])
    parser.add_argument("--workers", type=int, nargs="*", default=[1, 2])
    parser.add_argument("--cores-each", type=int, default=50_000)
    parser.add_argument("--outputs", action="store_true")
    parser.add_argument("--programme", type=Path)
    parser.add_argument("--json", type=Path)
    parser.add_argument("--chart", type=Path)
    asked = parser.parse_args()
    print(
        "| town | workers | processor s | of here | clock s | in pieces s | own MB | worker MB | pieces MB | stages |"
    )
    print("|" + " --- |" * 10, flush=True)
    kept = {}
    for name in [str(asked.programme)] if asked.programme else asked.sizes:
        with tempfile.TemporaryDirectory() as place:
            folder = Path(place) / name.replace("/", "-")
            folder.mkdir()
            programme = asked.programme or folder / "programme.toml"
            if asked.programme is None:
                subprocess.run([sys.executable, "-c", _MAKE, folder, *map(str, SIZES[name])], cwd=_ROOT, check=True)
                if not asked.outputs:
                    programme.write_text(programme.read_text() + "\n[publish]\noutputs = []\n")
            kept[name] = engines(programme, asked.workers, asked.cores_each)
    different = said(kept)
    if asked.json:
        asked.json.write_text(json.dumps(kept, indent=1) + "\n", encoding="utf-8")
    if asked.chart:
        asked.chart.write_text(chart(kept), encoding="utf-8")
    sys.exit(3 if different else 0)


if __name__ == "__main__":
    main()
