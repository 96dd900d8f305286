"""The plan as tables, as sheets for the crews, and for their phones and calendars."""

from collections.abc import Callable, Collection
from pathlib import Path
from typing import Final

from pipeline.clock import Counted
from pipeline.programme.outputs import OUTPUTS, Output
from pipeline.publish.owners import owner_files
from pipeline.publish.plan.crew_sheets import draw_crew_sheets
from pipeline.publish.plan.day_stops import StopsByDay, sheet_days, stops_by_day
from pipeline.publish.plan.phone import as_gpx, as_ics
from pipeline.publish.plan.phone_days import phone_days
from pipeline.publish.plan.table import day_table, not_planned_table, plan_table
from pipeline.publish.report.pdf import Paper, write_pdf
from pipeline.publish.tables import as_cells, write_csv
from pipeline.publish.words import words_of
from pipeline.results import RunResult

__all__ = ["DAYS", "SHEETS_PDF", "write_plan"]

# the folder of the files for phones and calendars
DAYS: Final = "days"
SHEETS_PDF: Final = "crew-sheets.pdf"
_CSV: Final = ".csv"
# days written between two updates of the progress
_DAYS_TOLD: Final = 50


def write_plan(
    result: RunResult,
    folder: Path,
    detail: Callable[[str], Counted],
    pdf: Paper | None = None,
    outputs: Collection[Output] = OUTPUTS,
) -> None:
    """Write the plan: tables, sheets, and a file for phones and one for calendars per crew and day.

    Parameters
    ----------
    result
        The run.
    folder
        The folder to write into.
    detail
        Called with the name of each output as its writing starts; what it returns is told how much of it is written.
    pdf
        Paper of the sheets as a PDF; None makes none.
    outputs
        Which of the sheets and of the files for phones and calendars are written; the tables always are.
    """
    tell = detail("plan.csv")
    write_csv(as_cells(plan_table(result)), folder / "plan.csv", tell)
    write_csv(day_table(result), folder / "plan_days.csv")
    write_csv(not_planned_table(result), folder / "not_planned.csv")
    by_day: StopsByDay | None = None
    if "crew-sheets.html" in outputs:
        tell = detail("crew-sheets.html")
        words, by_day = words_of(result.settings.programme.language), stops_by_day(result)
        sheets = draw_crew_sheets(result, words, pdf or "Letter", by_day, tell, with_days=DAYS in outputs)
        (folder / "crew-sheets.html").write_text(sheets, encoding="utf-8", newline="\n")
        if pdf:
            detail(SHEETS_PDF)
            write_pdf(sheets, folder / SHEETS_PDF, pdf)
    if DAYS in outputs:
        _write_days(result, folder / DAYS, by_day, detail(DAYS))


def _write_days(result: RunResult, folder: Path, by_day: StopsByDay | None, tell: Counted) -> None:
    """Write the files of each crew day that has a sheet; a crew's name may be any text, a file's may not."""
    days = sheet_days(result)
    if days.empty:
        return
    folder.mkdir()
    stems = {crew: file.removesuffix(_CSV) for crew, file in owner_files(sorted(set(days["crew"]))).items()}
    zone, words = result.settings.programme.timezone, words_of(result.settings.programme.language)
    for done, (crew, day) in enumerate(phone_days(result, words, by_day)):
        if done % _DAYS_TOLD == 0:
            tell(done, len(days), "days")
        path = folder / f"{stems[crew]}-{day.day.isoformat()}"
        path.with_name(f"{path.name}.gpx").write_text(as_gpx(day), encoding="utf-8", newline="\n")
        path.with_name(f"{path.name}.ics").write_bytes(as_ics(day, zone, result.as_of))
