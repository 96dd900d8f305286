"""The changes that ``tests.bench.bench_mutants`` tries of the code, and a short run of it."""

import ast
import json
import subprocess
import sys
from pathlib import Path

import pytest

from tests.bench import bench_mutants
from tests.bench.mutants import changed, mutants_of

_ROOT = Path(__file__).parents[1]
_SOURCE = '''"""Of a room."""
__all__ = ["area"]
Floats = list[float]
_LEAST_M = 0.5


def area(width: int | None, length, *, is_open=True):
    """Return 2 times 3."""
    if width < _LEAST_M and not is_open:
        raise ValueError(f"{width + 1}")
    note("left", to=3)
    return width * length
'''


def test_numbers_operators_conditions_and_calls_are_changed_and_nothing_else():
    """By hand: no change of texts, types, names that are listed, or of what is raised; ``note`` is left out, too."""
    found = [(one.scope, one.before, one.after) for one in mutants_of(_SOURCE)]
    assert found == [
        ("", "0.5", "5.0"),
        ("area", "True", "False"),
        ("area", "width < _LEAST_M and (not is_open)", "width < _LEAST_M or not is_open"),
        ("area", "width < _LEAST_M and (not is_open)", "not (width < _LEAST_M and (not is_open))"),
        ("area", "width < _LEAST_M", "width <= _LEAST_M"),
        ("area", "width < _LEAST_M", "width >= _LEAST_M"),
        ("area", "not is_open", "is_open"),
        ("area", "note('left', to=3)", "pass"),
        ("area", "note('left', to=3)", "note('left')"),
        ("area", "'left'", "'right'"),
        ("area", "3", "4"),
        ("area", "3", "2"),
        ("area", "width * length", "width / length"),
    ]
    assert [one.at_import for one in mutants_of(_SOURCE)] == [True, True] + [False] * 11


def test_arguments_change_their_places():
    found = {
        (one.before, one.after) for one in mutants_of("a = f(b, c)\nd = f(b, c, e)\ng = min(b, c)\nh = f(*b, c)\n")
    }
    assert found == {("f(b, c)", "f(c, b)"), ("f(b, c, e)", "f(b, e, c)"), ("min(b, c)", "max(b, c)")}


def test_one_change_is_made_at_a_time_and_lines_stay_where_they_are():
    for one in mutants_of(_SOURCE):
        tree = changed(_SOURCE, one.place)
        assert ast.dump(tree) != ast.dump(ast.parse(_SOURCE))
        assert [node.lineno for node in tree.body] == [1, 2, 3, 4, 7]
        compile(tree, "room.py", "exec")
    assert ast.dump(changed(_SOURCE, -1)) == ast.dump(ast.parse(_SOURCE))


def test_each_change_of_a_small_module_is_noticed_by_a_test(tmp_path):
    """The whole way on one module, in a process of its own, as a change may act while the package is imported."""
    told = tmp_path / "told.json"
    command = [
        sys.executable,
        "-P",
        "-c",
        "import sys; sys.path.insert(0, '.'); from tests.bench import bench_mutants as b; sys.exit(b.main())",
    ]
    done = subprocess.run(
        [*command, "--modules", "pipeline/specify.py", "--cases", "0", "--json", str(told)],
        cwd=_ROOT, capture_output=True, text=True, check=False,
    )  # fmt: skip
    assert done.returncode == 0, done.stderr
    rows = json.loads(told.read_text("utf-8"))
    assert len(rows) == len(mutants_of((_ROOT / "pipeline/specify.py").read_text("utf-8")))
    assert {row["found"] for row in rows} == {"killed"}
    assert "100.0 % noticed" in done.stdout


@pytest.mark.parametrize(("killed", "code"), [(19, 0), (18, 1)])
def test_a_score_below_its_floor_fails(monkeypatch, capsys, killed, code):
    """Of 22 changes 2 are equivalent: 19 of 20 are 95 %."""
    monkeypatch.setitem(bench_mutants.FLOORS, "order", 95)
    found = ["killed"] * (killed - 1) + ["timed out", "equivalent", "equivalent"] + ["survived"] * (20 - killed)
    rows = [{"room": "order", "module": "pipeline/order/lines.py", "found": one} for one in found]
    assert bench_mutants._report(rows, is_default=True) == code
    assert ("BELOW THE FLOOR" in capsys.readouterr().out) == bool(code)


def test_every_change_that_is_called_equivalent_can_still_be_made():
    """An entry goes once the code it speaks of does."""
    for module, code, before, after in bench_mutants._equivalent():
        changes = {(one.code, one.before, one.after) for one in mutants_of((_ROOT / module).read_text("utf-8"))}
        assert (code, before, after) in changes, f"{module}: {code}: {before} -> {after}"
