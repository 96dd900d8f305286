"""Whether a test notices when the code is changed: ``python -m tests.bench.bench_mutants --cases 20 --modules locate``.

Of every module, a sample of small changes is tried (``mutants.py`` says which), each in a process of its own, with the
fast tests that run the changed line. A change that no test notices is printed, unless it is known to change no answer:
``equivalent_mutants.toml`` names those, with the reason. The same seed tries the same changes. A room whose score is
below its floor ends the command with 1. All changes (``--cases 0``) take hours.
"""

import argparse
import hashlib
import importlib
import json
import os
import sys
import time
import tomllib
from collections import Counter
from pathlib import Path

from tests.bench.forks import Outcome
from tests.bench.mutant_sessions import ROOT, Task
from tests.bench.mutant_trials import Room, run_room
from tests.bench.mutants import Mutant, mutants_of

ROOMS = {
    "locate": Room(
        ("pipeline/locate/*.py",),
        ("tests/locate/test_*.py", "tests/reference/test_linear_reference.py", "tests/reference/test_position_error.py"),
    ),
    "quantities": Room(
        ("pipeline/specify.py", "pipeline/quantify.py"),
        ("tests/test_specify.py", "tests/test_quantify.py", "tests/reference/test_volumes.py"),
    ),
    "audit": Room(("pipeline/audit/*.py", "pipeline/audit/rules/*.py"), ("tests/audit/test_*.py", "tests/audit/rules/test_*.py")),
    "order": Room(
        ("pipeline/order/*.py",), ("tests/order/test_*.py", "tests/reference/test_purchases_by_enumeration.py")
    ),
    "safety stock": Room(("pipeline/order/safety_stock/*.py",), ("tests/order/safety_stock/test_*.py",)),
    "plan": Room(("pipeline/plan/*.py",), ("tests/plan/test_*.py",)),
    "plan checker": Room(("pipeline/plan/checker/*.py",), ("tests/plan/checker/test_*.py",)),
    "streets": Room(
        ("pipeline/plan/streets/*.py",), ("tests/plan/streets/test_*.py", "tests/reference/test_shortest_paths.py")
    ),
    "learning": Room(("pipeline/locate/learning/*.py",), ("tests/locate/learning/test_*.py",)),
}  # fmt: skip
# least share of the changes tried that a test notices, in percent, with the default seed and number of cases: a little
# below what was measured
FLOORS = {
    "locate": 94, "quantities": 95, "audit": 88, "order": 95, "safety stock": 95,
    "plan": 83, "plan checker": 95, "streets": 95, "learning": 80,
}  # fmt: skip
_SEED, _CASES, _BUDGET_S = 19, 4, 10.0
# loaded once; the package itself is not, so that a change can act while it is imported
_LIBRARIES = (
    "babel", "geopandas", "hypothesis.extra.numpy", "hypothesis.extra.pandas", "jinja2", "numpy", "pandas", "pint", "pyarrow.parquet",
    "pydantic", "pyogrio", "pyvrp", "rich.console", "scipy.optimize", "scipy.sparse.csgraph", "scipy.stats", "shapely", "statsmodels.api",
)  # fmt: skip
_UNNOTICED = {"survived", "not reached"}
_EQUIVALENT = Path(__file__).with_name("equivalent_mutants.toml")
Key = tuple[str, str, str, str]


def main() -> int:
    """Try the changes, print what came of them, and return the exit code."""
    asked = _arguments()
    # products of matrices begin threads of their own, which no fork takes along
    for name in ("OPENBLAS_NUM_THREADS", "OMP_NUM_THREADS"):
        os.environ.setdefault(name, "1")
    for name in _LIBRARIES:
        importlib.import_module(name)
    equivalent, rows = _equivalent(), []
    again = {
        tuple(row[name] for name in ("module", "place", "before")) for row in asked.again if row["found"] in _UNNOTICED
    }
    for room, of in ROOMS.items():
        chosen = _sampled(room, asked.modules, 0 if again else asked.cases, asked.seed)
        chosen = [(module, one) for module, one in chosen if not again or (module, one.place, one.before) in again]
        if not chosen:
            continue
        begun = time.perf_counter()
        mutants = {Task(module, one.place, one.lines, one.at_import): one for module, one in chosen}

        def note(task: Task, outcome: Outcome, room: str = room, mutants: dict[Task, Mutant] = mutants) -> None:
            mutant = mutants[task]
            key = task.module, mutant.code, mutant.before, mutant.after
            found = "equivalent" if outcome.found in _UNNOTICED and key in equivalent else outcome.found
            rows.append(
                {
                    "room": room,
                    "module": task.module,
                    "line": mutant.lines[-1],
                    **mutant._asdict(),
                    **outcome._asdict(),
                    "found": found,
                }
            )
            if found in _UNNOTICED or asked.verbose:
                by = f" by {outcome.test}" if outcome.test else ""
                print(
                    f"{found}{by}: {task.module}:{mutant.lines[-1]} {mutant.scope}: {mutant.before}  ->  {mutant.after}",
                    flush=True,
                )

        run_room(of, list(mutants), asked.budget, note)
        print(f"{room}: {len(chosen)} changes in {time.perf_counter() - begun:.0f} s", flush=True)
    if asked.json:
        asked.json.write_text(json.dumps(rows, indent=1) + "\n", "utf-8")
    is_whole = asked.modules is None or set(asked.modules) <= set(ROOMS)
    return _report(rows, is_default=is_whole and not again and (asked.cases, asked.seed) == (_CASES, _SEED))


def _arguments() -> argparse.Namespace:
    parser = argparse.ArgumentParser(prog="python -m tests.bench.bench_mutants", description=__doc__.split("\n")[0])
    parser.add_argument("--cases", type=int, default=_CASES, help="changes per module; 0 tries all")
    parser.add_argument(
        "--modules", nargs="+", help="rooms (locate, order ...) or parts of a module's path; default: all"
    )
    parser.add_argument("--seed", type=int, default=_SEED)
    parser.add_argument("--budget", type=float, default=_BUDGET_S, help="processor seconds of tests per change at most")
    parser.add_argument("--json", type=Path, help="where every change is written with what came of it")
    parser.add_argument("--again", type=_read, default=[], help="such a file: only what survived there is tried")
    parser.add_argument("--verbose", action="store_true", help="print what noticed each change, too")
    return parser.parse_args()


def _read(path: str) -> list[dict]:
    return json.loads(Path(path).read_text("utf-8"))


def _sampled(room: str, modules: list[str] | None, cases: int, seed: int) -> list[tuple[str, Mutant]]:
    """Return the changes to try of a room's modules: of each, a sample that depends on its own code alone."""
    chosen = []
    for file in sorted({file for pattern in ROOMS[room].modules for file in ROOT.glob(pattern)}):
        module = file.relative_to(ROOT).as_posix()
        if (
            modules is not None
            and room not in modules
            and not any(part in module for part in set(modules) - set(ROOMS))
        ):
            continue
        mutants = mutants_of(file.read_text("utf-8"))
        some = mutants if not cases else sorted(mutants, key=lambda one: _drawn(seed, module, one))[:cases]
        chosen += [(module, one) for one in sorted(some)]
    return chosen


def _drawn(seed: int, module: str, one: Mutant) -> bytes:
    """Return a change's place in the draw: it depends on its own line, and stays when the code around it is edited."""
    return hashlib.sha256(f"{seed} {module} {one.code} {one.before} {one.after}".encode()).digest()


def _equivalent() -> dict[Key, str]:
    """Return why each change that is known to change no answer does not."""
    tables = tomllib.loads(_EQUIVALENT.read_text("utf-8"))["equivalent"]
    return {(one["module"], one["code"], one["before"], one["after"]): one["why"] for one in tables}


def _report(rows: list[dict], *, is_default: bool) -> int:
    """Print counts by module and the score of each room; return 1 if one of them is below its floor."""
    print(
        f"\n{'module':<48}{'tried':>6}{'killed':>8}{'timed out':>11}{'survived':>10}{'not reached':>13}{'equivalent':>12}"
    )
    code = 0
    for name, of in (("module", lambda row: row["module"]), ("room", lambda row: row["room"])):
        for what in dict.fromkeys(map(of, rows)):
            count = Counter(row["found"] for row in rows if of(row) == what)
            tried = count.total()
            line = f"{what:<48}{tried:>6}{count['killed']:>8}{count['timed out']:>11}{count['survived']:>10}{count['not reached']:>13}{count['equivalent']:>12}"
            if name == "room" and tried > count["equivalent"]:
                score = 100 * (count["killed"] + count["timed out"]) / (tried - count["equivalent"])
                floor = FLOORS.get(what, 0)
                line += f"  {score:.1f} % noticed, " + (f"floor {floor} %" if floor else "no floor yet")
                if is_default and score < floor:
                    line, code = line + ": BELOW THE FLOOR", 1
            print(line)
    return code


if __name__ == "__main__":
    sys.exit(main())
