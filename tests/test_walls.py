"""The walls of the house: imports point down, stages touch nothing outside, files and functions stay short."""

import ast
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

_ROOT = Path(__file__).parents[1]
_FILES = sorted((_ROOT / "pipeline").rglob("*.py"))
_ALL_FILES = [*_FILES, *sorted((_ROOT / "sample_data").glob("*.py")), *sorted((_ROOT / "tests").rglob("*.py"))]
_MOST_LINES = 300
# docstring included
_MOST_LINES_OF_FUNCTION = 60
# folders of tests that belong to no room of the package
_OTHER_TESTS = {"bench", "browser", "reference", "sample_data", "spoiled"}
# the stages and whatever else must be plain functions of frames
_PURE = ("locate", "specify", "quantify", "calibrate", "audit", "plan", "order", "history", "sampling", "decide")
_READS_AND_WRITES = {
    "open", "print", "input", "eval", "exec", "compile", "__import__", "breakpoint",
}  # fmt: skip
_BARRED_MODULES = {
    "aiohttp", "asyncio", "ctypes", "ftplib", "glob", "http", "importlib", "io", "logging", "multiprocessing", "os",
    "pathlib", "pickle", "pyogrio", "requests", "shelve", "shutil", "signal", "socket", "sqlite3", "subprocess", "sys",
    "tempfile", "threading", "time", "tomllib", "urllib", "warnings",
}  # fmt: skip
# in memory, and of no file
_IN_MEMORY = {
    "to_crs", "to_datetime", "to_dict", "to_frame", "to_l", "to_list", "to_numeric", "to_numpy", "to_period", "to_series",
    "to_timedelta", "to_timestamp", "to_wkb", "to_wkt", "to_pandas", "to_pydatetime",
}  # fmt: skip
_BARRED_ATTRIBUTES = {
    "cwd", "environ", "exists", "expanduser", "fromtimestamp", "getenv", "glob", "home", "is_dir", "is_file", "iterdir",
    "mkdir", "now", "open", "resolve", "rglob", "rmdir", "stat", "symlink_to", "today",
    "touch", "unlink", "utcnow", "write_bytes", "write_text", "fromfile", "tofile", "loadtxt", "savetxt", "memmap",
    "genfromtxt", "save", "savefig", "savez", "ExcelFile", "ExcelWriter", "HDFStore",
}  # fmt: skip


def _is_pure(path):
    return path.relative_to(_ROOT / "pipeline").parts[0].removesuffix(".py") in _PURE


def _is_barred(name):
    is_of_files = name.startswith(("read_", "write_")) or (name.startswith("to_") and name not in _IN_MEMORY)
    return is_of_files or name in _BARRED_ATTRIBUTES


def _modules(node):
    if isinstance(node, ast.Import):
        return [name.name for name in node.names]
    return [node.module] if isinstance(node, ast.ImportFrom) and node.module else []


def _attributes(node):
    if isinstance(node, ast.Attribute):
        return [node.attr]
    if isinstance(node, ast.Call) and ast.unparse(node.func) in {"getattr", "attrgetter", "methodcaller"}:
        return [given.value for given in node.args if isinstance(given, ast.Constant) and isinstance(given.value, str)]
    return []


def _breaches(source):
    """What a stage does that reads, writes, asks the clock or the system: one line each."""
    for node in ast.walk(ast.parse(source)):
        found = [name for name in _modules(node) if name.split(".")[0] in _BARRED_MODULES]
        found += [name for name in _attributes(node) if _is_barred(name)]
        if isinstance(node, ast.Name) and node.id in _READS_AND_WRITES:
            found.append(node.id)
        yield from (f"line {node.lineno}: {name}" for name in found)


@pytest.mark.parametrize(
    "path", [path for path in _FILES if _is_pure(path)], ids=lambda path: str(path.relative_to(_ROOT))
)
def test_a_stage_reads_writes_and_asks_nothing(path):
    assert list(_breaches(path.read_text("utf-8"))) == []


@pytest.mark.parametrize(
    "line",
    [
        "pd.read_csv('a.csv')",
        "pd.DataFrame().to_csv('a.csv')",
        "cores.to_parquet(target)",
        "gpd.read_file('a.gpkg')",
        "open('a.csv')",
        "reader = open",
        "from pathlib import Path",
        "import pathlib as p",
        "place.write_text('a')",
        "place.unlink()",
        "dt.date.today()",
        "pd.Timestamp.now()",
        "import os",
        "from os import environ",
        "import time",
        "import importlib",
        "from urllib.request import urlopen",
        "import socket",
        "np.loadtxt('a')",
        "print('done')",
        "__import__('pipeline.publish.tables')",
        "getattr(pd, 'read_csv')('a.csv')",
        "with pd.ExcelWriter('a.xlsx') as book: pass",
        "from pyarrow import parquet\nparquet.write_table(table, 'a')",
    ],
)
def test_what_a_stage_must_not_do_is_seen(line):
    assert list(_breaches(line))


def _linted(root):
    """Run the import linter over a checkout; returns its exit code and what it printed."""
    command = [sys.executable, "-c", "from importlinter.cli import lint_imports_command; lint_imports_command()"]
    done = subprocess.run([*command, "--no-cache"], cwd=root, capture_output=True, text=True, check=False)
    return done.returncode, done.stdout + done.stderr


@pytest.fixture
def house(tmp_path):
    """A copy of the package that a test may break."""
    shutil.copytree(_ROOT / "pipeline", tmp_path / "pipeline", ignore=shutil.ignore_patterns("__pycache__"))
    shutil.copyfile(_ROOT / "pyproject.toml", tmp_path / "pyproject.toml")
    return tmp_path


def test_imports_point_down_the_house_without_a_circle():
    code, printed = _linted(_ROOT)
    assert code == 0, printed
    assert "2 kept, 0 broken" in printed


_STAGE = "pipeline/locate/areas.py"


@pytest.mark.parametrize(
    ("file", "lines"),
    [
        (_STAGE, "import pipeline.publish.tables"),
        (_STAGE, "from pipeline import run"),
        (_STAGE, "from pipeline.publish import tables as t"),
        (_STAGE, "from typing import TYPE_CHECKING\nif TYPE_CHECKING:\n    from pipeline.run import RunResult"),
        (_STAGE, "def late():\n    from pipeline.cli.summary import summary"),
        (_STAGE, "try:\n    import pipeline.intake.register\nexcept ImportError:\n    pass"),
        (_STAGE, "from ..publish import tables"),
        ("pipeline/contracts/cells.py", "from pipeline.intake.register import Register"),
        ("pipeline/publish/looks.py", "from pipeline.run import run_programme"),
        ("pipeline/audit/registry.py", "from pipeline.audit.rules.sizes import pavement_thin"),
    ],
)
def test_an_import_that_runs_upward_or_round_is_refused(house, file, lines):
    path = house / file
    path.write_text(path.read_text("utf-8") + "\n" + lines + "\n", encoding="utf-8")
    code, printed = _linted(house)
    assert code != 0
    assert "BROKEN" in printed, printed


@pytest.mark.parametrize("path", _ALL_FILES, ids=lambda path: str(path.relative_to(_ROOT)))
def test_a_file_has_at_most_three_hundred_lines(path):
    assert len(path.read_text("utf-8").splitlines()) <= _MOST_LINES


@pytest.mark.parametrize("path", _ALL_FILES, ids=lambda path: str(path.relative_to(_ROOT)))
def test_a_function_has_at_most_sixty_lines(path):
    functions = [
        node
        for node in ast.walk(ast.parse(path.read_text("utf-8")))
        if isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef)
    ]
    lines = {node.name: node.end_lineno - node.lineno + 1 for node in functions}
    assert {name: count for name, count in lines.items() if count > _MOST_LINES_OF_FUNCTION} == {}


def test_the_tests_mirror_the_rooms_of_the_package():
    folders = {path.parent.relative_to(_ROOT / "tests") for path in (_ROOT / "tests").rglob("test_*.py")}
    rooms = {path.parent.relative_to(_ROOT / "pipeline") for path in _FILES}
    assert {folder for folder in folders - rooms if folder.parts[0] not in _OTHER_TESTS} == set()


@pytest.mark.parametrize("path", _FILES, ids=lambda path: str(path.relative_to(_ROOT)))
def test_a_module_opens_with_what_it_is_for(path):
    docstring = ast.get_docstring(ast.parse(path.read_text("utf-8"))) or ""
    assert docstring.split("\n")[0].endswith((".", "?", ":")), "a first line that is a sentence or leads into the next"


_SCRIPTS_AND_STYLES = sorted(path for kind in ("js", "css") for path in (_ROOT / "pipeline").rglob(f"*.{kind}"))


@pytest.mark.parametrize("path", _SCRIPTS_AND_STYLES, ids=lambda path: path.name)
def test_a_script_or_style_sheet_stays_under_three_hundred_lines(path):
    """The length of a script's functions is held by the linter, in ``.ci/oxlint.json``."""
    lines = path.read_text("utf-8").splitlines()
    assert len(lines) <= 300
    # no room is made by writing on one line what should be several
    assert max(map(len, lines)) <= 260
