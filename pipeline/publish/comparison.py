"""The outputs of a comparison: a table of changes, a workbook, a page."""

from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

import pandas as pd

from pipeline.errors import OutputError
from pipeline.publish.charts import stacked_bars
from pipeline.publish.folder import new_folder, same_but_for
from pipeline.publish.looks import STATUS_LOOKS
from pipeline.publish.page import render_page
from pipeline.publish.since import changes_shown, trend_shown
from pipeline.publish.tables import write_csv, write_workbook

if TYPE_CHECKING:
    from pipeline.compare import Comparison

__all__ = ["draw_comparison", "write_comparison"]

_NAMES: Final = ("changes.csv", "changes.xlsx", "compare.html")
_SHOWN: Final = 25
_BY_DISTRICT: Final = ("opened", "closed", "reopened", "newly flagged", "cleared", "vanished", "not comparable")


def write_comparison(comparison: "Comparison", place: Path, cautions: Sequence[str]) -> Path:
    """Write the outputs into a folder; all of them appear, or none.

    Parameters
    ----------
    comparison
        What was found.
    place
        The folder: new, empty, or one that holds an earlier comparison.
    cautions
        Sentences for the end of the page.

    Raises
    ------
    OutputError
        The folder lies within a run's, holds something else, or cannot be written.
    """
    _refuse(place)
    changes = comparison.changes
    title = f"{comparison.after.programme}, changes from {comparison.before.as_of} to {comparison.after.as_of}"
    doubts = pd.DataFrame({"before you read the counts": comparison.doubts}, dtype="str")
    sheets = {
        "Changes": changes.lines,
        "Counts": changes.kinds,
        "How they came about": changes.stock,
        "By rule": changes.rules,
        "By district": changes.districts,
        "Rows": pd.DataFrame({"rows": list(changes.account), "count": list(changes.account.values())}),
        "Trend": comparison.trend,
        "Read first": doubts,
    }
    with new_folder(place, lambda new, old: same_but_for("", new, old)) as folder:
        write_csv(changes.lines, folder / "changes.csv")
        write_workbook(sheets, title, comparison.after.as_of, folder / "changes.xlsx")
        page = draw_comparison(comparison, cautions)
        (folder / "compare.html").write_text(page, encoding="utf-8", newline="\n")
    return place


def _refuse(place: Path) -> None:
    """A run's folder is never changed, and nobody's own folder is taken over."""
    where = place.resolve()
    for folder in (where, *where.parents):
        if (folder / "run.json").is_file() and (folder / "cores.parquet").is_file():
            raise OutputError(
                f"{place}: lies in the folder of a run, which is kept as it is. Choose another folder with --out."
            )
    try:
        others = sorted(other.name for other in where.iterdir() if other.name not in _NAMES) if where.is_dir() else []
    except OSError as error:
        raise OutputError(f"{place}: cannot be read ({error.strerror}). Choose another folder with --out.") from error
    if others or (where.exists() and not where.is_dir()):
        found = f"holds {others[0]!r}" if others else "is a file"
        raise OutputError(
            f"{place}: {found}; a comparison goes into a folder of its own. Choose a new or empty one with --out."
        )


def draw_comparison(comparison: "Comparison", cautions: Sequence[str]) -> str:
    """Return the whole page; the same comparison gives the same text."""
    before, after, changes = comparison.before, comparison.after, comparison.changes
    counts = pd.DataFrame(
        [
            run.cores["status"].value_counts().reindex(list(STATUS_LOOKS), fill_value=0).to_dict()
            for run in (before, after)
        ],
        index=[f"As of {run.as_of.isoformat()}" for run in (before, after)],
    )
    return render_page(
        "compare.html",
        name=after.programme,
        since=changes_shown(before, after, changes, comparison.doubts),
        status_bars=stacked_bars(counts, "Cores by status, before and after"),
        kinds=[kind for kind in _BY_DISTRICT if changes.districts[kind].any()],
        groups=_groups(changes.lines, dict(zip(changes.kinds["change"], changes.kinds["meaning"], strict=True))),
        trend=trend_shown(comparison.records),
        notices=comparison.notices,
        runs=[
            {"as_of": run.as_of.isoformat(), "programme": run.programme, "sha256": run.register_sha256}
            for run in (before, after)
        ],
        cautions=cautions,
    )


def _groups(lines: pd.DataFrame, meanings: dict[str, str]) -> list[dict[str, Any]]:
    rows = {"row_before": lines["row_before"].astype("str"), "row_after": lines["row_after"].astype("str")}
    shown = lines.assign(**rows).fillna("")
    total = lines["change"].value_counts()
    return [
        {
            "change": kind,
            "meaning": meaning,
            "total": int(total[kind]),
            "rows": shown[shown["change"].eq(kind)].head(_SHOWN).to_dict("records"),
        }
        for kind, meaning in meanings.items()
        if kind in total
    ]
