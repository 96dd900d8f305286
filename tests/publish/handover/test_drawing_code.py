"""The digest covers all that is at work when a pack is drawn, and depends on nothing but its text."""

import ast
import json
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

from pipeline.publish.handover import drawing_code

_ROOT = Path(__file__).parents[3]
# runs a pack's drawing, and prints the files whose code ran and those that were read
_TRACED = """
import json, sys
from pathlib import Path
from pipeline.publish.geopackage.package import write_geopackage
from pipeline.publish.handover.by_district import district_packages
from pipeline.publish.handover.drawn import draw_pages, package_of, read_content
folder, written = map(Path, sys.argv[1:])
content = read_content(folder)
files = set()
sys.addaudithook(lambda event, given: files.add(str(given[0])) if event == "open" else None)
sys.setprofile(lambda frame, event, _: files.add(frame.f_code.co_filename) if event == "call" else None)
for parts in ("one file", "by district"):
    draw_pages(content._replace(facts=content.facts | {"maps": parts, "geopackage": parts}))
write_geopackage(package_of(content), written)
for name, part in district_packages(package_of(content)):
    write_geopackage(part, written.with_name(name))
sys.setprofile(None)
print(json.dumps(sorted(files)))
"""
# kinds of change between two runs of the ledger: for the record of a run, which no pack has
_NOT_DRAWN = {"GONE", "NEW", "UNCHANGED"}


@pytest.fixture
def fresh():
    """The digest is kept once it is known."""
    drawing_code.digest_of_drawing.cache_clear()
    yield drawing_code.digest_of_drawing
    drawing_code.digest_of_drawing.cache_clear()


def test_all_that_runs_or_is_read_while_a_pack_is_drawn_is_covered(tmp_path):
    """The committed example has works, changes and every rule."""
    pack = _ROOT / "outputs" / "harbour-vale-2026" / "2026-09-30" / "handover"
    done = subprocess.run(
        [sys.executable, "-P", "-c", _TRACED, str(pack), str(tmp_path / "cores.gpkg")],
        capture_output=True, text=True, check=True, cwd=_ROOT, env={"PYTHONPATH": str(_ROOT), "PYTHONDONTWRITEBYTECODE": "1"},
    )  # fmt: skip
    ours = {Path(file).resolve() for file in json.loads(done.stdout) if Path(file).is_absolute()}
    used = {
        file.relative_to(_ROOT).as_posix()
        for file in ours
        if file.is_relative_to(_ROOT / "pipeline") or file.is_relative_to(_ROOT / "config")
    }
    assert "pipeline/publish/map/page.py" in used
    assert "pipeline/publish/map/assets/page.html" in used
    assert "pipeline/publish/map/index_page.py" in used
    assert "pipeline/audit/worst.py" in used
    assert "config/words/en.toml" in used
    assert {file for file in used if "__pycache__" not in file} - set(drawing_code.drawing_files()) == set()


def test_every_constant_that_drawing_takes_from_elsewhere_is_covered():
    """A constant is at work without a call. Names of constants are written in capitals."""
    covered = drawing_code.drawing_files()
    modules = {name.removesuffix(".py").removesuffix("/__init__").replace("/", ".") for name in covered}
    strange = set()
    for name, file in covered.items():
        if not name.endswith(".py"):
            continue
        for node in ast.walk(ast.parse(file.read_text("utf-8"))):
            if isinstance(node, ast.ImportFrom) and node.module and node.module.startswith("pipeline."):
                taken = {alias.name for alias in node.names if alias.name.isupper()} - _NOT_DRAWN
                # a package hands on what its modules have: those that are covered are covered by their own files
                inside = {module for module in modules if module.startswith(f"{node.module}.")}
                if taken and node.module not in modules and not inside:
                    strange.add((name, node.module, *sorted(taken)))
    assert strange == set()


def _digest(monkeypatch, fresh, files):
    monkeypatch.setattr(drawing_code, "drawing_files", lambda: files)
    fresh.cache_clear()
    return fresh()


def test_the_digest_is_the_same_with_other_ends_of_lines_and_elsewhere_but_not_with_another_text_or_name(
    tmp_path, monkeypatch, fresh
):
    here, there = tmp_path / "a.py", tmp_path / "elsewhere" / "b.py"
    there.parent.mkdir()
    here.write_bytes(b"one = 1\ntwo = 2\n")
    there.write_bytes(b"one = 1\r\ntwo = 2\r\n")
    first = _digest(monkeypatch, fresh, {"pipeline/a.py": here})
    # sha256 of "pipeline/a.py 16\n" and the 16 letters of the text, by sha256sum
    assert first == "1caf840d2281"
    assert _digest(monkeypatch, fresh, {"pipeline/a.py": there}) == first
    assert _digest(monkeypatch, fresh, {"pipeline/b.py": here}) != first
    here.write_bytes(b"one = 1\ntwo = 3\n")
    assert _digest(monkeypatch, fresh, {"pipeline/a.py": here}) != first


def test_what_programs_leave_beside_the_sources_is_not_covered(tmp_path, monkeypatch):
    package = tmp_path / "pipeline"
    shutil.copytree(_ROOT / "pipeline" / "publish" / "map", package / "publish" / "map")
    monkeypatch.setattr(drawing_code, "files", lambda _: package)
    for name in ("__pycache__/page.cpython-311.pyc", "page.py~", ".page.py.swp", ".hidden.py"):
        (package / "publish" / "map" / name).parent.mkdir(exist_ok=True)
        (package / "publish" / "map" / name).write_bytes(b"x")
    names = drawing_code.drawing_files()
    assert "pipeline/publish/map/page.py" in names
    assert not [name for name in names if "~" in name or "/." in name or name.endswith((".pyc", ".swp"))]
