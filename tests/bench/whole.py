"""The whole run beside its peers: ``python -m tests.bench.whole [10k 100k 1M] [--runs 3] [--json FILE] [--compare FILE]``.

Makes a town of each size, and runs on it, each in a process of its own, the script that a user would write, the least that
answers the same questions (the floor), and the tool with every output, with "nearest" and "likeliest". Prints processor
seconds (medians), the peak memory of each process, ratios, the growth from size to size and the stages; then the demo
beside ``import geopandas``, and single parts. ``--json`` keeps all of it, and ``--compare`` shows an earlier file beside it.
A million openings take the script more than half an hour and are left out of it, unless ``--script-too`` is given.
"""

import argparse
import json
import math
import os
import subprocess
import sys
import tempfile
from itertools import pairwise
from pathlib import Path
from statistics import median
from typing import Any

SIZES = {
    "1k": (1_000, 2_000, 2_000),
    "10k": (10_000, 20_000, 20_000),
    "100k": (100_000, 200_000, 50_000),
    "1M": (1_000_000, 1_000_000, 100_000),
    "5M": (5_000_000, 5_000_000, 500_000),
}
_ROOT = Path(__file__).parents[2]
_MOST_FOR_SCRIPT = 100_000
_MAKE = "import sys; from pathlib import Path; from tests.bench.whole_town import make_town; make_town(Path(sys.argv[1]), *map(int, sys.argv[2:5]), sys.argv[5])"


def measured(command: list[str], runs: int = 1) -> dict[str, Any]:
    """Return the median processor seconds and the largest peak memory in MB of a command's own process."""
    seconds, peak = [], 0.0
    for _ in range(runs):
        with tempfile.TemporaryFile() as said:
            child = subprocess.Popen(command, cwd=_ROOT, stdout=said, stderr=subprocess.STDOUT)
            _, status, used = os.wait4(child.pid, 0)
            child.returncode = os.waitstatus_to_exitcode(status)
            said.seek(0)
            told = said.read().decode(errors="replace")
        if child.returncode:
            raise SystemExit(f"{' '.join(command)}\nended with {child.returncode}:\n{told[-3000:]}")
        seconds.append(used.ru_utime + used.ru_stime)
        peak = max(peak, used.ru_maxrss / 1024)
    return {
        "seconds": round(median(seconds), 2),
        "all": [round(one, 2) for one in seconds],
        "peak_mb": round(peak),
        "said": told,
    }


def _python(*words: object) -> list[str]:
    return [sys.executable, *map(str, words)]


def _tool(folder: Path, choose: str, out: Path, runs: int) -> dict[str, Any]:
    programme = folder / "programme.toml"
    programme.write_text(programme.read_text().replace("likeliest", choose).replace("nearest", choose))
    # a run that finds itself there already would compare what it wrote instead of renaming it
    taken = [
        measured(_python("-m", "pipeline", "audit", programme, "--out", out / f"{choose}{n}", "--quiet"))
        for n in range(runs)
    ]
    whole = taken[0] | {
        "seconds": median(one["seconds"] for one in taken),
        "all": [one["seconds"] for one in taken],
        "peak_mb": max(one["peak_mb"] for one in taken),
    }
    record = next((out / f"{choose}0").rglob("run.json"))
    whole["stages"] = json.loads(record.read_text("utf-8"))["stages"]
    whole["written_mb"] = round(sum(file.stat().st_size for file in record.parent.rglob("*") if file.is_file()) / 1e6)
    return whole


def town(name: str, runs: int, *, with_script: bool) -> dict[str, Any]:
    """Return what each peer takes on a town of one size."""
    with tempfile.TemporaryDirectory() as place:
        folder, out = Path(place) / "town", Path(place) / "out"
        folder.mkdir()
        measured(_python("-c", _MAKE, folder, *SIZES[name], "likeliest"))
        taken = {"floor": measured(_python("-m", "tests.bench.whole_floor", folder, out / "floor"), runs)}
        if with_script or SIZES[name][0] <= _MOST_FOR_SCRIPT:
            taken["script"] = measured(_python("-m", "tests.bench.whole_script", folder, out / "script"))
        taken["nearest"] = _tool(folder, "nearest", out, runs)
        taken["likeliest"] = _tool(folder, "likeliest", out, runs)
        if SIZES[name][0] <= _MOST_FOR_SCRIPT:
            taken["parts"] = json.loads(
                measured(_python("-m", "tests.bench.whole_parts", folder))["said"].splitlines()[-1]
            )
    return taken


def demo(runs: int) -> dict[str, Any]:
    """Return what the example takes, beside an import of geopandas."""
    with tempfile.TemporaryDirectory() as place:
        taken = [
            measured(
                _python(
                    "-m", "pipeline", "audit", "sample_data/programme.toml", "--out", Path(place) / str(n), "--quiet"
                )
            )
            for n in range(runs)
        ]
    return {
        "demo": median(one["seconds"] for one in taken),
        "import": measured(_python("-c", "import geopandas"), runs)["seconds"],
    }


def _rows(found: dict[str, Any]) -> list[list[str]]:
    rows = [
        ["cores x segments x polygons", "what", "processor s", "peak MB", "of the script", "of the floor", "written MB"]
    ]
    for name, taken in found["towns"].items():
        for what in ("script", "floor", "nearest", "likeliest"):
            if what in taken:
                one = taken[what]
                ratios = [
                    f"{one['seconds'] / taken[of]['seconds']:.3g}" if of in taken else "" for of in ("script", "floor")
                ]
                size = " x ".join(f"{count:,}" for count in SIZES[name])
                rows.append(
                    [
                        size,
                        what,
                        f"{one['seconds']:.1f}",
                        f"{one['peak_mb']:,}",
                        *ratios,
                        str(one.get("written_mb", "")),
                    ]
                )
    return rows


def _print(found: dict[str, Any], old: dict[str, Any] | None) -> None:
    for at, row in enumerate(_rows(found)):
        print("| " + " | ".join(row) + " |")
        if at == 0:
            print("|" + " --- |" * len(row))
    names = [name for name in SIZES if name in found["towns"]]
    for small, large in pairwise(names):
        less, more = (found["towns"][name]["likeliest"]["seconds"] for name in (small, large))
        print(
            f"growth from {small} to {large}: exponent {math.log(more / less) / math.log(SIZES[large][0] / SIZES[small][0]):.2f}"
        )
    for name in names:
        told = ", ".join(f"{one['stage']} {one['seconds']:.1f}" for one in found["towns"][name]["likeliest"]["stages"])
        print(f"{name}, seconds by stage (likeliest): {told}")
        if "parts" in found["towns"][name]:
            print(f"{name}, parts: {found['towns'][name]['parts']}")
    one = found["demo"]
    print(f"demo {one['demo']:.2f} s, import geopandas {one['import']:.2f} s: {one['demo'] / one['import']:.1f} times")
    if old is not None:
        for name in names:
            for what in ("floor", "script", "nearest", "likeliest"):
                before = old["towns"].get(name, {}).get(what)
                now = found["towns"][name].get(what)
                if before and now:
                    print(
                        f"{name} {what}: {before['seconds']:.1f} -> {now['seconds']:.1f} s, "
                        f"{before['peak_mb']:,} -> {now['peak_mb']:,} MB"
                    )
        print(f"demo: {old['demo']['demo']:.2f} -> {one['demo']:.2f} s")


def main() -> None:
    """Measure what is asked for and print it."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").splitlines()[0])
    parser.add_argument("sizes", nargs="*", default=["10k", "100k"], choices=[*SIZES])
    parser.add_argument("--runs", type=int, default=1)
    parser.add_argument("--json", type=Path)
    parser.add_argument("--compare", type=Path)
    parser.add_argument("--script-too", action="store_true")
    asked = parser.parse_args()
    towns = {name: town(name, asked.runs, with_script=asked.script_too) for name in asked.sizes}
    found = {"towns": towns, "demo": demo(max(asked.runs, 3))}
    for taken in towns.values():
        for one in taken.values():
            one.pop("said", None)
    if asked.json:
        asked.json.write_text(json.dumps(found, indent=1) + "\n", encoding="utf-8")
    _print(found, json.loads(asked.compare.read_text("utf-8")) if asked.compare else None)


if __name__ == "__main__":
    main()
