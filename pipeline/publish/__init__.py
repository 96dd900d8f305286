"""Publish: a run's results into its folder; nothing else in the program writes an output."""

import json
import time
from collections.abc import Callable
from pathlib import Path
from typing import Final

import geopandas as gpd
import pandas as pd

from pipeline.clock import StageCost, peak_mb
from pipeline.contracts import STATUSES
from pipeline.errors import OutputError
from pipeline.intake.crs import name_of
from pipeline.intake.files.layers import fingerprint
from pipeline.publish.data_words import in_language
from pipeline.publish.folder import folder_name, new_folder, same_but_for
from pipeline.publish.geopackage.package import write_geopackage
from pipeline.publish.handover.contents import write_handover
from pipeline.publish.map.page import Background, MapInput, draw_map
from pipeline.publish.orders.workbook import in_units, write_order_book
from pipeline.publish.record import COST_KEYS, as_json, record, run_id
from pipeline.publish.report.pdf import REPORT_PDF, Paper, write_pdf
from pipeline.publish.report.report import draw_report
from pipeline.publish.tables import as_cells, rounded, write_csv, write_parquet
from pipeline.publish.words import load_words, words_of
from pipeline.results import RunResult

__all__ = ["publish"]

_DRAWN: Final = "EPSG:4326"


def publish(
    result: RunResult, programme: Path, out: Path, tell: Callable[[str], None], pdf: Paper | None = None
) -> Path:
    """Write every output of a run.

    Parameters
    ----------
    result
        The run.
    programme
        Its programme file.
    out
        Folder that takes ``<programme>/<as_of>/``.
    tell
        Called with the name of each output as its writing starts.
    pdf
        Paper of the report as a PDF; None makes none.

    Returns
    -------
    pathlib.Path
        The run's folder. If everything in it is as it was, run times and versions apart, it is left as it was.

    Raises
    ------
    OutputError
        The folder cannot be written.
    """
    start = time.perf_counter()
    place = out / folder_name(result.settings.programme.name) / result.as_of.isoformat()
    _refuse_another(place, result.settings.programme.name)
    findings = result.audit.findings
    spoken = in_language(result, words_of(result.settings.programme.language))
    segments = _with_counts(result.inputs.segments, "segment_id", result.cores)
    districts = result.inputs.districts
    districts = None if districts is None else _with_counts(districts, "district", result.cores)
    units = result.settings.orders.units
    lines = rounded(in_units(result.orders.lines, units))
    with new_folder(place, _same_run, () if pdf else (REPORT_PDF,)) as folder:
        tell("tables")
        write_csv(result.table, folder / "cores.csv")
        write_parquet(result.table, folder / "cores.parquet")
        write_csv(findings, folder / "findings.csv")
        for name, book in (
            ("rules", result.audit.rules),
            ("thresholds", result.audit.thresholds),
            ("evidence", result.audit.evidence),
            ("rates", result.audit.rates),
        ):
            write_csv(book, folder / f"{name}.csv")
        write_csv(lines, folder / "orders.csv")
        write_csv(as_cells(rounded(result.orders.purchases)), folder / "purchases.csv")
        write_csv(rounded(in_units(result.orders.loads, units)), folder / "loads.csv")
        write_order_book(result, folder / "orders.xlsx")
        tell("cores.gpkg")
        write_geopackage(
            result.table,
            result.cores,
            findings,
            lines,
            segments,
            districts,
            result.inputs.crs,
            folder / "cores.gpkg",
            title=result.settings.programme.name,
            as_of=result.as_of,
        )
        tell("map.html")
        view = _map_input(spoken)
        (folder / "map.html").write_text(draw_map(view), encoding="utf-8", newline="\n")
        tell("report.html")
        report = draw_report(spoken)
        (folder / "report.html").write_text(report, encoding="utf-8", newline="\n")
        if pdf:
            tell(REPORT_PDF)
            write_pdf(report, folder / REPORT_PDF, pdf)
        sha256 = fingerprint(programme)
        identity = run_id(record(result, [], programme.name, sha256), (folder / "cores.csv", folder / "findings.csv"))
        handed = write_handover(spoken, identity, view, segments, districts, folder, tell)
        tell("run.json")
        # this stage ends with its own record, which tells what came before it
        costs = [*result.costs, StageCost("publish", time.perf_counter() - start, peak_mb())]
        told = {"run": identity} | record(result, costs, programme.name, sha256) | {"handover": handed}
        (folder / "run.json").write_text(as_json(told), encoding="utf-8", newline="\n")
    return place


def _refuse_another(place: Path, programme: str) -> None:
    """Two programmes of nearly the same name must not replace each other's runs."""
    try:
        there = json.loads((place / "run.json").read_text("utf-8"))["programme"]
    except (OSError, ValueError, KeyError):
        return
    if there != programme:
        raise OutputError(f"{place}: holds a run of another programme, {there!r}. Choose another folder with --out.")


def _same_run(new: Path, old: Path) -> bool:
    if not same_but_for("run.json", new, old):
        return False
    records = []
    for folder in (new, old):
        try:
            one = json.loads((folder / "run.json").read_text("utf-8"))
        except ValueError:
            return False
        records.append({key: value for key, value in one.items() if key not in COST_KEYS})
    return bool(records[0] == records[1])


def _with_counts(layer: gpd.GeoDataFrame, key: str, cores: pd.DataFrame) -> gpd.GeoDataFrame:
    """Add to each segment or district how many of its cores have which status."""
    counts = pd.crosstab(cores[key], cores["status"]).reindex(columns=list(STATUSES), fill_value=0)
    counts.columns = [f"cores_{status}" for status in counts.columns]
    joined = layer.drop(columns="start_m", errors="ignore").join(counts, on=key)
    return joined.fillna(dict.fromkeys(counts.columns, 0)).astype(dict.fromkeys(counts.columns, "int64"))


def _map_input(result: RunResult) -> MapInput:
    dates = {name: result.cores[name].dt.strftime("%Y-%m-%d") for name in ("opened_on", "reinstated_at")}
    told = ("runner_up_street", "runner_up_confidence", "surface_next", "surface_next_confidence")
    second_choices = {name: result.cores[name] for name in told}
    # without a road segment, the street that the register records may help to find the core
    before, _, after = str(load_words(result.settings.programme.language)["card.street_recorded"]).partition("{street}")
    street = result.table["street"].fillna(before + result.cores["street"] + after)
    districts = result.inputs.districts
    shown = result.settings.map
    return MapInput(
        title=result.settings.programme.name,
        as_of=result.as_of,
        crs=name_of(result.inputs.crs),
        cores=result.table.assign(street=street, **dates, **second_choices),
        findings=result.audit.findings,
        segments=result.inputs.segments.to_crs(_DRAWN),
        districts=None if districts is None else districts.to_crs(_DRAWN),
        orders=result.orders.lines,
        unplaced=result.account["unplaced"],
        sources=result.inputs.credits,
        cautions=result.catalogue.cautions,
        background=None if shown.background is None else Background(shown.background, shown.background_credit),
        units=shown.units,
        language=result.settings.programme.language,
    )
