"""Stop a replacement, or whole audits, at their system calls: ``python -m tests.bench.bench_system_calls replaced``.

``replaced``: a small run's folder is replaced once for each call that changes a file, in Python or in a library, and the
process is killed there. ``audits``: the same of whole audits, at calls drawn at random. ``--stop ENOSPC`` or ``EIO`` has the
call fail instead. Each time the run before or the new one has to be there whole, and the next command has to put right what
is left. Needs ``strace``.
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

from pipeline.publish.held import held
from pipeline.run import run_programme
from tests.bench.bench_killed import content_of
from tests.publish.replaced_at_each_step import NEW, OLD, content, lay, replace
from tests.small_town import write_town

_ROOT = Path(__file__).parents[2]
# whatever changes a file, a folder or a lock
_CALLS = (
    "rename", "renameat", "renameat2", "link", "symlink", "unlink", "unlinkat", "rmdir", "mkdir", "mkdirat", "write", "pwrite64",
    "writev", "ftruncate", "fallocate", "sendfile", "copy_file_range", "fsync", "fdatasync", "chmod", "fchmod", "fchmodat",
    "utimensat", "flock",
)  # fmt: skip
_REPLACE = "import sys; from pathlib import Path; from tests.publish.replaced_at_each_step import replace; replace(Path(sys.argv[1]))"
# ends of a command whose disk fails: it is told, or it failed while clearing up
_TOLD = {0, 1, 2, 3, 4}
Call = tuple[str, int]


def main() -> int:
    """Try the calls and return 1 if anything was wrong."""
    asked = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    asked.add_argument("what", choices=["replaced", "audits"])
    asked.add_argument("--cases", type=int, default=40, help="of audits")
    asked.add_argument("--seed", type=int, default=19)
    asked.add_argument("--stop", choices=["killed", "ENOSPC", "EIO"], default="killed")
    given = asked.parse_args()
    begun = time.monotonic()
    with tempfile.TemporaryDirectory() as folder:
        found = (_replaced if given.what == "replaced" else _audits)(Path(folder), given)
    for what, count in sorted(found.items()):
        print(f"{count} x {what}")
    print(f"{found.total():,} stops in {time.monotonic() - begun:.0f} s")
    return int(any(what.startswith("wrong") for what in found))


def _calls(command: list[str], log: Path) -> list[Call]:
    """Return the calls of a command's main thread, each with its number among those of its name."""
    subprocess.run(
        ["strace", "-f", "-qq", "-o", str(log), "-e", f"trace={','.join(f'?{one}' for one in _CALLS)}", *command],
        check=True, capture_output=True, cwd=_ROOT,
    )  # fmt: skip
    lines = [re.match(r"(\d+) +(\w+)\(", line) for line in log.read_text(errors="replace").splitlines()]
    first = next(line[1] for line in lines if line)
    seen: collections.Counter[str] = collections.Counter()
    calls = []
    for line in lines:
        if line and line[1] == first:
            seen[line[2]] += 1
            calls.append((line[2], seen[line[2]]))
    return calls


def _stopped(command: list[str], call: Call, how: str) -> tuple[int, str]:
    """Run a command that is stopped at a call; return its exit code and what it printed."""
    what = "signal=KILL" if how == "killed" else f"error={how}"
    name, number = call
    done = subprocess.run(
        ["strace", "-f", "-qq", "-o", "/dev/null", "-e", f"trace={name}", "-e", f"inject={name}:{what}:when={number}", *command],
        capture_output=True, text=True, check=False, cwd=_ROOT, errors="replace",
    )  # fmt: skip
    return done.returncode, done.stdout + done.stderr


def _verdict(code: int, said: str, how: str, *, is_old: bool, is_new: bool) -> str:
    """Return how a command ended and what it left, beginning with "wrong" where that may not be."""
    which = "old" if is_old else "new" if is_new else "broken"
    if which == "broken" or (how != "killed" and (code not in _TOLD or "Traceback" in said)):
        return f"wrong: {which}, code {code}: {said[-200:]!r}"
    return f"{which}, code {code}"


def _replaced(folder: Path, given: argparse.Namespace) -> collections.Counter[str]:
    target = folder / "parent" / "run"
    command = [
        sys.executable,
        "-B",
        "-P",
        "-c",
        f"import sys; sys.path.insert(0, {str(_ROOT)!r}); {_REPLACE}",
        str(target),
    ]
    lay(target, OLD)
    calls = _calls(command, folder / "log")
    print(f"{len(calls)} calls of {len({name for name, _ in calls})} kinds in one replacement", flush=True)
    found: collections.Counter[str] = collections.Counter()
    for call in calls:
        shutil.rmtree(target.parent)
        lay(target, OLD)
        code, said = _stopped(command, call, given.stop)
        there = content(target) if target.exists() else None
        verdict = _verdict(code, "" if code == 1 else said, given.stop, is_old=there == OLD, is_new=there == NEW)
        with held(target):
            pass
        left = [entry.name for entry in target.parent.iterdir() if entry != target]
        replace(target)
        if left or content(target) != NEW:
            verdict = f"wrong: not put right, beside it {left}"
        _note(found, call, verdict)
    return found


def _audits(folder: Path, given: argparse.Namespace) -> collections.Counter[str]:
    programme = write_town(folder)
    first = run_programme(programme, folder / "first").folder
    register = folder / "cores.csv"
    register.write_text(register.read_text("utf-8").replace("HV-1", "HX-1"), encoding="utf-8")
    old, new = content_of(first), content_of(run_programme(programme, folder / "second").folder)
    name = first.relative_to(folder / "first")
    out = folder / "case"
    command = [sys.executable, "-B", "-m", "pipeline", "audit", "--quiet", str(programme), "--out", str(out)]

    def begin() -> None:
        shutil.rmtree(out, ignore_errors=True)
        shutil.copytree(folder / "first", out)

    begin()
    calls = _calls(command, folder / "log")
    print(f"{len(calls):,} calls of {len({one for one, _ in calls})} kinds in one audit", flush=True)
    found: collections.Counter[str] = collections.Counter()
    for call in _drawn(calls, given.cases, given.seed):
        begin()
        code, said = _stopped(command, call, given.stop)
        there = content_of(out / name)
        verdict = _verdict(code, said, given.stop, is_old=there == old, is_new=there == new)
        again = subprocess.run(command, capture_output=True, text=True, check=False, cwd=_ROOT)
        beside = [entry.name for entry in (out / name).parent.iterdir() if entry.name != name.name]
        if again.returncode > 1 or content_of(out / name) != new or beside:
            verdict = f"wrong: not put right (code {again.returncode}, beside it {beside}): {again.stderr[-200:]!r}"
        _note(found, call, verdict)
    return found


def _drawn(calls: list[Call], most: int, seed: int) -> list[Call]:
    """Return calls at random: every name of one as often, as nearly all of them are writes."""
    chance = random.Random(seed)
    by_name: dict[str, list[Call]] = {}
    for call in calls:
        by_name.setdefault(call[0], []).append(call)
    for several in by_name.values():
        chance.shuffle(several)
    drawn = [
        call for number in range(len(calls)) for several in by_name.values() for call in several[number : number + 1]
    ]
    return drawn[:most]


def _note(found: collections.Counter[str], call: Call, verdict: str) -> None:
    found[verdict] += 1
    if verdict.startswith("wrong"):
        print(f"{call[0]} no. {call[1]}: {verdict}", flush=True)


if __name__ == "__main__":
    sys.exit(main())
