"""Publish: a run's results into its folder; nothing else in the program writes an output."""

import datetime as dt
import time
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Any, Final

from pipeline.clock import Counted, StageCost, Told, give_back_memory, numbered, peak_mb
from pipeline.errors import OutputError
from pipeline.intake.files.checksums import fingerprint
from pipeline.programme.outputs import PAPERS, Publish, refuse_pdf_of_nothing
from pipeline.programme.ranges import shortened
from pipeline.programme.settings import Settings, load_programme
from pipeline.publish.basis import write_basis
from pipeline.publish.cores_parquet import write_cores_parquet
from pipeline.publish.data_package import write_run_dictionary
from pipeline.publish.database import refuse_unusable_database, run_transaction
from pipeline.publish.folder import files_in, folder_name, new_folder, same_but_for, settled
from pipeline.publish.geopackage.package import write_geopackage
from pipeline.publish.handover.contents import PACK_ZIP, write_handover
from pipeline.publish.handover.limits import limits_exceeded
from pipeline.publish.item_units import in_units
from pipeline.publish.map.by_district import IN_FOLDER, MAPS
from pipeline.publish.map.page import shared_parts
from pipeline.publish.map.pages import map_pages
from pipeline.publish.map_input import map_input
from pipeline.publish.orders.workbook import write_order_book
from pipeline.publish.owners import OWNERS, write_owners
from pipeline.publish.plan import DAYS, SHEETS_PDF, write_plan
from pipeline.publish.record import COST_KEYS, as_json, database_record, record, run_id, stages_record
from pipeline.publish.report.pdf import REPORT_PDF, Paper, require_pdf, write_pdf
from pipeline.publish.report.report import draw_report
from pipeline.publish.return_sheet import RETURN_SHEET, keep_filled_in, return_sheet
from pipeline.publish.run_package import PACKAGES, package_of_run, write_packages_by_district
from pipeline.publish.sentences import with_sentences
from pipeline.publish.since import Since, since_last
from pipeline.publish.tables import as_cells, rounded, write_csv
from pipeline.publish.words import words_of
from pipeline.publish.works import WORKS, WORKS_CORES
from pipeline.readback.cores_table import CORES_FILE, CORES_PARTS
from pipeline.readback.json_text import parse_json
from pipeline.results import RunResult

__all__ = ["publish", "refuse_impossible_outputs", "run_folder"]

_ALWAYS_WRITTEN: Final = ("tables", "plan.csv", "run.json")
_PARTS_OF_PACK: Final = 4


def refuse_impossible_outputs(programme: Path, pdf: Paper | None, *, writes: bool) -> Settings:
    """Find out before the long work whether what a programme asks for can be written.

    Parameters
    ----------
    programme
        The programme file.
    pdf
        Paper of the report as a PDF; None makes none.
    writes
        Whether anything is written.

    Returns
    -------
    Settings
        Those of the programme.

    Raises
    ------
    SettingsError
        The programme file is wrong, a library for an output is not installed, or a PDF is asked for without its page.
    OutputError
        The run cannot be written to the programme's database.
    """
    if pdf:
        require_pdf()
    settings = load_programme(programme)
    wanted = settings.publish
    if pdf:
        refuse_pdf_of_nothing(wanted, str(programme))
    if writes and wanted.database:
        refuse_unusable_database(wanted.database)
    return settings


def publish(result: RunResult, programme: Path, out: Path, told: Told, pdf: Paper | None = None) -> Path:
    """Write every output of a run.

    Parameters
    ----------
    result
        The run.
    programme
        Its programme file.
    out
        Folder that takes ``<programme>/<as_of>/``.
    told
        Is told the name of each output as its writing starts, how many are written, and how much of a long one is.
    pdf
        Paper of the report as a PDF; None makes none.

    Returns
    -------
    pathlib.Path
        The run's folder. If nothing in it has changed but run times and versions, it is left untouched.

    Raises
    ------
    OutputError
        The folder or the database cannot be written to.
    """
    start = time.perf_counter()
    name, language, sha256 = result.settings.programme.name, result.settings.programme.language, fingerprint(programme)
    _refuse_another(target := run_folder(out, name, result.as_of), name)
    # tables are in English, in which a run's findings already are
    translated = result if language == "en" else with_sentences(result, words_of(language))
    since = since_last(result)
    begin = numbered(told, _steps(wanted := result.settings.publish, pdf), "outputs")

    def detail(text: str) -> Counted:
        give_back_memory()
        return begin(text)

    # the database keeps the run once its folder is there: what fails before that leaves both as they were
    with (
        run_transaction(wanted.database) as database,
        new_folder(
            target, _same_run, _outdated(wanted, pdf), database.settle if database else settled, _written
        ) as folder,
    ):
        _write_tables(result, folder, detail)
        write_plan(result, folder, detail, pdf, wanted.outputs)
        facts = record(result, [], programme.name, sha256)
        identity = run_id(facts, (folder / "cores.csv", folder / "findings.csv"))
        handed = _write_layers_and_pages(translated, identity, since, folder, detail, pdf, programme.parent)
        basis = write_basis(result, folder, detail("basis")) if wanted.writes("basis") else None
        detail("run.json")
        # this stage ends with its own record, so that its cost leaves out the writing of it
        costs = [*result.costs, StageCost("publish", time.perf_counter() - start, peak_mb())]
        ending = {"stages": stages_record(costs), "handover": handed, "basis": basis, **_ending(result, folder)}
        _write_text(as_json({"run": identity} | facts | ending), folder / "run.json")
        keep_filled_in(target, folder)
        if database:
            database.write(result, identity, detail("database"))
    return target


def _ending(result: RunResult, folder: Path) -> dict[str, Any]:
    """Return what the record says of the folder when all but the record is in it."""
    notices = [*limits_exceeded(folder / "handover"), *result.inputs.notices]
    files = sorted([*files_in(folder), "run.json"])
    return {**database_record(result.settings.publish), "notices": notices, "files": files}


def _write_layers_and_pages(
    result: RunResult,
    identity: str,
    since: Since | None,
    folder: Path,
    detail: Callable[[str], Counted],
    pdf: Paper | None,
    beside: Path,
) -> dict[str, Any] | None:
    """Write GeoPackage, map, report and handover as far as they are wanted; return what the record says of the pack."""
    wanted = result.settings.publish
    package = package_of_run(result)
    if wanted.writes("cores.gpkg"):
        tell = detail("cores.gpkg")
        if wanted.geopackage == "by district":
            write_packages_by_district(package, folder, tell)
        else:
            write_geopackage(package, folder / "cores.gpkg", tell)
    view = map_input(result, since)
    shared = None
    if wanted.writes("map.html"):
        tell = detail("map.html")
        places = IN_FOLDER if result.has_district_maps else None
        shared = shared_parts(view) if wanted.writes("handover") and places is None else None
        for name, page in map_pages(view, "map.html", places, shared, tell):
            (folder / name).parent.mkdir(exist_ok=True)
            _write_text(page, folder / name)
    if wanted.writes("report.html"):
        _write_report(result, since, folder, detail, pdf)
    if not wanted.writes("handover"):
        return None
    # of what the run's own map shows, the pack asks for the number of cores by status alone
    view = replace(view, cores=view.cores[["status"]])
    return write_handover(result, identity, view, package, since, folder, detail, beside, shared)


def _write_report(
    result: RunResult, since: Since | None, folder: Path, detail: Callable[[str], Counted], pdf: Paper | None
) -> None:
    report = draw_report(result, since=since, tell=detail("report.html"))
    _write_text(report, folder / "report.html")
    if pdf:
        detail(REPORT_PDF)
        write_pdf(report, folder / REPORT_PDF, pdf)


def _write_tables(result: RunResult, folder: Path, detail: Callable[[str], Counted]) -> None:
    """Write every table of a run that is not a layer or a page, nor of the plan."""
    tell = detail("tables")
    units = result.settings.orders.units
    write_csv(result.table, folder / "cores.csv", tell)
    write_cores_parquet(result.table, folder, result.settings.publish)
    for name in ("findings", "rules", "thresholds", "evidence", "rates", "completeness"):
        write_csv(getattr(result.audit, name), folder / f"{name}.csv", tell)
    write_run_dictionary(result, folder)
    write_csv(result.gone, folder / "findings_gone.csv")
    write_owners(result, folder / OWNERS)
    write_csv(result.inputs.register.set_aside, folder / "set_aside.csv")
    if result.works is not None:
        write_csv(result.works.works.drop(columns="geometry"), folder / WORKS)
        write_csv(result.works.cores, folder / WORKS_CORES)
    if result.settings.decisions is not None:
        write_csv(result.decided.report, folder / "decisions_report.csv")
        write_csv(result.decided.corrections, folder / "corrections.csv")
    write_csv(return_sheet(result.plan.stops, result.cores, units), folder / RETURN_SHEET, tell)
    if result.settings.returns is not None:
        write_csv(result.inputs.returns, folder / "returns_report.csv")
    write_csv(rounded(in_units(result.orders.lines, units)), folder / "orders.csv")
    write_csv(as_cells(rounded(result.orders.purchases)), folder / "purchases.csv")
    write_csv(rounded(result.orders.costs), folder / "costs.csv")
    write_csv(rounded(result.orders.budget), folder / "budget.csv")
    write_csv(rounded(in_units(result.orders.loads, units)), folder / "loads.csv")
    if result.settings.publish.writes("orders.xlsx"):
        write_order_book(result, folder / "orders.xlsx", detail("orders.xlsx"))


def _steps(wanted: Publish, pdf: Paper | None) -> int:
    """Return how many outputs are named as they are written."""
    papers = sum(wanted.writes(name) for name in PAPERS) if pdf else 0
    database = wanted.database is not None
    return (
        len(_ALWAYS_WRITTEN)
        + len(wanted.outputs)
        + (_PARTS_OF_PACK - 1 + (wanted.geopackage == "by district")) * wanted.writes("handover")
        + papers
        + database
    )


def _outdated(wanted: Publish, pdf: Paper | None) -> set[str]:
    """Return the outputs of an earlier run of the same day that are removed where this run does not write them."""
    every = {OWNERS, DAYS, WORKS, WORKS_CORES, CORES_FILE, CORES_PARTS, MAPS, PACKAGES, *wanted.left_out}
    if wanted.geopackage == "by district":
        every.add("cores.gpkg")
    if not wanted.writes("handover"):
        every.add(PACK_ZIP)
    return every if pdf else every | {REPORT_PDF, SHEETS_PDF}


def _write_text(text: str, path: Path) -> None:
    """Write UTF-8 with the same line ends on every system."""
    path.write_text(text, encoding="utf-8", newline="\n")


def _refuse_another(folder: Path, programme: str) -> None:
    """Raise an OutputError if the folder holds a run of another programme."""
    if (there := _recorded(folder, "programme")) not in (None, programme):
        raise OutputError(
            f"{folder}: holds a run of another programme, {shortened(there)}, whose name makes the same folder as "
            f"{shortened(programme)}. Choose another folder with --out, or rename one of the two in programme.name."
        )


def _recorded(folder: Path, key: str) -> object:
    """Return an entry of the record in a run's folder; None where there is none. A pipe in its place never ends."""
    file = folder / "run.json"
    try:
        return parse_json(file.read_text("utf-8"))[key] if file.is_file() else None
    except (OSError, ValueError, KeyError, TypeError, RecursionError):
        return None


def run_folder(out: Path, programme: str, as_of: dt.date) -> Path:
    """Return the folder of a programme's run of a day."""
    return out / folder_name(programme) / as_of.isoformat()


def _written(folder: Path) -> set[str] | None:
    """Return the files that a run wrote into its folder, by its own record; None where the record does not say."""
    files = _recorded(folder, "files")
    return {str(file) for file in files} if isinstance(files, list) else None


def _same_run(new: Path, old: Path) -> bool:
    if not same_but_for("run.json", new, old):
        return False
    records = []
    for folder in (new, old):
        try:
            kept = parse_json((folder / "run.json").read_text("utf-8"))
            # a run without a PDF leaves that of an earlier one, of the same answers, where it is
            records.append({key: value for key, value in kept.items() if key not in {*COST_KEYS, "files"}})
        except (ValueError, AttributeError, RecursionError):
            return False
    return bool(records[0] == records[1])
