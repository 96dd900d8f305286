"""Runs the tests that see a change of a module, each change in a process of its own that is forked from one warm process."""

import functools
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import NamedTuple

from tests.bench.forks import Outcome, each_told_by, tried
from tests.bench.mutant_sessions import ROOT, Look, Task, Try, run_afresh, session

__all__ = ["Room", "run_room"]


class Room(NamedTuple):
    """Modules, and the tests that are run for them: patterns of paths from the root of the repository."""

    modules: tuple[str, ...]
    tests: tuple[str, ...]


class _Seen(NamedTuple):
    """By test: processor seconds, and the lines of each module that it runs; and the tests that fail by themselves."""

    seconds: dict[str, float]
    lines: dict[str, dict[str, list[int]]]
    failed: list[str]


def run_room(room: Room, tasks: Sequence[Task], budget: float, told: Callable[[Task, Outcome], None]) -> None:
    """Try the changes of a room's modules; ``budget``: processor seconds of tests that are spent on each at most."""
    tests = sorted({path.relative_to(ROOT).as_posix() for pattern in room.tests for path in ROOT.glob(pattern)})
    (looked,) = each_told_by(functools.partial(_in_session, Look(), tests))
    seen = _Seen(*looked)
    assert not seen.failed, f"these tests fail without any change: {seen.failed}"
    trials = [_trial(task, seen, budget) for task in tasks]
    functions, imports = ([trial for trial in trials if trial[0].at_import == late] for late in (False, True))
    # of each kind the first is tried without a change, too: no test may fail for the way in which it is run
    for (task, chosen, _), outcome in zip(
        _unchanged_first(functions),
        each_told_by(functools.partial(_in_session, Try(_unchanged_first(functions)), tests)),
        strict=True,
    ):
        _tell(task, chosen, Outcome(*outcome), told)
    for task, chosen, seconds in _unchanged_first(imports):
        outcome = tried(functools.partial(run_afresh, task, chosen), len(chosen), seconds)
        _tell(task, chosen, outcome, told)


def _unchanged_first(trials: list[tuple[Task, list[str], float]]) -> list[tuple[Task, list[str], float]]:
    first = next((trial for trial in trials if trial[1]), None)
    return trials if first is None else [(first[0]._replace(place=-1), *first[1:]), *trials]


def _tell(task: Task, chosen: list[str], outcome: Outcome, told: Callable[[Task, Outcome], None]) -> None:
    if task.place >= 0:
        told(task, outcome)
    else:
        assert outcome.found == "survived", f"{outcome} without any change of {task.module}: {chosen}"


def _trial(task: Task, seen: _Seen, budget: float) -> tuple[Task, list[str], float]:
    """Return a change with the tests that run a changed line: those of the module's own file first, then the quickest."""
    own = f"test_{Path(task.module).stem}.py"
    wanted = set(task.lines)
    reach = [
        test
        for test, modules in seen.lines.items()
        if task.module in modules and (task.at_import or wanted.intersection(modules[task.module]))
    ]
    reach.sort(key=lambda test: (f"/{own}::" not in test, seen.seconds[test], test))
    spent, chosen = 0.0, []
    for test in reach:
        if chosen and spent + seen.seconds[test] > budget:
            break
        spent += seen.seconds[test]
        chosen.append(test)
    return task, chosen, spent


def _in_session(plugin: Look | Try, tests: Sequence[str], write: Callable[[object], None]) -> None:
    plugin.write = write
    session(plugin, tests)
