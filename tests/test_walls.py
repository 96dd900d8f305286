"""What keeps the code in its rooms: imports point one way, and a room stays small."""

import ast
from pathlib import Path

import pytest

_ROOT = Path(__file__).parents[1]
_FILES = sorted((_ROOT / "pipeline").rglob("*.py"))
# a room may import from the rooms in its own set alone
_GROUND = {
    "errors", "resources", "units", "contracts", "settings", "thresholds", "materials", "catalogue", "workdays", "schemes", "ordering",
}  # fmt: skip
_STAGES = _GROUND | {"cost", "intake", "locate", "specify", "quantify", "calibrate", "audit"}
_PURE = {
    "locate", "specify", "quantify", "calibrate", "audit", "order", "history", "acceptance", "intervals", "sample", "verdict",
}  # fmt: skip
_MAY_IMPORT = {
    "errors": set(),
    "resources": set(),
    "units": {"errors"},
    "contracts": {"errors"},
    "workdays": set(),
    "sections": {"units"},
    "ordering": {"sections"},
    "settings": {"contracts", "errors", "ordering", "sections", "units", "workdays"},
    "thresholds": {"errors", "resources", "settings"},
    "materials": {"units"},
    "catalogue": {"errors", "materials", "resources", "settings", "thresholds", "units"},
    "schemes": {"errors", "resources", "settings", "units"},
    "acceptance": _GROUND,
    "intervals": _GROUND | {"acceptance"},
    "intake": _GROUND | {"intake"},
    "locate": _GROUND | {"locate"},
    "specify": _GROUND,
    "quantify": _GROUND,
    "calibrate": _GROUND | {"calibrate", "quantify"},
    "audit": _GROUND | {"audit", "intervals"},
    "order": _GROUND | {"order"},
    "sample": _GROUND | {"acceptance", "order"},
    "verdict": _GROUND | {"intervals", "sample"},
    "history": _GROUND | {"history", "order"},
    "publish": _GROUND | {"publish", "audit", "order", "intake", "intervals", "history", "calibrate", "cost"},
    "compare": {"catalogue", "errors", "history", "intake", "publish"},
    "start": {"errors", "resources"},
    "cost": set(),
    "stages": _STAGES,
    "run": _STAGES | {"stages", "order", "publish"},
    "calibration": _STAGES | {"stages", "publish"},
    "sampling": _GROUND | {"intake", "intervals", "publish", "sample", "verdict"},
    "verify": {"contracts", "errors", "intake"},
    "cli": {"audit", "calibration", "cli", "compare", "errors", "run", "sampling", "schemes", "start", "verify"},
    "__init__": {"run"},
    "__main__": {"cli"},
}


def _room(path: Path) -> str:
    return path.relative_to(_ROOT / "pipeline").parts[0].removesuffix(".py")


def _imports(path: Path) -> set[str]:
    tree = ast.parse(path.read_text("utf-8"))
    typing_only = {
        inner
        for node in ast.walk(tree)
        if isinstance(node, ast.If) and ast.unparse(node.test) == "TYPE_CHECKING"
        for inner in ast.walk(node)
    }
    found = set()
    for node in ast.walk(tree):
        if isinstance(node, ast.ImportFrom) and node.module and node not in typing_only:
            parts = node.module.split(".")
            if parts[0] == "pipeline" and len(parts) > 1:
                found.add(parts[1])
    return found


@pytest.mark.parametrize("path", _FILES, ids=lambda path: str(path.relative_to(_ROOT)))
def test_imports_point_one_way(path):
    assert _imports(path) <= _MAY_IMPORT[_room(path)]


@pytest.mark.parametrize("path", _FILES, ids=lambda path: str(path.relative_to(_ROOT)))
def test_a_room_stays_under_about_three_hundred_lines(path):
    assert len(path.read_text("utf-8").splitlines()) <= 310


def test_stages_open_no_file_and_print_nothing():
    for path in _FILES:
        if _room(path) in _PURE:
            calls = {
                ast.unparse(node.func)
                for node in ast.walk(ast.parse(path.read_text("utf-8")))
                if isinstance(node, ast.Call)
            }
            assert not calls & {"open", "print", "Path"}, path
