"""What the road authority is handed: the tables, GeoPackage and map, with the columns that may leave the house."""

from collections.abc import Callable
from pathlib import Path
from typing import Any, Final

import geopandas as gpd
import pandas as pd

from pipeline.clock import Counted
from pipeline.contracts import (
    CORE_COLUMNS,
    DATES_UNDERSTOOD,
    HANDED_ALWAYS,
    HANDED_FINDING_COLUMNS,
    REGISTER_COLUMNS,
    STATUS_COUNTS,
    STATUSES,
    WORST_COUNTS,
    names_of,
)
from pipeline.publish.folder import folder_name
from pipeline.publish.geopackage.package import GeoPackage, write_geopackage
from pipeline.publish.handover.archive import zip_folder
from pipeline.publish.handover.by_district import write_district_packages
from pipeline.publish.handover.changes import CHANGES, change_facts, handed_changes
from pipeline.publish.handover.content_written import content_of
from pipeline.publish.handover.drawn import OF_SEGMENTS, PackContent, draw_pages, package_of, read_content, read_tables
from pipeline.publish.handover.facts import drawing_facts, layer_facts, made_with, table_facts
from pipeline.publish.handover.position_errors import position_facts
from pipeline.publish.handover.rules import handed_rules
from pipeline.publish.handover.work_zones import work_zone_facts
from pipeline.publish.map.page import MapInput, SharedParts
from pipeline.publish.record import as_json
from pipeline.publish.sentences import finding_table
from pipeline.publish.since import Since
from pipeline.publish.tables import iso_texts, write_csv
from pipeline.publish.urgent_first import most_urgent_first
from pipeline.publish.words import words_of
from pipeline.publish.works import WORKS, WORKS_CORES, counts_kept_back, handed_works, works_layers
from pipeline.readback.pack_files import DISTRICTS, IDENTITY, MANIFEST, PACKAGE, has_district_packages
from pipeline.readback.packs import read_identity
from pipeline.results import RunResult
from pipeline.works import ListedWorks

__all__ = ["PACK_ZIP", "handed_cores", "handed_findings", "write_handover"]

PACK_ZIP: Final = "handover.zip"
_OF_REGISTER: Final = {column.published: column for column in REGISTER_COLUMNS}
# columns of the register that the table of cores has from every register, rounded
_ALWAYS_THERE: Final = [name for name in _OF_REGISTER if name in CORE_COLUMNS and name not in DATES_UNDERSTOOD]
# a column of segments that cores have under another name
_HANDED_WITH: Final = {"class_name": "road_class"}


def handed_cores(result: RunResult) -> pd.DataFrame:
    """Return the table of cores as it is handed over: ``row``, then the columns of the settings, in their order.

    A column of the contract holds what was understood (lengths in millimetres, dates by ISO 8601), a column of the
    register's own what was read. A column of the contract that this register does not keep is left out.
    """
    handed: dict[str, pd.Series] = {"row": result.table["row"]}
    for name in result.settings.handover.columns:
        if name in _OF_REGISTER and name not in _ALWAYS_THERE:
            if _OF_REGISTER[name].name in result.inputs.register.present:
                cells = result.cores[_OF_REGISTER[name].name]
                handed[name] = iso_texts(cells) if _OF_REGISTER[name].kind == "instant" else cells
        elif name in result.table:
            handed[name] = result.table[name]
    return pd.DataFrame(handed)


def rules_kept_back(result: RunResult) -> set[str]:
    """Return the rules whose sentences could reveal a column that is not handed over."""
    # a column that the register does not keep has nothing to reveal
    absent = {name for name, column in _OF_REGISTER.items() if column.name not in result.inputs.register.present}
    handed = {"row", *result.settings.handover.columns, *absent}
    return {slug for slug, columns in result.audit.reveals.items() if columns - handed}


def handed_findings(result: RunResult) -> pd.DataFrame:
    """Return the findings, the most urgent first, as the road authority reads them.

    A finding that could reveal what is kept back is reduced to its rule's title.
    """
    kept_back = rules_kept_back(result)
    titles = result.audit.rules.set_index("rule")["title"]
    # what is kept back needs no words
    quoted = {slug: wording for slug, wording in result.audit.wordings.items() if slug not in kept_back}
    wordings = {slug: wording.for_authority() for slug, wording in quoted.items()}
    words = words_of(result.settings.programme.language)
    findings = finding_table(result.audit.findings, wordings, words)
    findings = most_urgent_first(findings, [name for name in HANDED_FINDING_COLUMNS if name in findings])
    is_quoted = ~findings["rule"].isin(kept_back)
    title = findings["rule"].map(titles).astype("str")
    return findings.assign(
        message=findings["message"].where(is_quoted, title), evidence=findings["evidence"].where(is_quoted, None)
    )


def write_handover(
    result: RunResult,
    run: str,
    view: MapInput,
    package: GeoPackage,
    since: Since | None,
    folder: Path,
    detail: Callable[[str], Counted],
    beside: Path,
    shared: SharedParts | None = None,
) -> dict[str, Any]:
    """Write ``handover/`` and ``handover.zip`` into a run's folder.

    Parameters
    ----------
    result
        The run.
    run
        Its identity.
    view, package
        What the run's own map and GeoPackage hold.
    since
        What changed since the latest earlier run that is kept.
    folder
        The run's folder.
    detail
        Called with the name of each output as its writing starts; what it returns is told how much of it is written.
    beside
        Folder of the programme file, from which the path of a key counts.
    shared
        From the run's own map; None where it is not drawn.

    Returns
    -------
    dict
        For the run's record: the pack's fingerprint, its files and its columns.
    """
    (pack := folder / "handover").mkdir()
    works = _write_tables(result, since, pack, detail("handover/cores.csv"))
    # from here on everything is drawn from what the pack itself holds, as it can be again for a check
    tables = read_tables(pack)
    cores = tables["cores.csv"]
    tell = detail("handover/cores.gpkg")
    identity = _identity(result, run, view, cores, tables["findings.csv"]) | drawing_facts(result, view, cores)
    identity |= change_facts(since if (pack / CHANGES).exists() else None) | {"work_zones": _work_zones(result, cores)}
    layers = _handed_layers(package, cores, works)
    written = write_geopackage(package_of(PackContent(identity, tables, layers)), pack / PACKAGE, tell)
    identity |= {"tables": table_facts(pack), "layers": layer_facts(pack / PACKAGE), "made_with": made_with()}
    (pack / IDENTITY).write_text(as_json(identity), encoding="utf-8", newline="\n")
    content = content_of(written, tables, read_identity(pack / IDENTITY)) or read_content(pack)
    _write_drawn(content, layers["cores"], shared, pack, detail)
    tell = detail(PACK_ZIP)
    inner, key = f"{folder_name(result.settings.programme.name)}-{view.as_of}", result.settings.handover.sign_with
    return {
        "fingerprint": zip_folder(pack, folder / PACK_ZIP, inner, None if key is None else beside / key, tell),
        "files": sorted(file.name for file in pack.iterdir() if file.name != MANIFEST),
        "columns": list(cores),
        "work_zones": identity["work_zones"],
    }


def _write_tables(result: RunResult, since: Since | None, pack: Path, tell: Counted) -> ListedWorks | None:
    """Write the CSV files: cores, findings and rules, and works and changes where there are any; return these works."""
    cores = handed_cores(result)
    write_csv(cores, pack / "cores.csv", tell)
    write_csv(handed_findings(result), pack / "findings.csv", tell)
    rules = handed_rules(result.audit.rules, result.audit.thresholds, result.settings.programme.name)
    write_csv(rules, pack / "rules.csv")
    works = handed_works(result.works, [*map(str, cores)], is_allowed=result.settings.handover.works)
    if works is not None:
        write_csv(works.works.drop(columns="geometry"), pack / WORKS)
        write_csv(works.cores, pack / WORKS_CORES)
    changes = handed_changes(since, {*result.settings.handover.columns})
    if changes is not None:
        write_csv(changes, pack / CHANGES)
    return works


def _write_drawn(
    content: PackContent,
    points: gpd.GeoDataFrame,
    shared: SharedParts | None,
    pack: Path,
    detail: Callable[[str], Counted],
) -> None:
    """Write the pages, and the GeoPackages of districts, drawn from the layers and tables as they are in the pack."""
    if has_district_packages(content.facts):
        # nothing else needs the points
        content = content._replace(layers=content.layers | {"cores": points})
        write_district_packages(package_of(content), pack, detail(f"handover/{DISTRICTS}"))
    for name, page in draw_pages(content, shared, detail("handover/map.html")).items():
        (pack / name).write_text(page, encoding="utf-8", newline="\n")


def _work_zones(result: RunResult, cores: pd.DataFrame) -> dict[str, Any] | None:
    """Return the facts of the work zone feed; None where the settings ask for none."""
    settings = result.settings
    if not settings.handover.work_zones:
        return None
    publisher = settings.handover.publisher or settings.programme.name
    return work_zone_facts(cores, result.as_of, settings.programme.timezone, publisher, settings.handover.licence)


def _identity(
    result: RunResult, run: str, view: MapInput, cores: pd.DataFrame, findings: pd.DataFrame
) -> dict[str, Any]:
    """Return what ``handover.json`` holds."""
    return {
        "programme": result.settings.programme.name,
        "as_of": result.as_of.isoformat(),
        "run": run,
        "crs": view.crs,
        "rows": len(cores),
        "cores": len(view.cores),
        **{status: int(view.cores["status"].eq(status).sum()) for status in STATUSES},
        "unplaced": view.unplaced,
        "left_out_by_where": result.account["left_out_by_where"],
        "diameter_is": result.settings.diameter_is,
        "findings": len(findings),
        "columns": list(cores),
        "columns_of_findings": list(findings),
        "findings_without_figures": sorted({*findings["rule"].unique()} & rules_kept_back(result)),
        **position_facts(result, cores),
    }


def _handed_layers(package: GeoPackage, cores: pd.DataFrame, works: ListedWorks | None) -> dict[str, gpd.GeoDataFrame]:
    """Return the layers that are handed over: points of the cores, segments with their columns, districts, works."""
    # a map needs these columns of segments; the others go with the columns of the cores
    handed = [name for name in OF_SEGMENTS if name in HANDED_ALWAYS or _HANDED_WITH.get(name, name) in cores]
    kept_back = counts_kept_back([*map(str, cores)])
    counts = [name for name in names_of((*STATUS_COUNTS, *WORST_COUNTS)) if name not in kept_back]
    named = [name for name in (*handed, *counts, "geometry") if name in package.segments]
    points = gpd.points_from_xy(package.positions["x_m"], package.positions["y_m"])
    points[package.positions["x_m"].isna().to_numpy()] = None
    layers = {"cores": gpd.GeoDataFrame(geometry=points, crs=package.crs), "segments": package.segments[named]}
    if package.districts is not None:
        layers["districts"] = package.districts.drop(columns=kept_back, errors="ignore")
    return layers | ({} if works is None else works_layers(works.works))
