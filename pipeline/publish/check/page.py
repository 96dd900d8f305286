"""The page of a check: one HTML file without scripts that fetches nothing."""

from pathlib import Path

import pandas as pd

from pipeline.publish.check.shown import check_shown
from pipeline.publish.check.voice import for_page, for_text
from pipeline.publish.folder import folder_name, lay_files
from pipeline.publish.looks import DISTRICT_LINE
from pipeline.publish.pages.charts import columns_chart
from pipeline.publish.pages.page import render_page
from pipeline.publish.words import Words, words_of
from pipeline.results import Checked

__all__ = ["draw_check", "write_check"]


def write_check(checked: Checked, out: Path) -> Path:
    """Write the page to ``<programme>/check.html`` in a folder, and return its path.

    Raises
    ------
    OutputError
        It cannot be written there.
    """
    folder = out / folder_name(checked.settings.programme.name)
    with lay_files(folder) as draft:
        (draft / "check.html").write_text(draw_check(checked), encoding="utf-8", newline="\n")
    return folder / "check.html"


def draw_check(checked: Checked, words: Words | None = None) -> str:
    """Return the page; the same inputs give the same text. ``words``: a language instead of the programme's."""
    words = words or words_of(checked.settings.programme.language)
    shown = check_shown(checked, for_page(words))
    plain = check_shown(checked, for_text(words))["registers"]
    for number, (register, as_text) in enumerate(zip(shown["registers"], plain, strict=True)):
        counts = as_text["distances"]
        register["chart"] = (
            None
            if counts is None
            else columns_chart(
                pd.Series(counts), f"distances-{number}", words.plainly("check.chart"), DISTRICT_LINE, words
            )
        )
    return render_page(
        "check.html", words, name=checked.settings.programme.name, as_of=checked.as_of.isoformat(), **shown
    )
