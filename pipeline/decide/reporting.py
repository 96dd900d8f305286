"""What became of every decision, as tables and as notices."""

from typing import Final

import pandas as pd

from pipeline.contracts import names_of
from pipeline.contracts.decisions import CORRECTION_TABLE, DECISION_REPORT

__all__ = ["correction_table", "entry_report", "problem_notices"]

_LINES_NAMED: Final = 5
# kinds of problem that are told of each file, and letters of a cell that is quoted in one
_MOST_NOTICES: Final = 20
_QUOTED: Final = r'(?s)"(.{80}).+"'
# what a notice says of entries that have no problem of their own, and still do not hold
_NOTED: Final = {
    "matches nothing": "matches no finding and no cell of a register; delete it, or correct what it names",
    "superseded": "is superseded by another decision about the same finding or cell; delete one of the two",
    "evidence changed": "no longer holds because its evidence changed; decide again",
    "expired": "has expired; decide again, or delete it",
}
# the same of several entries at once
_NOTED_OF_SEVERAL: Final = {
    "matches nothing": "match no finding and no cell of a register; delete them, or correct what they name",
    "superseded": "are superseded by other decisions about the same findings or cells; delete one of each two",
    "evidence changed": "no longer hold because their evidence changed; decide again",
    "expired": "have expired; decide again, or delete them",
}
_HOLDS: Final = "holds"


def entry_report(
    entries: pd.DataFrame, pairs: pd.DataFrame, chosen: pd.DataFrame, corrected: pd.DataFrame
) -> pd.DataFrame:
    """Return one row per entry: what it says, what it matches, and its standing.

    Parameters
    ----------
    entries
        The decisions, with the standing of each by itself.
    pairs
        Every finding that each is about.
    chosen
        The entry that counts for each finding, with its standing about it.
    corrected
        The cells that entries correct.
    """
    counts = pairs["entry"].value_counts().reindex(entries.index, fill_value=0)
    cells = corrected["entry"].value_counts().reindex(entries.index, fill_value=0)
    # an entry about several findings holds if it holds for any of them
    best = chosen.sort_values("standing", key=lambda one: one.ne(_HOLDS), kind="stable").drop_duplicates("entry")
    about = best.set_index("entry")["standing"].reindex(entries.index)
    about = about.fillna("superseded").mask(counts.eq(0), "matches nothing")
    answers = entries["standing"].isin([_HOLDS, "expired"]) & entries["decision"].ne("correct")
    standing = entries["standing"].mask(answers, about)
    report = entries.assign(
        decided_on=entries["decided_on"].dt.strftime("%Y-%m-%d").fillna(entries["decided_on_text"]),
        until=entries["until"].dt.strftime("%Y-%m-%d").fillna(entries["until_text"]),
        findings=counts.astype("int64"),
        cells=cells.astype("int64"),
        standing=standing,
        problem=entries["problem"].astype("str").fillna(standing.map(_NOTED)),
    )[list(names_of(DECISION_REPORT))]
    kinds = {column.name: "str" if column.kind == "text" else "int64" for column in DECISION_REPORT}
    return report.astype(kinds).reset_index(drop=True)


def correction_table(entries: pd.DataFrame, corrected: pd.DataFrame) -> pd.DataFrame:
    """Return one row for each cell of a register that an entry names, by row and column, with who and why."""
    of = entries.loc[corrected["entry"]].set_axis(corrected.index)
    # an entry that does not hold says so of each of its cells
    standing = corrected["standing"].astype("str").where(of["standing"].ne("expired"), "expired")
    standing = standing.replace(["not a date", "several rows"], "does not hold")
    table = corrected.assign(
        decided_by=of["decided_by"],
        reason=of["reason"],
        decided_on=of["decided_on"].dt.strftime("%Y-%m-%d").fillna(of["decided_on_text"]),
        until=of["until"].dt.strftime("%Y-%m-%d").fillna(of["until_text"]),
        standing=standing,
        file=of["file"],
        line=of["line"],
    )[list(names_of(CORRECTION_TABLE))]
    kinds = {column.name: "str" if column.kind == "text" else "int64" for column in CORRECTION_TABLE}
    return table.astype(kinds).sort_values(["row", "column", "file", "line"], kind="stable", ignore_index=True)


def problem_notices(report: pd.DataFrame) -> list[str]:
    """Return a notice for each thing that is wrong with entries of a file, up to 20: how many, and in which lines."""
    what = report["problem"].fillna(report["standing"].map(_NOTED))
    wrong = report.assign(what=what.str.replace(_QUOTED, r'"\1…"', regex=True))[what.notna()]
    several = {_NOTED[standing]: text for standing, text in _NOTED_OF_SEVERAL.items()}
    notices = []
    told = wrong.drop_duplicates(["file", "what"]).groupby("file", sort=False).head(_MOST_NOTICES)
    is_told = pd.MultiIndex.from_frame(wrong[["file", "what"]]).isin(pd.MultiIndex.from_frame(told[["file", "what"]]))
    for (file, why), entries in wrong[is_told].groupby(["file", "what"], sort=False):
        lines = entries["line"].tolist()
        shown = ", ".join(map(str, lines[:_LINES_NAMED]))
        more = f" and {len(lines) - _LINES_NAMED:,} more" if len(lines) > _LINES_NAMED else ""
        where = f"line {shown}" if len(lines) == 1 else f"{len(lines):,} entries (lines {shown}{more})"
        said = str(why) if len(lines) == 1 else several.get(str(why), str(why))
        notices.append(f"{file}, {where}: {said}.")
    for file, count in wrong.loc[~is_told, "file"].value_counts(sort=False).items():
        one = "entry" if count == 1 else "entries"
        notices.append(f"{file!s}: {count:,} more {one} to correct; decisions_report.csv lists them.")
    return notices
