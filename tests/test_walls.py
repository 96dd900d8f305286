"""The walls of the house: imports point down, stages touch nothing outside, files and functions stay short."""

import ast
import re
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
_OTHER_TESTS = {"bench", "browser", "fuzz", "metamorphic", "reference", "sample_data", "spoiled"}
# the stages and whatever else must be plain functions of frames
_PURE = ("locate", "specify", "quantify", "calibrate", "audit", "plan", "order", "history", "sampling", "decide")
_READS_AND_WRITES = {
    "open", "print", "input", "eval", "exec", "compile", "__import__", "breakpoint",
}  # fmt: skip
_BARRED_MODULES = {
    "aiohttp", "asyncio", "ctypes", "ftplib", "glob", "http", "importlib", "io", "logging", "multiprocessing", "os",
    "pathlib", "pickle", "psycopg", "pyogrio", "requests", "shelve", "shutil", "signal", "socket", "sqlite3", "subprocess", "sys",
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


def _name(path):
    return str(path.relative_to(_ROOT))


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


def test_a_stage_reads_writes_and_asks_nothing():
    breaches = {_name(path): [*_breaches(path.read_text("utf-8"))] for path in _FILES if _is_pure(path)}
    assert len(breaches) > 100
    assert {name: found for name, found in breaches.items() if found} == {}


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


def test_imports_point_down_the_house_without_a_circle():
    code, printed = _linted(_ROOT)
    assert code == 0, printed
    assert "2 kept, 0 broken" in printed


# per file of the package one import that it must not have, and what the linter calls it
_REFUSED = {
    "locate/areas.py": ("import pipeline.publish.tables", "publish.tables"),
    "locate/segments.py": ("from pipeline import run", "run"),
    "locate/surfaces.py": ("from pipeline.publish import tables as t", "publish.tables"),
    "locate/districts.py": (
        "from typing import TYPE_CHECKING\nif TYPE_CHECKING:\n    from pipeline.run import RunResult", "run",
    ),
    "locate/chances.py": ("def late():\n    from pipeline.cli.summary import summary", "cli.summary"),
    "locate/street_names.py": ("try:\n    import pipeline.intake.register\nexcept ImportError:\n    pass", "intake.register"),
    "locate/posterior.py": ("from ..publish import tables", "publish.tables"),
    "contracts/cells.py": ("from pipeline.intake.register import Register", "intake.register"),
    "publish/looks.py": ("from pipeline.run import run_programme", "run"),
}  # fmt: skip


def test_an_import_that_runs_upward_or_round_is_refused(tmp_path):
    shutil.copytree(_ROOT / "pipeline", tmp_path / "pipeline", ignore=shutil.ignore_patterns("__pycache__"))
    shutil.copyfile(_ROOT / "pyproject.toml", tmp_path / "pyproject.toml")
    expected = []
    for file, (lines, imported) in _REFUSED.items():
        path = tmp_path / "pipeline" / file
        text = path.read_text("utf-8") + "\n"
        path.write_text(text + lines + "\n", encoding="utf-8")
        before = lines.split(imported.split(".")[-1])[0]
        at = len(text.splitlines()) + 1 + before.count("\n")
        module = file.removesuffix(".py").replace("/", ".")
        expected.append(f"pipeline.{module} -> pipeline.{imported} (l.{at})")
    # and one that runs round within a floor
    with (tmp_path / "pipeline/audit/registry.py").open("a", encoding="utf-8") as file:
        file.write("\nfrom pipeline.audit.rules.sizes import pavement_thin\n")
    code, printed = _linted(tmp_path)
    assert code != 0
    assert "0 kept, 2 broken" in printed
    assert [chain for chain in expected if chain not in printed] == [], printed
    of_the_audit = printed.split("No cycles are allowed in pipeline.audit.")[1]
    assert "- .registry -> .rules (1 import)" in of_the_audit


def test_one_file_alone_opens_connections():
    """The others get theirs from it, with what keeps credentials out of errors; SQLite's are files."""
    opening = re.compile(
        r"\b(?:psycopg|socket|http\.client|urllib\.request|dbapi)\.(?:[A-Z]\w*\.)?(?:connect|create_connection|urlopen)\("
    )
    assert [_name(path) for path in _FILES if opening.search(path.read_text("utf-8"))] == ["pipeline/databases.py"]


def test_a_file_has_at_most_three_hundred_lines():
    lines = {_name(path): len(path.read_text("utf-8").splitlines()) for path in _ALL_FILES}
    assert {name: count for name, count in lines.items() if count > _MOST_LINES} == {}


def test_a_function_has_at_most_sixty_lines():
    lines = {
        (_name(path), node.name, node.lineno): node.end_lineno - node.lineno + 1
        for path in _ALL_FILES
        for node in ast.walk(ast.parse(path.read_text("utf-8")))
        if isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef)
    }
    assert {name: count for name, count in lines.items() if count > _MOST_LINES_OF_FUNCTION} == {}


def test_the_tests_mirror_the_rooms_of_the_package():
    folders = {path.parent.relative_to(_ROOT / "tests") for path in (_ROOT / "tests").rglob("test_*.py")}
    rooms = {path.parent.relative_to(_ROOT / "pipeline") for path in _FILES}
    assert {folder for folder in folders - rooms if folder.parts[0] not in _OTHER_TESTS} == set()


def test_a_module_opens_with_what_it_is_for():
    """Its docstring's first line is a sentence, or leads into the next."""
    docstrings = {_name(path): ast.get_docstring(ast.parse(path.read_text("utf-8"))) or "" for path in _FILES}
    assert [name for name, text in docstrings.items() if not text.split("\n")[0].endswith((".", "?", ":"))] == []


def test_a_script_or_style_sheet_stays_under_three_hundred_lines():
    """The length of a script's functions is held by the linter, in ``.ci/oxlint.json``."""
    files = [path for kind in ("js", "css") for path in (_ROOT / "pipeline").rglob(f"*.{kind}")]
    lines = {_name(path): path.read_text("utf-8").splitlines() for path in files}
    assert len(lines) > 50
    assert {name: len(text) for name, text in lines.items() if len(text) > 300} == {}
    # no room is made by writing on one line what should be several
    longest = {name: max(map(len, text)) for name, text in lines.items()}
    assert {name: length for name, length in longest.items() if length > 260} == {}
