"""What the files of a pack hold, each checked against the others, and what could not be checked."""

from collections.abc import Callable
from pathlib import Path
from typing import Any, Final, NamedTuple

from pipeline.contracts import STATUSES
from pipeline.errors import InputError
from pipeline.publish.handover.compared import compare_layers, compare_map, compare_points, in_map
from pipeline.publish.handover.compared_districts import compare_districts
from pipeline.publish.handover.compared_lists import compare_lists, compare_works, lists_in_map
from pipeline.publish.handover.drawn import PackContent, read_content
from pipeline.publish.handover.facts import FACTS, layer_facts, table_facts, unknown_facts
from pipeline.publish.handover.maps_read import read_maps
from pipeline.publish.handover.position_errors import position_problems
from pipeline.publish.handover.redrawn import MISSING, draw_again, other_build, rewrite_packages, write_again
from pipeline.publish.map.packing import shown_text
from pipeline.readback.pack_files import (
    IDENTITY,
    MAP,
    PACK_FILES,
    PACKAGE,
    TABLES,
    district_packages_in,
    has_district_packages,
    is_district_map,
    pages_in,
)
from pipeline.readback.pack_map import MapColumns
from pipeline.readback.pack_package import layer_names, open_package
from pipeline.readback.pack_schema import file_problems, schema_problems
from pipeline.readback.packs import read_identity

__all__ = ["NOT_CHECKED", "STAGES", "Contents", "check_contents"]

NOT_CHECKED: Final = "NOT CHECKED"
STAGES: Final = ("files", "tables", "cells", "pages", "GeoPackage")
_BEYOND: Final = f"{NOT_CHECKED} beyond its cells: another build made it"
_UNREAD: Final = f"{NOT_CHECKED}: this version cannot read it"
_COUNTS: Final = "counts, columns and checksums are right; what it was made with is nowhere else"
_REDRAWN: Final = "redrawn from the tables: identical"
_REWRITTEN: Final = "rewritten from the tables and its own shapes: identical"
# tables that no pack of an earlier version has a layer for
_WORKS: Final = ("works.csv", "works_cores.csv")


class Contents(NamedTuple):
    """What was found in a pack.

    ``facts``: its ``handover.json``. ``checked``: how each file was checked. ``build``: what it states it was made
    with, where that is another build than this one; else empty. ``lacks``: what packs of this build have and it lacks.
    """

    facts: dict[str, Any]
    checked: dict[str, str]
    build: str
    lacks: list[str]


def check_contents(folder: Path, problems: list[str], begin: Callable[[str], None]) -> Contents:
    """Check what the files of a pack hold, and add what contradicts something else to the problems.

    A pack can state that another build made it. Whatever that build could have done differently is then not checked;
    it is never taken for right.

    Parameters
    ----------
    folder
        The pack; its files match their checksums.
    problems
        Are added to.
    begin
        Called with each of ``STAGES`` but the first as it begins.
    """
    begin("tables")
    facts = read_identity(folder / IDENTITY)
    build = other_build(facts)
    lacks = sorted(name for name, file in PACK_FILES.items() if file.is_needed and not (folder / name).exists())
    unstated = sorted(FACTS - set(facts))
    checked: dict[str, str] = {}
    contents = Contents(facts, checked, build, lacks)
    lacks += [f"{len(unstated)} {'fact' if len(unstated) == 1 else 'facts'} in {IDENTITY}"] if unstated else []
    if lacks and not build:
        named = f" ({', '.join(unstated)})" if unstated else ""
        problems.append(f"{IDENTITY}: states that this build made the pack, which lacks {', '.join(lacks)}{named}")
    problems += [problem for name in (PACKAGE, *district_packages_in(folder)) for problem in _of_package(folder / name)]
    if problems:
        return contents
    content = read_content(folder)
    problems += _facts_that_differ(content)
    if problems:
        return contents
    begin("cells")
    held = _compare(folder, content, contents, problems)
    if "layers" in facts:
        layers = layer_facts(folder / PACKAGE)
        is_same = layers == facts["layers"]
        problems += [] if is_same else [_differs(PACKAGE, "checksums of its layers", layers, facts["layers"])]
    if problems:
        return contents
    checked[IDENTITY] = _COUNTS
    if lacks or held is None:
        # what the pages would be drawn from is not all there
        made = dict.fromkeys(pages_in(folder), f"{NOT_CHECKED}: another build made it")
        packages = (PACKAGE, *(district_packages_in(folder) if has_district_packages(facts) else ()))
        checked |= {**made, **dict.fromkeys(packages, _BEYOND), MAP: _UNREAD if held is None else _BEYOND}
    else:
        _make_again(folder, content, contents, problems, begin)
    if not problems:
        problems += _sums_that_differ(folder, contents)
    return contents


def _of_package(package: Path) -> list[str]:
    """Return what a GeoPackage has that could do harm when it is read, or is damaged; whatever build wrote it."""
    problems = file_problems(package)
    if not problems:
        with open_package(package) as database:
            problems = schema_problems(database)
            if not problems:
                damage = [str(row[0]) for row in database.execute("PRAGMA integrity_check(3)")]
                problems = [] if damage == ["ok"] else [f"damaged ({damage[0]})"]
    return [f"{package.name}: {problem}" for problem in problems]


def _compare(folder: Path, content: PackContent, contents: Contents, problems: list[str]) -> MapColumns | None:
    """Compare every cell of every table; return what the map holds, None if another build packed it otherwise."""
    facts, build = contents.facts, contents.build
    held = None
    try:
        held = read_maps(folder, content)
    except InputError:
        if not build:
            raise
    with open_package(folder / PACKAGE) as database:
        there = layer_names(database)
        # an earlier version wrote fewer layers
        unread = {name for name in content.tables if build and not _layers_of(name) & set(there)}
        tables = {name: table for name, table in content.tables.items() if name not in unread}
        problems += compare_layers(content._replace(tables=tables), database)
        if not unread & set(_WORKS):
            problems += compare_works(content, database)
    problems += compare_points(content)
    # cells that differ would only be cut otherwise
    problems += [] if problems else compare_districts(folder, content)
    shown: dict[str, int] = {}
    if held is not None:
        if not contents.lacks:
            problems += compare_map(content, held) + compare_lists(content, held)
            shown = in_map(content, held) | lists_in_map(content)
        for key, name in (("title", "programme"), ("asOf", "as_of"), ("cores", "cores")):
            if held.page.get(key) not in (facts[name], shown_text(facts[name])):
                problems.append(f"{MAP}: {name}: found {held.page.get(key)}, expected {facts[name]} as in {IDENTITY}")
    for name, table in content.tables.items():
        if name in unread:
            contents.checked[name] = f"{NOT_CHECKED}: this pack has it in no other place"
            continue
        also = f"; {shown[name]} of {len(table.columns)} columns as in the map" if name in shown else ""
        # of the cores in works, the GeoPackage has which core is in which works
        places = "the GeoPackage and cores.csv" if name == "works_cores.csv" else "the GeoPackage"
        contents.checked[name] = f"every cell as in {places}{also}"
    return held


def _layers_of(table: str) -> set[str]:
    layer = PACK_FILES[table].layer
    return {"works", "works_lines"} if layer is None else {layer}


def _make_again(
    folder: Path, content: PackContent, contents: Contents, problems: list[str], begin: Callable[[str], None]
) -> None:
    """Draw the pages, and write the tables and the GeoPackage again; a difference of another build is not checked."""
    begin("pages")
    checked, build = contents.checked, contents.build
    for name, difference in draw_again(folder, content).items():
        checked[name] = _REDRAWN
        if difference == MISSING or (difference and not build):
            problems.append(f"{name}: {difference}")
        elif difference:
            checked[name] = _BEYOND if name == MAP or is_district_map(name) else f"{NOT_CHECKED}: another build made it"
    begin("GeoPackage")
    packages = rewrite_packages(folder, content)
    checked |= dict.fromkeys(packages, _REWRITTEN)
    written = packages | write_again(folder, content)
    if unknown := unknown_facts(contents.facts):
        written[IDENTITY] = f"has {', '.join(map(repr, unknown))}, which no pack has"
    for name, difference in written.items():
        if difference and not build:
            problems.append(f"{name}: {difference}")
        elif difference:
            checked[name] = _BEYOND


def _facts_that_differ(content: PackContent) -> list[str]:
    """Return a problem for each count and list of columns that is not as ``handover.json`` states."""
    facts, tables = content.facts, content.tables
    cores, findings = tables["cores.csv"], tables["findings.csv"]
    once = cores[cores["copy_of"].isna()] if "copy_of" in cores else cores
    counts = once["status"].value_counts()
    placed = once["lon"].notna() & once["lat"].notna() if {"lon", "lat"} <= {*once} else None
    stated: list[tuple[str, str, Any, str]] = [
        ("cores.csv", "columns", list(cores), "columns"),
        ("cores.csv", "rows", len(cores), "rows"),
        ("cores.csv", "cores", len(once), "cores"),
        ("findings.csv", "findings", len(findings), "findings"),
        ("findings.csv", "columns", list(findings), "columns_of_findings"),
        *(("cores.csv", f"{status} cores", int(counts.get(status, 0)), status) for status in STATUSES),
    ]
    if placed is not None:
        stated.append(("cores.csv", "cores without a position", int((~placed).sum()), "unplaced"))
    problems = [
        _differs(name, what, found, facts[key]) for name, what, found, key in stated if found != facts.get(key, found)
    ]
    with_position = None if placed is None else int(placed.sum())
    problems += [f"{IDENTITY}: {problem}" for problem in position_problems(facts, with_position)]
    if "changes.csv" not in tables and facts.get("changes_may_be_apart_from_the_road", False) is not False:
        # no page shows it, so nothing else would show an edit
        problems.append(f"{IDENTITY}: reasons beside the road: found True, expected False without changes.csv")
    return problems


def _sums_that_differ(folder: Path, contents: Contents) -> list[str]:
    """Return a problem for each table whose checksum is not as ``handover.json`` states; another build has fewer."""
    written = contents.facts.get("tables")
    stated = written if isinstance(written, dict) else {}
    sums = table_facts(folder)
    return [
        _differs(name, "SHA-256", sums.get(name, "no such file"), stated.get(name, "not stated"))
        for name in TABLES
        if sums.get(name) != stated.get(name) and (name in stated or not contents.build)
    ]


def _differs(name: str, what: str, found: Any, wanted: Any) -> str:  # noqa: ANN401 - whatever a fact is
    if isinstance(found, dict) and isinstance(wanted, dict):
        # only the facts that are not the same in both
        keys = [key for key in {**found, **wanted} if found.get(key) != wanted.get(key)]
        found, wanted = ({key: side[key] for key in keys if key in side} for side in (found, wanted))
    return f"{name}: {what}: found {found}, expected {wanted} as in {IDENTITY}"
