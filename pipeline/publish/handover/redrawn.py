"""A pack drawn again from its own files and compared with what was sent: text by bytes, the GeoPackage by rows."""

from pathlib import Path
from typing import Any, Final

from pipeline.publish.geopackage.package import GeoPackage, write_geopackage
from pipeline.publish.handover.by_district import district_packages
from pipeline.publish.handover.drawn import PackContent, draw_pages, package_of
from pipeline.publish.handover.facts import made_with
from pipeline.publish.record import as_json
from pipeline.publish.tables import write_csv
from pipeline.readback.pack_files import IDENTITY, PACKAGE, district_packages_in, has_district_packages, pages_in
from pipeline.readback.pack_package import open_package, quoted
from pipeline.scratch import temporary_folder
from pipeline.wording import plain_reason

__all__ = ["MISSING", "draw_again", "other_build", "rewrite_packages", "write_again"]

MISSING: Final = "missing"
# the ids by which SQLite marks a file for an application, after its version
_MARKS: Final = slice(60, 72)
_MOST_ROWS_AT_ONCE: Final = 20_000
# parts of a build that are named where it differs
_SHOWN: Final = 5


def other_build(facts: dict[str, Any]) -> str:
    """Return what a pack was made with and what differs here, in words; empty if it states this very build.

    Whoever alters a pack can state any build: this explains a difference, and never excuses it.
    """
    own, theirs = made_with(), facts.get("made_with")
    if not isinstance(theirs, dict) or not theirs:
        return f"an earlier version of Kerfbook, which did not state its number (here {own['kerfbook']})"
    named = {str(name): str(version) for name, version in theirs.items()}
    names = [name for name in own if named.get(name) != own[name]]
    if not names:
        return ""
    release = "" if "kerfbook" in names else f"another build of kerfbook {own['kerfbook']}: "
    shown = ", ".join(f"{name} {named.get(name, 'not stated')[:40]} (here {own[name]})" for name in names[:_SHOWN])
    more = len(names) - _SHOWN
    return release + shown + (f" and {more} more" if more > 0 else "")


def draw_again(folder: Path, content: PackContent) -> dict[str, str]:
    """Draw the pages of a pack again.

    Parameters
    ----------
    folder
        The pack.
    content
        What was read from it.

    Returns
    -------
    dict
        By file, where it differs from what was sent; an empty text for one that is the same.
    """
    found: dict[str, str] = {}
    try:
        pages = draw_pages(content)
    except Exception as error:  # noqa: BLE001 - whatever an altered pack makes the drawing fail with, it is altered
        why = f"cannot be drawn from the pack's files ({plain_reason(error)})"
        return dict.fromkeys(pages_in(folder), why)
    for name, page in pages.items():
        if not (folder / name).exists():
            found[name] = MISSING
            continue
        sent, drawn = (folder / name).read_bytes(), page.encode()
        found[name] = "" if sent == drawn else _where(sent, drawn)
    return found


def rewrite_packages(folder: Path, content: PackContent) -> dict[str, str]:
    """Write the GeoPackages again, and return by file where each differs; parameters as above."""
    package = package_of(content)
    found = {PACKAGE: _rewritten(package, folder / PACKAGE)}
    if has_district_packages(content.facts):
        try:
            for name, part in district_packages(package):
                found[name] = _rewritten(part, folder / name)
        except Exception as error:  # noqa: BLE001 - as above
            why = f"cannot be cut from the pack's files ({plain_reason(error)})"
            found |= dict.fromkeys(district_packages_in(folder), why)
    return found


def _rewritten(package: GeoPackage, sent: Path) -> str:
    """Return where a GeoPackage that was sent differs from the one of this content; an empty text for nowhere."""
    with temporary_folder() as drawn_folder:
        again = drawn_folder / PACKAGE
        try:
            write_geopackage(package, again)
        except Exception as error:  # noqa: BLE001 - as above
            return f"cannot be written from the pack's files ({plain_reason(error)})"
        return "" if sent.read_bytes() == again.read_bytes() else _first_difference(sent, again)


def write_again(folder: Path, content: PackContent) -> dict[str, str]:
    """Return by file where a table, or ``handover.json``, has the same cells in another spelling; parameters as above.

    Other programs may read another spelling otherwise: ``nan`` as text, the second of two equal keys.
    """
    found = {}
    with temporary_folder() as written_folder:
        again = written_folder / "table.csv"
        for name, table in content.tables.items():
            write_csv(table, again)
            sent, written = (folder / name).read_bytes(), again.read_bytes()
            if sent != written:
                found[name] = f"not written as a pack's tables are: it differs from {_line(sent, written)} on"
    sent, written = (folder / IDENTITY).read_bytes(), as_json(content.facts).encode()
    if sent != written:
        found[IDENTITY] = f"not written as in a pack: it differs from {_line(sent, written)} on"
    return found


def _where(sent: bytes, drawn: bytes) -> str:
    """Return the first line in which a page differs."""
    return f"not the page that the pack's tables give: it differs from {_line(sent, drawn)} on"


def _line(sent: bytes, drawn: bytes) -> str:
    pairs = zip(sent.split(b"\n"), drawn.split(b"\n"), strict=False)
    line = next((number for number, (one, other) in enumerate(pairs, start=1) if one != other), None)
    return "its end" if line is None else f"line {line}"


def _first_difference(sent: Path, again: Path) -> str:
    """Return the first table in which two GeoPackages differ; an empty text if all tables hold the same rows."""
    marks = [_marks_of(file) for file in (sent, again)]
    if marks[0] != marks[1]:
        return f"marked as {marks[0]}, expected {marks[1]}"
    with open_package(sent) as one, open_package(again) as other:
        entries = [
            {
                (str(kind), str(name)): str(sql)
                for kind, name, sql in database.execute("SELECT type, name, sql FROM sqlite_master")
            }
            for database in (one, other)
        ]
        for kind, name in sorted({*entries[0], *entries[1]}):
            if entries[0].get((kind, name)) != entries[1].get((kind, name)):
                return f"{kind} {name} is not the one that the pack's files give"
        for kind, name in sorted(entries[1]):
            # the rows of an index are those of its own tables
            if kind != "table" or entries[1][kind, name].startswith("CREATE VIRTUAL"):
                continue
            cursors = [database.execute(f"SELECT * FROM {quoted(name)}") for database in (one, other)]  # noqa: S608 - quoted
            while True:
                rows, wanted = (cursor.fetchmany(_MOST_ROWS_AT_ONCE) for cursor in cursors)
                if repr(rows) != repr(wanted):
                    return f"the rows of table {name} are not those that the pack's files give"
                if not wanted:
                    break
    return ""


def _marks_of(file: Path) -> str:
    with file.open("rb") as source:
        return source.read(_MARKS.stop)[_MARKS].hex()
