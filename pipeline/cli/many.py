"""Several programmes audited one after the other, and a summary over all of them."""

import datetime as dt
import gc
from pathlib import Path
from typing import TYPE_CHECKING

from pipeline.cli.defects import DEFECT, MORE_MEMORY, NO_MEMORY, report_defect, stream_error
from pipeline.cli.terminal import indented, lines, printer, say, say_lines
from pipeline.completed import COMPLETED
from pipeline.errors import KerfbookError
from pipeline.wording import counted

if TYPE_CHECKING:
    from collections.abc import Callable

    from pipeline.commands.many import Asked
    from pipeline.publish.programmes import ProgrammeRow
    from pipeline.results import RunResult

__all__ = ["audit_many", "junit_of"]


def audit_many(
    given: tuple[Path, ...],
    out: Path,
    as_of: dt.date | None,
    audit: "Callable[[Path, dt.date], RunResult]",
    finish: "Callable[[RunResult, str], int]",
    *,
    pdf: bool,
    quiet: bool,
) -> int:
    """Audit every programme among files and folders, print what they came to, and return the worst exit code.

    Parameters
    ----------
    given
        Programme files, and folders of them.
    out
        Folder that takes the runs and the summary.
    as_of
        Day of all audits, in place of the programmes' own.
    audit
        Audits one programme as of a day.
    finish
        Prints and writes what is asked for beyond the run's folder, and returns the exit code; its second argument
        tells the run from those of the other programmes.
    pdf
        A PDF is asked for.
    quiet
        Print errors only.
    """
    from pipeline.commands.many import find_programmes, look_over
    from pipeline.publish.programmes import refuse_other_summary, write_summary

    found = find_programmes(given, out)
    asked = look_over(found.programmes, out, as_of, pdf=pdf)
    refuse_other_summary(out)
    if found.skipped and not quiet:
        say(f"Not programmes, and skipped: {', '.join(map(str, found.skipped))}.", err=True)
    # those that cannot begin are told first: somebody may still be there to correct them
    for one in asked:
        if one.error is not None:
            _print_error(one.error)
    rows = _in_turn(asked, audit, finish, quiet=quiet)
    if not quiet:
        _print_summary(rows)
    summary = write_summary(rows, out)
    if not quiet:
        say(f"Summary: {summary}")
    return max(row.code for row in rows)


def _in_turn(
    asked: "list[Asked]",
    audit: "Callable[[Path, dt.date], RunResult]",
    finish: "Callable[[RunResult, str], int]",
    *,
    quiet: bool,
) -> "list[ProgrammeRow]":
    """Audit one programme after the other; an interruption stops all."""
    from pipeline.clock import give_back_memory

    rows: list[ProgrammeRow] = []
    try:
        for number, one in enumerate(asked, start=1):
            if not quiet and one.error is None:
                say(f"Programme {number} of {len(asked)}: {one.name or one.path}", err=True)
            rows.append(_audited(one, audit, finish))
            # the next programme begins with the memory that this one began with
            gc.collect()
            give_back_memory()
    except KeyboardInterrupt as stop:
        # those of the programme that was interrupted may be there too
        done = sum(place.is_dir() for place in COMPLETED)
        if done:
            audited = f"Of {counted(len(asked), 'programme')}, {done:,} had been audited, whose outputs are complete."
            stop.add_note(audited)
            stop.add_note("Nothing was written of the others.")
        raise
    return rows


def junit_of(file: Path, run: str) -> Path:
    """Return the JUnit file of one of several programmes: ``audit.xml`` becomes ``audit-<run>.xml``."""
    return file.with_name(f"{file.stem}-{run}{file.suffix}") if run else file


def _audited(one: "Asked", audit: "Callable[[Path, dt.date], RunResult]",
             finish: "Callable[[RunResult, str], int]") -> "ProgrammeRow":  # fmt: skip
    """Audit a programme, and return what it came to; its error is printed, and ends no other programme."""
    from pipeline.publish.folder import folder_name
    from pipeline.publish.programmes import ProgrammeRow, row_of

    if one.error is not None or one.day is None:
        code = one.error.exit_code if one.error else DEFECT
        return ProgrammeRow(one.path, one.name, one.day, code, error=str(one.error))
    try:
        result = audit(one.path, one.day)
        code = finish(result, f"{folder_name(one.name)}-{one.day.isoformat()}")
        return row_of(result, one.path, code)
    except KerfbookError as error:
        _print_error(error)
        return ProgrammeRow(one.path, one.name, one.day, error.exit_code, error=str(error))
    except OSError as error:
        if stream_error(error):
            # nobody reads on
            raise
        return _ended(one, DEFECT, f"{one.path}: {report_defect(error)}")
    except MemoryError:
        return _ended(one, NO_MEMORY, f"{one.path}: {MORE_MEMORY}")
    except Exception as error:  # noqa: BLE001 - a fault that one register brings out must not cost the others a night
        return _ended(one, DEFECT, f"{one.path}: {report_defect(error)}")


def _ended(one: "Asked", code: int, text: str) -> "ProgrammeRow":
    """Print why a programme ended, and return its row of the summary."""
    from pipeline.publish.programmes import ProgrammeRow

    say_lines(indented(f"Error: {text}"), err=True)
    return ProgrammeRow(one.path, one.name, one.day, code, error=text)


def _print_error(error: KerfbookError) -> None:
    say_lines(indented(f"Error: {error}"), err=True)


def _print_summary(rows: "list[ProgrammeRow]") -> None:
    """Print a line per programme and their totals, where each was written, and why others were not."""
    from rich import box
    from rich.table import Table

    from pipeline.publish.programmes import SHOWN

    done = [row for row in rows if row.counts is not None]
    table = Table("programme", box=box.SIMPLE_HEAD, padding=(0, 1, 0, 0), pad_edge=False)
    for head in ("as of", *(name.partition("_")[0] for name in SHOWN)):
        table.add_column(head, justify="right", no_wrap=True)
    for row in done:
        day = "" if row.as_of is None else row.as_of.isoformat()
        table.add_row(row.programme, day, *(f"{(row.counts or {})[name]:,}" for name in SHOWN))
    if len(done) > 1:
        table.add_section()
        totals = (f"{sum((row.counts or {})[name] for row in done):,}" for name in SHOWN)
        table.add_row("all", "", *totals)
    console = printer()
    console.print()
    console.print(f"{len(done):,} of {counted(len(rows), 'programme')} audited.")
    if done:
        console.print(table)
    for row in done:
        console.print(f"{row.programme}: {row.folder}", soft_wrap=True)
    for row in rows:
        if row.counts is None:
            # an error about the settings begins with their file
            which = "" if row.error.startswith(str(row.file)) else f"{row.programme}: "
            failed = indented(f"Failed with exit code {row.code}: {which}{row.error}")
            console.print(lines(*failed.split("\n")), soft_wrap=True)
