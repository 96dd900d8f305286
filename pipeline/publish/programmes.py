"""What several programmes came to, a row each: for the terminal, and as ``summary.csv`` beside their folders."""

import datetime as dt
from collections.abc import Iterable
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import Final

import pandas as pd

from pipeline.contracts import URGENCIES
from pipeline.errors import OutputError
from pipeline.order.lines import item_of
from pipeline.publish.actions import actions_of
from pipeline.publish.folder import lay_files
from pipeline.publish.tables import write_csv
from pipeline.results import RunResult

__all__ = ["COUNTS", "SUMMARY", "ProgrammeRow", "refuse_other_summary", "row_of", "write_summary"]

SUMMARY: Final = "summary.csv"
# the counts of a row that add up over programmes
COUNTS: Final = ("cores", "pending", "reinstated", "flagged", *URGENCIES, "planned", "bags_to_mix", "bags_to_buy")
_FIRST_COLUMN: Final = "programme_file"


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
        A file of this name is there that was not written by this program, or it cannot be read.
    """
    file = out / SUMMARY
    try:
        if file.exists() and not file.read_bytes().startswith(f'"{_FIRST_COLUMN}"'.encode()):
            raise OutputError(
                f"{file}: is no summary of audits, and would be replaced by one. Rename it, or choose another folder "
                "with --out."
            )
    except OSError as error:
        raise OutputError(f"{file}: cannot be read ({error.strerror}). Choose another folder with --out.") from error


def write_summary(rows: Iterable[ProgrammeRow], out: Path) -> Path:
    """Write the rows to ``summary.csv`` in a folder, and return its path; an earlier one is replaced.

    Raises
    ------
    OutputError
        It cannot be written there.
    """
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
    table = table.astype(dict.fromkeys(COUNTS, "Int64"))
    with lay_files(out) as draft:
        write_csv(table, draft / SUMMARY)
    return out / SUMMARY
