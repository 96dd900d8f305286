"""What the road authority is handed: the tables, GeoPackage and map, with the columns that may leave the house."""

import dataclasses
from collections.abc import Callable
from pathlib import Path
from typing import Any, Final

import pandas as pd

from pipeline.contracts import (
    CORE_COLUMNS,
    DATES_UNDERSTOOD,
    HANDED_ALWAYS,
    HANDED_FINDING_COLUMNS,
    INTAKE_TABLES,
    REGISTER_COLUMNS,
    STATUS_COUNTS,
    STATUSES,
    STREET_RECORDED,
    WORST_COUNTS,
    names_of,
)
from pipeline.programme.sources import outside_source
from pipeline.publish.folder import folder_name
from pipeline.publish.geopackage.package import GeoPackage, write_geopackage
from pipeline.publish.handover.archive import zip_folder
from pipeline.publish.handover.how_to_read import draw_how_to_read
from pipeline.publish.map.cards import DAYS, SECOND_CHOICES
from pipeline.publish.map.page import MapInput, draw_map
from pipeline.publish.record import as_json
from pipeline.publish.tables import iso_texts, write_csv
from pipeline.publish.urgent_first import most_urgent_first
from pipeline.publish.works import WORKS, WORKS_CORES, counts_kept_back, handed_works
from pipeline.readback.packs import MANIFEST
from pipeline.results import RunResult

__all__ = ["handed_cores", "handed_findings", "write_handover"]

_OF_REGISTER: Final = {column.published: column for column in REGISTER_COLUMNS}
# columns of the register that the table of cores has from every register, rounded
_ALWAYS_THERE: Final = [name for name in _OF_REGISTER if name in CORE_COLUMNS and name not in DATES_UNDERSTOOD]
# columns of the road layer that a map needs; the others are kept back
_OF_SEGMENTS: Final = [column.name for column in INTAKE_TABLES["segments"] if column.handed != "on request"]
# a column of segments that cores have under another name
_HANDED_WITH: Final = {"class_name": "road_class"}
# what a road authority must know of a rule; how many cores it could assess is internal
_OF_RULES: Final = ("rule", "title", "severity", "limits", "source", "urgency")


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
    """Return the findings, the most urgent first; one that could reveal what is kept back is reduced to a title."""
    kept_back = rules_kept_back(result)
    titles = result.audit.rules.set_index("rule")["title"]
    findings = most_urgent_first(result.audit.findings)
    findings = findings[[name for name in HANDED_FINDING_COLUMNS if name in findings]]
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
    folder: Path,
    detail: Callable[[str], None],
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
    folder
        The run's folder.
    detail
        Called with the name of each output as its writing starts.

    Returns
    -------
    dict
        For the run's record: the pack's fingerprint, its files and its columns.
    """
    pack = folder / "handover"
    pack.mkdir()
    cores = handed_cores(result)
    findings = handed_findings(result)
    identity = _identity(result, run, view, cores, findings)
    detail("handover/cores.csv")
    write_csv(cores, pack / "cores.csv")
    write_csv(findings, pack / "findings.csv")
    rules = result.audit.rules[[*_OF_RULES]]
    write_csv(rules.assign(source=rules["source"].map(outside_source)), pack / "rules.csv")
    works = handed_works(result.works, identity["columns"], is_allowed=result.settings.handover.works)
    if works is not None:
        write_csv(works.works.drop(columns="geometry"), pack / WORKS)
        write_csv(works.cores, pack / WORKS_CORES)
    detail("handover/cores.gpkg")
    write_geopackage(_handed_package(package, cores, findings)._replace(works=works), pack / "cores.gpkg")
    detail("handover/map.html")
    handed = _handed_view(view, cores, findings)
    page = draw_map(handed if works is not None else dataclasses.replace(handed, works=None, in_works=None))
    (pack / "map.html").write_text(page, encoding="utf-8", newline="\n")
    (pack / "how-to-read.html").write_text(draw_how_to_read(result, identity), encoding="utf-8", newline="\n")
    (pack / "handover.json").write_text(as_json(identity), encoding="utf-8", newline="\n")
    detail("handover.zip")
    inner = f"{folder_name(result.settings.programme.name)}-{result.as_of.isoformat()}"
    return {
        "fingerprint": zip_folder(pack, folder / "handover.zip", inner),
        "files": sorted(file.name for file in pack.iterdir() if file.name != MANIFEST),
        "columns": list(cores),
    }


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
        "findings_without_figures": sorted(set(findings["rule"]) & rules_kept_back(result)),
    }


def _of_segments(cores: pd.DataFrame) -> list[str]:
    """Return the columns of the road layer to hand over: those a map needs, and those that cores are handed with."""
    return [name for name in _OF_SEGMENTS if name in HANDED_ALWAYS or _HANDED_WITH.get(name, name) in cores]


def _handed_package(package: GeoPackage, cores: pd.DataFrame, findings: pd.DataFrame) -> GeoPackage:
    """Return the GeoPackage of what is handed over; it is given no other column, so it cannot hold one."""
    kept_back = counts_kept_back([*map(str, cores)])
    segments = package.segments[
        [
            name
            for name in (*_of_segments(cores), *names_of(STATUS_COUNTS), *names_of(WORST_COUNTS), "geometry")
            if name in package.segments and name not in kept_back
        ]
    ]
    districts = None if package.districts is None else package.districts.drop(columns=kept_back)
    return package._replace(
        districts=districts, cores=cores, findings=findings, orders=None, segments=segments, is_pack=True
    )


def _handed_view(view: MapInput, cores: pd.DataFrame, findings: pd.DataFrame) -> MapInput:
    """Return the map of what is handed over; it is given no other column, so it cannot hold one."""
    cores = cores[cores["copy_of"].isna()]
    findings = findings[findings["row"].isin(cores["row"])]
    days = {name: cores[name].str.slice(0, 10) for name in (*DATES_UNDERSTOOD, *DAYS) if name in cores}
    shown = cores.assign(**days)
    if STREET_RECORDED in cores:
        shown["street"] = view.cores["street"]
    for name, handed_with in SECOND_CHOICES.items():
        if handed_with in cores:
            shown[name] = view.cores[name]
    # the width of a road only decides which of very many are drawn
    kept_back = {name: None for name in _OF_SEGMENTS if name not in _of_segments(cores)}
    return dataclasses.replace(
        view, cores=shown, findings=findings, segments=view.segments.assign(**kept_back), orders=None
    )
