"""What the road authority is handed: map, tables and GeoPackage with the columns that may leave the house."""

import dataclasses
from collections.abc import Callable
from pathlib import Path
from typing import Any, Final

import geopandas as gpd
import pandas as pd

from pipeline.contracts import CORE_COLUMNS, HANDED_ALWAYS, REGISTER_COLUMNS, STATUSES, STREET_RECORDED
from pipeline.publish.folder import folder_name
from pipeline.publish.geopackage.package import write_geopackage
from pipeline.publish.handover.archive import zip_folder
from pipeline.publish.handover.how_to_read import draw_how_to_read
from pipeline.publish.map.page import MapInput, draw_map
from pipeline.publish.record import as_json
from pipeline.publish.tables import write_csv
from pipeline.readback.packs import MANIFEST
from pipeline.results import RunResult

__all__ = ["handed_cores", "handed_findings", "write_handover"]

# a register's columns by the name they are handed over under: the name in the frame of cores, and the kind
_OF_REGISTER: Final = {
    STREET_RECORDED if column.name == "street" else column.name: (column.name, column.kind)
    for column in REGISTER_COLUMNS
}
# of the road layer, what a map needs; whatever else a layer knows of a road stays
_OF_SEGMENTS: Final = ("segment_id", "street", "surface")
# what a road authority must know of a rule; how many cores it could assess is the sender's own matter
_OF_RULES: Final = ("rule", "title", "severity", "limits", "source")
# a day, and a minute with its offset, by ISO 8601
_DAY: Final = "%Y-%m-%d"
_MINUTE: Final = "%Y-%m-%dT%H:%M%z"


def handed_cores(result: RunResult) -> pd.DataFrame:
    """Return the table of cores as it is handed over: ``row``, then the columns of the settings, in their order.

    A column of the contract holds what was understood (lengths in millimetres, dates by ISO 8601), one of the
    register's own what was read. One that this register does not keep is left out.
    """
    taken: dict[str, pd.Series] = {"row": result.table["row"]}
    for name in result.settings.handover.columns:
        if name in result.table and (name in CORE_COLUMNS or name not in _OF_REGISTER):
            taken[name] = result.table[name]
        elif name in _OF_REGISTER:
            source, kind = _OF_REGISTER[name]
            if source in result.inputs.register.present:
                taken[name] = _iso(result.cores[source]) if kind == "instant" else result.cores[source]
    return pd.DataFrame(taken)


def _iso(instants: pd.Series) -> pd.Series:
    """Days where no time of day was written, else minutes with the zone; midnight counts as none."""
    # a million cores were put back on some thousand days: each is written once
    codes, different = pd.factorize(instants)
    once = pd.Series(different)
    is_timed = ~once.dt.normalize().eq(once)
    texts = once.dt.strftime(_DAY).astype("str")
    # an offset is written with a colon
    texts[is_timed] = once[is_timed].dt.strftime(_MINUTE).str.replace(r"(\d\d)$", r":\1", regex=True)
    return pd.Series(texts.reindex(codes).to_numpy(), instants.index, dtype="str")


def rules_kept_back(result: RunResult) -> set[str]:
    """Return the rules whose sentences could give away a column that is not handed over."""
    # a column that the register does not keep has nothing to give away
    absent = {name for name, (source, _) in _OF_REGISTER.items() if source not in result.inputs.register.present}
    handed = {"row", *result.settings.handover.columns, *absent}
    return {slug for slug, columns in result.audit.reveals.items() if columns - handed}


def handed_findings(result: RunResult) -> pd.DataFrame:
    """Return the findings; of a rule whose sentence could give away a column that is kept back, its title alone."""
    kept_back = rules_kept_back(result)
    titles = result.audit.rules.set_index("rule")["title"]
    findings = result.audit.findings
    is_told = ~findings["rule"].isin(kept_back)
    title = findings["rule"].map(titles).astype("str")
    return findings.assign(
        message=findings["message"].where(is_told, title), evidence=findings["evidence"].where(is_told, None)
    )


def write_handover(
    result: RunResult,
    run: str,
    view: MapInput,
    segments: gpd.GeoDataFrame,
    districts: gpd.GeoDataFrame | None,
    folder: Path,
    tell: Callable[[str], None],
) -> dict[str, Any]:
    """Write ``handover/`` and ``handover.zip`` into a run's folder.

    Parameters
    ----------
    result
        The run.
    run
        Its identity.
    view
        The map as the run itself has it.
    segments, districts
        In the run's CRS, with the counts of cores by status.
    folder
        The run's folder.
    tell
        Called with the name of each output as its writing starts.

    Returns
    -------
    dict
        What the run's record says of it: the fingerprint, the number of files, the columns.
    """
    place = folder / "handover"
    place.mkdir()
    cores = handed_cores(result)
    findings = handed_findings(result)
    identity = {
        "programme": result.settings.programme.name,
        "as_of": result.as_of.isoformat(),
        "run": run,
        "crs": view.crs,
        "cores": len(cores),
        **{status: int(cores["status"].eq(status).sum()) for status in STATUSES},
        "unplaced": view.unplaced,
        "left_out_by_where": result.account["left_out_by_where"],
        "diameter_is": result.settings.cores.diameter_is,
        "findings": len(findings),
        "columns": list(cores),
        "findings_without_figures": sorted(set(findings["rule"]) & rules_kept_back(result)),
    }
    kept = [name for name in _OF_SEGMENTS if name in HANDED_ALWAYS or name in cores]
    counts = [f"cores_{status}" for status in STATUSES]
    segments = segments[[name for name in (*kept, *counts, "geometry") if name in segments]]
    tell("handover/cores.csv")
    write_csv(cores, place / "cores.csv")
    write_csv(findings, place / "findings.csv")
    write_csv(result.audit.rules[[*_OF_RULES]], place / "rules.csv")
    tell("handover/cores.gpkg")
    write_geopackage(
        cores,
        result.cores,
        findings,
        None,
        segments,
        districts,
        result.inputs.crs,
        place / "cores.gpkg",
        title=result.settings.programme.name,
        as_of=result.as_of,
    )
    tell("handover/map.html")
    page = draw_map(_handed_view(view, cores, findings, kept))
    (place / "map.html").write_text(page, encoding="utf-8", newline="\n")
    (place / "how-to-read.html").write_text(draw_how_to_read(result, identity), encoding="utf-8", newline="\n")
    (place / "handover.json").write_text(as_json(identity), encoding="utf-8", newline="\n")
    tell("handover.zip")
    inner = f"{folder_name(result.settings.programme.name)}-{result.as_of.isoformat()}"
    fingerprint = zip_folder(place, folder / "handover.zip", inner)
    return {
        "fingerprint": fingerprint,
        "files": sorted(file.name for file in place.iterdir() if file.name != MANIFEST),
        "columns": list(cores),
    }


def _handed_view(view: MapInput, cores: pd.DataFrame, findings: pd.DataFrame, of_segments: list[str]) -> MapInput:
    """The map of what is handed over: it is given no other column, so that it cannot hold one."""
    days = {name: cores[name].str.slice(0, 10) for name in ("opened_on", "reinstated_at") if name in cores}
    shown = cores.assign(**days)
    if STREET_RECORDED in cores:
        shown["street"] = view.cores["street"]
    for name, told_with in _SECOND_CHOICES.items():
        if told_with in cores:
            shown[name] = view.cores[name]
    # how wide a road is only chooses which of very many are drawn
    unsaid = {name: None for name in _OF_SEGMENTS if name not in of_segments}
    return dataclasses.replace(
        view, cores=shown, findings=findings, segments=view.segments.assign(**unsaid), orders=None
    )


# what the map says besides, and the column that it belongs to
_SECOND_CHOICES: Final = {
    "runner_up_street": "runner_up_id",
    "runner_up_confidence": "runner_up_id",
    "surface_next": "surface_confidence",
    "surface_next_confidence": "surface_confidence",
}
