"""What pytest does with the collected tests: look which lines each one runs, or run some of them on changed code."""

import ast
import contextlib
import gc
import importlib.abc
import importlib.machinery
import importlib.util
import os
import sys
import threading
import time
import types
from collections.abc import Callable, Iterator, Sequence
from pathlib import Path
from typing import NamedTuple

import pytest
from hypothesis import settings

from tests.bench.forks import tried
from tests.bench.mutants import changed

__all__ = ["ROOT", "Look", "Task", "Try", "run_afresh", "session"]

ROOT = Path(__file__).parents[2]
_PACKAGE = str(ROOT / "pipeline") + os.sep
_Functions = dict[tuple[str, str, int], list[types.FunctionType]]
# whole runs of a programme are no fast tests, nor are tests that leave the process: the change would not go with them
_SLOW = {"demo", "demo_months", "later_demo", "small_town", "run_folder", "postgres_server"}
_ELSEWHERE = {"test_plans_made_in_another_process_are_the_same"}
# of a law, so many examples are tried at most
_EXAMPLES = 10
_OPTIONS = [
    "-o", "addopts=--import-mode=importlib --strict-markers", "-p", "no:terminal", "-p", "no:cacheprovider",
    "-p", "no:xdist", "-p", "no:faulthandler", "-W", "ignore::pytest.PytestAssertRewriteWarning",
]  # fmt: skip


class Task(NamedTuple):
    """A change to try: which one of which module, the lines that it touches, and whether it acts on import."""

    module: str
    place: int
    lines: tuple[int, ...]
    at_import: bool


def session(plugin: object, tests: Sequence[str]) -> int:
    """Collect the tests and let a plugin do with them what it does."""
    return pytest.main([*_OPTIONS, "--rootdir", str(ROOT), *(str(ROOT / path) for path in tests)], plugins=[plugin])


class _Fast:
    """Leaves out what is not fast, and makes hypothesis try the same examples each time."""

    # where what was found goes
    write: Callable[[object], None]

    def pytest_configure(self) -> None:
        settings.register_profile("mutants", database=None, derandomize=True, deadline=None)
        settings.load_profile("mutants")

    def pytest_collection_modifyitems(self, items: list[pytest.Item]) -> None:
        for item in items:
            law = getattr(item, "obj", None)
            asked = getattr(law, "_hypothesis_internal_use_settings", None)
            if asked is not None:
                fewer = settings(
                    asked, max_examples=min(asked.max_examples, _EXAMPLES), database=None, derandomize=True
                )
                law._hypothesis_internal_use_settings = fewer
        items[:] = [
            item
            for item in items
            if not _SLOW.intersection(getattr(item, "fixturenames", ())) and item.originalname not in _ELSEWHERE  # type: ignore[attr-defined]
        ]


class Look(_Fast):
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
            for name, definitions in item._fixtureinfo.name2fixturedefs.items():  # type: ignore[attr-defined]
                for definition in definitions:
                    for shared in self.fixtures.get((name, definition.baseid), []):
                        _add(lines[item.nodeid], shared)
        told = {test: {file: sorted(found) for file, found in files.items()} for test, files in lines.items()}
        self.write((seconds, told, self.failed))
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
        names: dict[str, str | None] = {}

        def on_call(frame: types.FrameType, _event: str, _value: object) -> object:
            file = frame.f_code.co_filename
            if file not in names:
                names[file] = str(Path(file).relative_to(ROOT)) if file.startswith(_PACKAGE) else None
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


class Try(_Fast):
    """Tries changes of functions, each in a fork of the session that has collected the tests.

    ``trials``: the change, the tests to run, and the processor seconds that they take without it.
    """

    def __init__(self, trials: Sequence[tuple[Task, list[str], float]]) -> None:
        self.trials = trials
        self.failed = ""

    def pytest_runtestloop(self, session: pytest.Session) -> bool:
        items, functions = {item.nodeid: item for item in session.items}, _functions()
        gc.freeze()
        for task, chosen, seconds in self.trials:

            def run(task: Task = task, chosen: list[str] = chosen) -> str:
                _patch(task, functions)
                return self.first_to_fail([items[test] for test in chosen])

            self.write(tried(run, len(chosen), seconds))
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


class _Afresh(Try):
    """Runs the chosen tests in a process that has yet to import the package."""

    def __init__(self, chosen: list[str]) -> None:
        super().__init__([])
        self.chosen = chosen

    def pytest_runtestloop(self, session: pytest.Session) -> bool:
        items = {item.nodeid: item for item in session.items}
        self.failed = "" if set(self.chosen) <= set(items) else "collection"
        if not self.failed:
            self.first_to_fail([items[test] for test in self.chosen])
        return True


def run_afresh(task: Task, chosen: list[str]) -> str:
    """Import the package with a change in it, run the chosen tests, and return which one failed."""
    assert "pipeline" not in sys.modules, "the package is already imported"
    sys.meta_path.insert(0, _Finder(task))
    plugin = _Afresh(chosen)
    code = session(plugin, sorted({test.split("::")[0] for test in chosen}))
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
    """Return the module's code with the change; without any if its place is -1."""
    return changed((ROOT / task.module).read_text("utf-8"), task.place)


def _functions() -> _Functions:
    """Return every function of the package, wherever it is kept, by file, name and first line."""
    found: _Functions = {}
    for one in gc.get_objects():
        if isinstance(one, types.FunctionType) and one.__code__.co_filename.startswith(_PACKAGE):
            code = one.__code__
            found.setdefault((code.co_filename, code.co_qualname, code.co_firstlineno), []).append(one)
    return found


def _patch(task: Task, functions: _Functions) -> None:
    """Give the functions of an imported module the code of the changed one; whoever has imported them has it too."""
    finder = _Finder(task)
    if finder.name not in sys.modules:
        sys.meta_path.insert(0, finder)
        return
    file = str(ROOT / task.module)
    done = 0
    for top in compile(_tree(task), file, "exec").co_consts:
        # the functions of the module, and those of its classes
        for code in (top, *getattr(top, "co_consts", ())):
            if isinstance(code, types.CodeType):
                for function in functions.get((file, code.co_qualname, code.co_firstlineno), []):
                    function.__code__ = code
                    done += 1
    assert done, f"{file}: nothing to change"


def _pairs(items: Sequence[pytest.Item]) -> Iterator[tuple[pytest.Item, pytest.Item | None]]:
    return zip(items, [*items[1:], None], strict=True)


def _add(to: dict[str, set[int]], lines: dict[str, set[int]]) -> None:
    for file, found in lines.items():
        to.setdefault(file, set()).update(found)
