"""Runs the tests that see a change of a module, each change in a process of its own that is forked from one warm process."""

import ast
import contextlib
import functools
import gc
import importlib.abc
import importlib.machinery
import importlib.util
import json
import math
import os
import resource
import signal
import sys
import threading
import time
import traceback
import types
from collections.abc import Callable, Iterator, Sequence
from pathlib import Path
from typing import NamedTuple

import pytest
from hypothesis import settings

from tests.bench.mutants import changed

__all__ = ["Outcome", "Room", "Task", "run_room"]

ROOT = Path(__file__).parents[2]
# whole runs of a programme are no fast tests, nor are tests that leave the process: the change would not go with them
_SLOW = {"demo", "demo_months", "later_demo", "small_town", "run_folder", "postgres_server"}
_ELSEWHERE = {"test_plans_made_in_another_process_are_the_same"}
_OPTIONS = [
    "-o", "addopts=--import-mode=importlib --strict-markers", "-p", "no:terminal", "-p", "no:cacheprovider",
    "-p", "no:xdist", "-p", "no:faulthandler", "-W", "ignore::pytest.PytestAssertRewriteWarning",
]  # fmt: skip
# a change may take so many times as long as the tests do without it, and so many seconds more
_TIMES, _MORE_S = 5, 10
_MEMORY = 6 << 30


class Room(NamedTuple):
    """Modules, and the tests that are run for them: paths from the root of the repository."""

    modules: tuple[str, ...]
    tests: tuple[str, ...]


class Task(NamedTuple):
    """A change to try: which one of which module, the lines that it touches, and whether it acts on import."""

    module: str
    place: int
    lines: tuple[int, ...]
    at_import: bool


class Outcome(NamedTuple):
    """``found``: killed, survived, timed out or not reached. ``test``: which one failed. ``tests``: how many were to run."""

    found: str
    test: str
    tests: int
    seconds: float


class _Seen(NamedTuple):
    """By test: processor seconds, and the lines of each module that it runs."""

    seconds: dict[str, float]
    lines: dict[str, dict[str, list[int]]]


def run_room(room: Room, tasks: Sequence[Task], budget: float, told: Callable[[Task, Outcome], None]) -> None:
    """Try the changes of a room's modules; ``budget``: processor seconds of tests that are spent on each at most."""
    seen = _Seen(*_told_by(functools.partial(_session, _Look(), room.tests)))
    later = [task for task in tasks if task.at_import]
    now = [task for task in tasks if not task.at_import]
    for task, outcome in _each_told_by(functools.partial(_session, _Try(now, seen, budget), room.tests)):
        told(Task(*task), Outcome(*outcome))
    for task in later:
        chosen = _chosen(task, seen, budget)
        files = sorted({test.split("::")[0] for test in chosen})
        told(task, _tried(chosen, seen, lambda task=task, chosen=chosen, files=files: _afresh(task, chosen, files)))


def _chosen(task: Task, seen: _Seen, budget: float) -> list[str]:
    """Return the tests that run a changed line: those of the module's own file first, then the quickest."""
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
        spent += seen.seconds[test]
        if spent > budget and chosen:
            break
        chosen.append(test)
    return chosen


def _session(plugin: object, tests: Sequence[str], write: Callable[[object], None]) -> None:
    """Collect the tests and let a plugin do with them what it does."""
    plugin.write = write  # type: ignore[attr-defined]
    pytest.main([*_OPTIONS, "--rootdir", str(ROOT), *(str(ROOT / path) for path in tests)], plugins=[plugin])


class _Fast:
    """Leaves out what is not fast, and makes hypothesis try the same examples each time."""

    write: Callable[[object], None]

    def pytest_configure(self) -> None:
        settings.register_profile("mutants", database=None, derandomize=True, deadline=None)
        settings.load_profile("mutants")

    def pytest_collection_modifyitems(self, items: list[pytest.Item]) -> None:
        items[:] = [
            item
            for item in items
            if not _SLOW.intersection(getattr(item, "fixturenames", ()))
            and item.originalname not in _ELSEWHERE  # type: ignore[attr-defined]
        ]


class _Look(_Fast):
    """Notes which lines of the package each test runs, those of the fixtures that it shares with others too."""

    def __init__(self) -> None:
        self.now: dict[str, set[int]] = {}
        self.fixtures: dict[tuple[str, str], list[dict[str, set[int]]]] = {}
        self.failed: list[str] = []

    def pytest_runtestloop(self, session: pytest.Session) -> bool:
        seconds, lines = {}, {}
        for item, following in _pairs(session.items):
            self.now, begun = {}, time.process_time()
            with self._watched():
                item.config.hook.pytest_runtest_protocol(item=item, nextitem=following)
            seconds[item.nodeid] = time.process_time() - begun
            lines[item.nodeid] = self.now
        for item in session.items:
            for name, definitions in item._fixtureinfo.name2fixturedefs.items():  # type: ignore[attr-defined] # noqa: SLF001
                for definition in definitions:
                    for shared in self.fixtures.get((name, definition.baseid), []):
                        _add(lines[item.nodeid], shared)
        told = {test: {file: sorted(found) for file, found in files.items()} for test, files in lines.items()}
        for test in self.failed:
            told[test] = {}
        self.write((seconds, told))
        return True

    @pytest.hookimpl(wrapper=True)
    def pytest_fixture_setup(self, fixturedef: pytest.FixtureDef[object]) -> Iterator[None]:
        if fixturedef.scope == "function":
            return (yield)  # type: ignore[return-value]
        outer, self.now = self.now, {}
        try:
            return (yield)  # type: ignore[return-value]
        finally:
            self.fixtures.setdefault((fixturedef.argname, fixturedef.baseid), []).append(self.now)
            _add(outer, self.now)
            self.now = outer

    def pytest_runtest_logreport(self, report: pytest.TestReport) -> None:
        if report.failed:
            self.failed.append(report.nodeid)

    @contextlib.contextmanager
    def _watched(self) -> Iterator[None]:
        package = str(ROOT / "pipeline") + os.sep
        names: dict[str, str | None] = {}

        def on_call(frame: types.FrameType, _event: str, _value: object) -> object:
            file = frame.f_code.co_filename
            if file not in names:
                names[file] = str(Path(file).relative_to(ROOT)) if file.startswith(package) else None
            name = names[file]
            if name is None:
                return None
            self.now.setdefault(name, set()).add(frame.f_lineno)

            def on_line(frame: types.FrameType, _event: str, _value: object) -> object:
                self.now.setdefault(name, set()).add(frame.f_lineno)
                return on_line

            return on_line

        sys.settrace(on_call)  # type: ignore[arg-type]
        threading.settrace(on_call)  # type: ignore[arg-type]
        try:
            yield
        finally:
            sys.settrace(None)
            threading.settrace(None)  # type: ignore[arg-type]


class _Try(_Fast):
    """Tries changes of functions, each in a fork of the session that has collected the tests."""

    def __init__(self, tasks: Sequence[Task], seen: _Seen, budget: float) -> None:
        self.tasks, self.seen, self.budget = tasks, seen, budget
        self.failed = ""

    def pytest_runtestloop(self, session: pytest.Session) -> bool:
        items = {item.nodeid: item for item in session.items}
        gc.freeze()
        for task in self.tasks:
            chosen = _chosen(task, self.seen, self.budget)

            def run(task: Task = task, chosen: list[str] = chosen) -> str:
                _patch(task)
                return self.first_to_fail([items[test] for test in chosen])

            self.write((task, _tried(chosen, self.seen, run)))
        return True

    def first_to_fail(self, items: Sequence[pytest.Item]) -> str:
        for item, following in _pairs(items):
            item.config.hook.pytest_runtest_protocol(item=item, nextitem=following)
            if self.failed:
                break
        return self.failed

    def pytest_runtest_logreport(self, report: pytest.TestReport) -> None:
        if report.failed:
            self.failed = self.failed or report.nodeid


class _Afresh(_Try):
    """Runs the chosen tests in a process that has yet to import the package."""

    def __init__(self, chosen: list[str]) -> None:
        super().__init__([], _Seen({}, {}), 0)
        self.chosen = chosen

    def pytest_runtestloop(self, session: pytest.Session) -> bool:
        items = {item.nodeid: item for item in session.items}
        self.failed = "" if set(self.chosen) <= set(items) else "collection"
        if not self.failed:
            self.first_to_fail([items[test] for test in self.chosen])
        return True


def _afresh(task: Task, chosen: list[str], files: list[str]) -> str:
    assert "pipeline" not in sys.modules, "the package is already imported"
    sys.meta_path.insert(0, _Finder(task))
    plugin = _Afresh(chosen)
    code = pytest.main([*_OPTIONS, "--rootdir", str(ROOT), *(str(ROOT / file) for file in files)], plugins=[plugin])
    return plugin.failed or ("" if code == pytest.ExitCode.OK else "collection")


class _Finder(importlib.abc.MetaPathFinder):
    """Finds one module with a change in its code."""

    def __init__(self, task: Task) -> None:
        self.task = task
        self.name = ".".join(Path(task.module).with_suffix("").parts).removesuffix(".__init__")

    def find_spec(self, name: str, path: object, target: object = None) -> importlib.machinery.ModuleSpec | None:
        del path, target
        if name != self.name:
            return None
        file = ROOT / self.task.module
        inside = [str(file.parent)] if file.name == "__init__.py" else None
        loader = _Changed(name, str(file), self.task)
        return importlib.util.spec_from_file_location(name, file, loader=loader, submodule_search_locations=inside)


class _Changed(importlib.machinery.SourceFileLoader):
    def __init__(self, name: str, file: str, task: Task) -> None:
        super().__init__(name, file)
        self.task = task

    def get_code(self, fullname: str) -> types.CodeType:
        del fullname
        return compile(_tree(self.task), self.path, "exec")


def _tree(task: Task) -> ast.Module:
    return changed((ROOT / task.module).read_text("utf-8"), task.place)


def _patch(task: Task) -> None:
    """Give the functions of an imported module the code of the changed one; whoever has imported them has it too."""
    file = str(ROOT / task.module)
    codes = {
        (code.co_qualname, code.co_firstlineno): code
        for top in compile(_tree(task), file, "exec").co_consts
        if isinstance(top, types.CodeType)
        for code in (top, *(inner for inner in top.co_consts if isinstance(inner, types.CodeType)))
    }
    gc.unfreeze()
    done = 0
    for function in gc.get_objects():
        if isinstance(function, types.FunctionType) and function.__code__.co_filename == file:
            code = codes.get((function.__code__.co_qualname, function.__code__.co_firstlineno))
            if code is not None:
                function.__code__ = code
                done += 1
    assert done, f"{file}: nothing to change"


def _tried(chosen: list[str], seen: _Seen, run: Callable[[], str]) -> Outcome:
    """Run the tests in a fork of this process, and return what came of it."""
    if not chosen:
        return Outcome("not reached", "", 0, 0.0)
    limit = math.ceil(_MORE_S + _TIMES * sum(seen.seconds[test] for test in chosen))
    read, write = os.pipe()
    before = resource.getrusage(resource.RUSAGE_CHILDREN)
    child = os.fork()
    if child == 0:
        _leave(read, write, limit, run)
    os.close(write)
    ended = _waited(child, 10 * limit)
    with os.fdopen(read) as pipe:
        text = pipe.read()
    after = resource.getrusage(resource.RUSAGE_CHILDREN)
    seconds = after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime
    if ended in {signal.SIGXCPU, signal.SIGKILL}:
        return Outcome("timed out", "", len(chosen), seconds)
    if text.startswith("!"):
        raise RuntimeError(text)
    # what ends the process is noticed as well
    test = text if text or not ended else f"signal {ended}"
    return Outcome("killed" if test else "survived", test, len(chosen), seconds)


def _leave(read: int, write: int, limit: int, run: Callable[[], str]) -> None:
    os.close(read)
    resource.setrlimit(resource.RLIMIT_CPU, (limit, limit + 1))
    resource.setrlimit(resource.RLIMIT_AS, (_MEMORY, _MEMORY))
    signal.signal(signal.SIGXCPU, signal.SIG_DFL)
    nothing = os.open(os.devnull, os.O_RDWR)
    os.dup2(nothing, 1)
    os.dup2(nothing, 2)
    try:
        text = run()
    except BaseException as error:  # noqa: BLE001 - told to the parent, which ends
        text = f"!{error!r}"
    os.write(write, text.encode()[:4000])
    os._exit(0)


def _waited(child: int, seconds: float) -> int:
    """Wait for a process to end, and end it if it takes too long; return the signal that ended it, or 0."""
    until = time.monotonic() + seconds
    while True:
        ended, status = os.waitpid(child, os.WNOHANG)
        if ended:
            return os.WTERMSIG(status) if os.WIFSIGNALED(status) else 0
        if time.monotonic() > until:
            os.kill(child, signal.SIGKILL)
        time.sleep(0.01)


def _each_told_by(run: Callable[[Callable[[object], None]], None]) -> Iterator[list]:
    """Run something in a fork of this process and yield what it writes, as it does."""
    read, write = os.pipe()
    child = os.fork()
    if child == 0:
        os.close(read)
        os.dup2(os.open(os.devnull, os.O_RDWR), 1)
        try:
            with os.fdopen(write, "w") as pipe:
                run(lambda told: (pipe.write(json.dumps(told) + "\n"), pipe.flush()) and None)
        except BaseException:  # noqa: BLE001 - nothing of it may go on in the code that follows the fork
            traceback.print_exc()
        finally:
            os._exit(0)
    os.close(write)
    with os.fdopen(read) as pipe:
        yield from map(json.loads, pipe)
    os.waitpid(child, 0)


def _told_by(run: Callable[[Callable[[object], None]], None]) -> list:
    told = list(_each_told_by(run))
    assert told, "the tests could not be collected"
    return told[0]


def _pairs(items: Sequence[pytest.Item]) -> Iterator[tuple[pytest.Item, pytest.Item | None]]:
    return zip(items, [*items[1:], None], strict=True)


def _add(to: dict[str, set[int]], lines: dict[str, set[int]]) -> None:
    for file, found in lines.items():
        to.setdefault(file, set()).update(found)
