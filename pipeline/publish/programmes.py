"""What several programmes came to, a row each: for the terminal, and as a table and a page beside their folders."""

import datetime as dt
from collections.abc import Sequence
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import Final
from urllib.parse import quote

import pandas as pd

from pipeline.contracts import URGENCIES
from pipeline.errors import OutputError
from pipeline.order.lines import item_of
from pipeline.publish.actions import actions_of
from pipeline.publish.folder import lay_files
from pipeline.publish.pages.page import render_page
from pipeline.publish.tables import write_csv
from pipeline.publish.words import words_of
from pipeline.results import RunResult

__all__ = [
    "COUNTS",
    "SHOWN",
    "SUMMARY",
    "SUMMARY_PAGE",
    "ProgrammeRow",
    "refuse_other_summary",
    "row_of",
    "write_summary",
]

SUMMARY: Final = "summary.csv"
SUMMARY_PAGE: Final = "summary.html"
# the counts of a row that add up over programmes
COUNTS: Final = ("cores", "pending", "reinstated", "flagged", *URGENCIES, "planned", "bags_to_mix", "bags_to_buy")
# those that fit side by side on a page and a line
SHOWN: Final = ("cores", "pending", "reinstated", "flagged", "hazard", "overdue", "bags_to_mix")
_FIRST_COLUMN: Final = "programme_file"
# what the page leads to, of what a programme has written
_PAGES: Final = {"map": "map.html", "report": "report.html", "orders": "orders.xlsx"}


@dataclass(frozen=True)
class ProgrammeRow:
    """What a programme came to.

    ``counts``: by the names of ``COUNTS``; those of the urgencies are the cores to act on, each under its most urgent
    finding. It is None for a programme that failed: ``error`` says why. ``code``: the exit code of it alone.
    """

    file: Path
    programme: str
    as_of: dt.date | None
    code: int
    counts: dict[str, int] | None = None
    folder: Path | None = None
    error: str = ""


def row_of(result: RunResult, file: Path, code: int) -> ProgrammeRow:
    """Return the row of an audited programme."""
    account, orders = result.account, result.orders
    grout = {item_of(shade) for shade in result.catalogue.shades}
    urgencies = actions_of(result).urgency.value_counts()
    counts = {name: account[name] for name in ("cores", "pending", "reinstated", "flagged")}
    counts |= {name: int(urgencies.get(name, 0)) for name in URGENCIES}
    counts["planned"] = len(result.plan.stops)
    for name, table, packs in (
        ("bags_to_mix", orders.lines, "packs"),
        ("bags_to_buy", orders.purchases, "packs_ordered"),
    ):
        counts[name] = int(table.loc[table["item"].isin(grout), packs].sum())
    return ProgrammeRow(file, result.settings.programme.name, result.as_of, code, counts, result.folder)


def refuse_other_summary(out: Path) -> None:
    """Refuse a folder in which the summary would replace a file that is no summary.

    Raises
    ------
    OutputError
        A file of its names is there that was not written by this program, or it cannot be read.
    """
    ours = {SUMMARY: f'"{_FIRST_COLUMN}"', SUMMARY_PAGE: f"<title>{words_of('en').plainly('programmes.page')}<"}
    for name, mark in ours.items():
        file = out / name
        try:
            if file.exists() and mark.encode() not in file.read_bytes():
                raise OutputError(
                    f"{file}: is no summary of audits, and would be replaced by one. Rename it, or choose another "
                    "folder with --out."
                )
        except OSError as error:
            raise OutputError(
                f"{file}: cannot be read ({error.strerror}). Choose another folder with --out."
            ) from error


def write_summary(rows: Sequence[ProgrammeRow], out: Path) -> Path:
    """Write the rows to ``summary.csv`` and ``summary.html`` in a folder, in place of earlier ones; return the page.

    Raises
    ------
    OutputError
        They cannot be written there.
    """
    with lay_files(out) as draft:
        write_csv(_table(rows, out), draft / SUMMARY)
        (draft / SUMMARY_PAGE).write_text(_page(rows, out), encoding="utf-8", newline="\n")
    return out / SUMMARY_PAGE


def _table(rows: Sequence[ProgrammeRow], out: Path) -> pd.DataFrame:
    cells = []
    for row in rows:
        values = asdict(row) | {_FIRST_COLUMN: row.file.as_posix()}
        values |= dict.fromkeys(COUNTS) if row.counts is None else row.counts
        values["as_of"] = None if row.as_of is None else row.as_of.isoformat()
        # relative to the summary, so that the folder may be moved
        values["folder"] = None if row.folder is None else row.folder.relative_to(out).as_posix()
        cells.append(values)
    names = [_FIRST_COLUMN, "programme", "as_of", "code", *COUNTS, "folder", "error"]
    table = pd.DataFrame(cells, columns=names).rename(columns={"code": "exit_code"})
    return table.astype(dict.fromkeys(COUNTS, "Int64"))


def _page(rows: Sequence[ProgrammeRow], out: Path) -> str:
    """Return the page; the same rows give the same text."""
    done = [row for row in rows if row.counts is not None]
    totals = {name: sum((row.counts or {})[name] for row in done) for name in SHOWN}
    shown = [asdict(row) | {"pages": _pages_of(row, out)} for row in done]
    failed = [asdict(row) | {"file": row.file.as_posix()} for row in rows if row.counts is None]
    return render_page(
        "programmes.html", words_of("en"), all=len(rows), done=shown, failed=failed, counts=SHOWN, totals=totals
    )


def _pages_of(row: ProgrammeRow, out: Path) -> list[dict[str, str]]:
    """Return what the page leads to of a programme's folder, relative to it."""
    folder = row.folder
    if folder is None:
        return []
    return [
        {"name": name, "place": quote((folder / file).relative_to(out).as_posix())}
        for name, file in _PAGES.items()
        if (folder / file).exists()
    ]
