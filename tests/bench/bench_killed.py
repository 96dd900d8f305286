"""Kill whole audits at steps of their work with files, and find the run before or the new one whole, every time.

``python -m tests.bench.bench_killed --cases 40`` audits a small town with an earlier run in place, kills the process
before the K-th thing that Python does with a file of the outputs, for K drawn at random over the whole run, and checks
what is there, then and after the next start. ``--stop ENOSPC`` or ``EIO`` has the step fail instead.
"""

import argparse
import collections
import random
import re
import shutil
import subprocess
import sys
import tempfile
import time
from pathlib import Path

from pipeline.run import run_programme
from tests.small_town import write_town

_CODE = """
import errno, os, signal, sys
step, how, out = int(sys.argv.pop(1)), sys.argv.pop(1), sys.argv[-1]
seen = 0
def watch(event, arguments):
    global seen
    if event.startswith(("open", "os.", "shutil.", "sqlite3.connect", "fcntl.")) and any(
        isinstance(one, (str, os.PathLike)) and str(one).startswith(out) for one in arguments
    ):
        seen += 1
        if seen == step and how == "killed":
            os.kill(os.getpid(), signal.SIGKILL)
        elif seen == step:
            raise OSError(getattr(errno, how), os.strerror(getattr(errno, how)))
sys.addaudithook(watch)
from pipeline.cli import main
try:
    main()
finally:
    print("steps", seen, flush=True)
"""


def content_of(run: Path) -> dict[str, bytes]:
    """Return the files of a run with their bytes, but for what the run took."""
    files = {file.relative_to(run).as_posix(): file.read_bytes() for file in run.rglob("*") if file.is_file()}
    # what a run took is in it
    return {name: re.sub(rb'"stages": \[.*?\]', b"", text, flags=re.DOTALL) for name, text in files.items()}


def _audit(programme: Path, out: Path, step: int, how: str) -> tuple[int, str]:
    command = [sys.executable, "-c", _CODE, str(step), how, "audit", "--quiet", str(programme), "--out", str(out)]
    done = subprocess.run(command, capture_output=True, text=True, check=False, cwd=Path(__file__).parents[2])
    return done.returncode, done.stdout + done.stderr


def main() -> None:
    """Run the cases and print what was found."""
    asked = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    asked.add_argument("--cases", type=int, default=40)
    asked.add_argument("--seed", type=int, default=19)
    asked.add_argument("--stop", choices=["killed", "ENOSPC", "EIO"], default="killed")
    given = asked.parse_args()
    place = Path(tempfile.mkdtemp())
    programme = write_town(place)
    first = run_programme(programme, place / "first").folder
    register = place / "cores.csv"
    register.write_text(register.read_text("utf-8").replace("HV-1", "HX-1"), encoding="utf-8")
    second = run_programme(programme, place / "second").folder
    old, new = content_of(first), content_of(second)
    name = first.relative_to(place / "first")
    shutil.copytree(place / "first", place / "count")
    steps = int(_audit(programme, place / "count", 10**9, given.stop)[1].split("steps ")[1].split()[0])
    print(f"{steps} steps with files of the outputs in one audit")
    found: collections.Counter[tuple[int, str]] = collections.Counter()
    begun = time.monotonic()
    for number, step in enumerate(random.Random(given.seed).sample(range(1, steps + 1), min(given.cases, steps)), 1):
        out = place / f"case-{number}"
        shutil.copytree(place / "first", out)
        code, said = _audit(programme, out, step, given.stop)
        there = content_of(out / name)
        which = "old" if there == old else "new" if there == new else "broken"
        if "Traceback" in said or code == 70:
            which += ", traceback"
        found[code, which] += 1
        if which not in ("old", "new"):
            print(f"step {step}: code {code}: {which}\n{said}")
        # the next audit puts right what is left, and writes the new run
        again, told = _audit(programme, out, 10**9, given.stop)
        beside = [entry.name for entry in (out / name).parent.iterdir() if entry.name != name.name]
        if again or content_of(out / name) != new or beside:
            found[again, "not put right"] += 1
            print(f"step {step}: after the next start: code {again}, beside it {beside}\n{told}")
        shutil.rmtree(out)
    for (code, which), count in sorted(found.items()):
        print(f"{count} ended with {code}: {which}")
    print(f"{time.monotonic() - begun:.0f} s")
    shutil.rmtree(place)


if __name__ == "__main__":
    main()
