"""The code, sentences and styles that draw a pack's pages and GeoPackage, as one short digest of their texts.

A version alone does not show which code drew a pack: between two releases there are many builds. The digest is only a
statement of the pack's own. Whoever alters a pack can also state another digest, so one that differs never makes a
check pass; it only explains why a page may differ.
"""

import functools
import hashlib
from importlib.resources import files
from pathlib import Path
from typing import Final

from pipeline.programme.resources import shipped

__all__ = ["digest_of_drawing", "drawing_files"]

# whatever a test finds at work when a pack is drawn must be in this list: see tests/publish/handover/test_drawing_code
_FOLDERS: Final = ("contracts", "publish/geopackage", "publish/map")
_FILES: Final = (
    "audit/worst.py",
    "clock.py",
    "history/changes.py",
    "history/differences.py",
    "programme/cautions.py",
    "programme/ranges.py",
    "programme/resources.py",
    "publish/acceptance.py",
    "publish/among.py",
    "completed.py",
    "publish/data_package.py",
    "publish/districts.py",
    "publish/folder.py",
    "publish/guarded_cells.py",
    "publish/handover/by_district.py",
    "publish/handover/changes.py",
    "publish/handover/dictionary.py",
    "publish/handover/drawn.py",
    "publish/handover/facts.py",
    "publish/handover/how_to_read.py",
    "publish/handover/position_errors.py",
    "publish/handover/work_zones.py",
    "publish/looks.py",
    "publish/pages/charts.py",
    "publish/pages/page.py",
    "publish/pages/svg.py",
    "publish/pages/templates/head.html",
    "publish/pages/templates/how-to-read.html",
    "publish/pages/templates/map-index.html",
    "publish/pages/templates/map-index.js",
    "publish/pages/templates/parts.html",
    "publish/pages/templates/report.css",
    "publish/pages/templates/what-changed.html",
    "publish/record.py",
    "publish/report/changes.py",
    "publish/report/names.py",
    "publish/tables.py",
    "publish/urgent_first.py",
    "publish/words.py",
    "publish/works.py",
    "publish/written_values.py",
    "readback/pack_files.py",
    "readback/pack_package.py",
    "readback/pack_tables.py",
    "spreadsheet_text.py",
    "units.py",
    "visible_text.py",
)
_CONFIG: Final = ("cautions.toml",)
_WORDS: Final = "words"
# what programs leave beside these files is no part of them
_ENDINGS: Final = frozenset({".css", ".html", ".js", ".py", ".toml", ".txt"})
_DIGITS: Final = 12


def drawing_files() -> dict[str, Path]:
    """Return each file that the digest covers, by its path in the sources, in the order of these paths."""
    package, config = Path(str(files("pipeline"))), shipped("config")
    found = {f"pipeline/{name}": package / name for name in _FILES}
    for folder in _FOLDERS:
        inside = (package / folder).rglob("*")
        found |= {f"pipeline/{file.relative_to(package).as_posix()}": file for file in inside if _is_source(file)}
    words = (file for file in (config / _WORDS).iterdir() if _is_source(file))
    for file in (*(config / name for name in _CONFIG), *words):
        found[f"config/{file.relative_to(config).as_posix()}"] = file
    return dict(sorted(found.items()))


def _is_source(file: Path) -> bool:
    return file.suffix in _ENDINGS and not file.name.startswith(".")


@functools.cache
def digest_of_drawing() -> str:
    """Return the digest, the same wherever the same sources are installed, and with either way to end a line."""
    digest = hashlib.sha256()
    for name, file in drawing_files().items():
        text = file.read_bytes().replace(b"\r\n", b"\n")
        digest.update(f"{name} {len(text)}\n".encode())
        digest.update(text)
    return digest.hexdigest()[:_DIGITS]
