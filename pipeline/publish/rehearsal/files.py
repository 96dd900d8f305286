"""The outputs of a rehearsal: a page and two tables, in a folder of their own."""

from itertools import groupby
from pathlib import Path
from typing import Final

from pipeline.errors import OutputError
from pipeline.publish.folder import lay_files
from pipeline.publish.pages.page import render_page
from pipeline.publish.rehearsal.chart import share_bar, size_chart
from pipeline.publish.rehearsal.shown import kind_rows, other_rules, size_rows, verdict, what_raises, without_faults
from pipeline.publish.tables import rounded, write_csv
from pipeline.publish.words import Words, words_of
from pipeline.readback.cores_table import holds_run
from pipeline.rehearse.result import Rehearsal

__all__ = ["draw_rehearsal", "publish_rehearsal", "refuse_folder"]

_NAMES: Final = ("rehearsal.csv", "rehearsal.html", "rehearsal_faults.csv")


def refuse_folder(out: Path) -> None:
    """Refuse a run's folder, which never changes, and a folder with other files.

    Raises
    ------
    OutputError
        The folder is one of these.
    """
    resolved = out.resolve()
    for folder in (resolved, *resolved.parents):
        if holds_run(folder):
            raise OutputError(
                f"{out}: is in a run's folder, which must stay unchanged. Choose another folder with --out."
            )
    try:
        others = sorted({file.name for file in resolved.iterdir()} - {*_NAMES}) if resolved.is_dir() else []
    except OSError as error:
        raise OutputError(f"{out}: cannot be read ({error.strerror}). Choose another folder with --out.") from error
    if others or (resolved.exists() and not resolved.is_dir()):
        found = f"contains {others[0]!r}" if others else "is a file"
        raise OutputError(
            f"{out}: {found}; a rehearsal needs a folder of its own. Choose a new or empty one with --out."
        )


def publish_rehearsal(found: Rehearsal, out: Path) -> Path:
    """Write ``rehearsal.csv``, ``rehearsal_faults.csv`` and ``rehearsal.html``, and return their folder.

    Raises
    ------
    OutputError
        The folder holds something else, or cannot be written to.
    """
    refuse_folder(out)
    with lay_files(out) as draft:
        write_csv(rounded(found.kinds.drop(columns="has_size")), draft / "rehearsal.csv")
        first = ["audit", "row", "core_id", "kind"]
        write_csv(rounded(found.faults[[*first, *found.faults.columns.drop(first)]]), draft / "rehearsal_faults.csv")
        (draft / "rehearsal.html").write_text(draw_rehearsal(found), encoding="utf-8", newline="\n")
    return out


def draw_rehearsal(found: Rehearsal, words: Words | None = None) -> str:
    """Return the page; the same rehearsal gives the same text. ``words``: a language instead of the programme's."""
    words = words or words_of(found.settings.programme.language)
    sizes, kinds = size_rows(found, words), kind_rows(found, words)
    return render_page(
        "rehearsal.html",
        words,
        name=found.settings.programme.name,
        under=words.say(
            "rehearse.under", n=found.audits, rows=found.rows, day=words.date(found.as_of), seed=str(found.seed)
        ),
        verdict=verdict(found, words),
        sizes=sizes,
        chart=size_chart(sizes, words) if sizes else None,
        raises=what_raises(found, words),
        groups=[
            {
                "name": name,
                "rows": [
                    {"kind": row, "bar": share_bar(row.low, row.rate, row.high, is_filled=bool(row.rules))}
                    for row in rows
                ],
            }
            for name, rows in groupby(kinds, key=lambda row: row.group)
        ],
        lacking=without_faults(found, words),
        without=other_rules(words),
    )
