"""Rows of the report's tables of shares: a group's cores, how many have findings, the share and its interval."""

from math import ceil
from typing import Any, Final

import pandas as pd
from markupsafe import Markup

from pipeline.contracts import NO_DISTRICT
from pipeline.publish.pages.charts import interval_bar
from pipeline.publish.report.names import anchor, on_map
from pipeline.publish.words import Words
from pipeline.results import RunResult

__all__ = ["groups_of", "interval", "note_of", "scale_of", "share_rows"]

_NOTES: Final = {
    "more": "report.more",
    "less": "report.less",
    "too few": "report.too_few",
    "not recorded": "report.not_recorded",
    "no others": "report.no_others",
    "raw only": "report.raw_only",
    "adjusted only": "report.adjusted_only",
}


def groups_of(result: RunResult, by: str, measure: str = "flagged") -> pd.DataFrame:
    """Return the rows of ``rates.csv`` for one grouping and measure."""
    rates = result.audit.rates
    return rates[rates["by"].eq(by) & rates["measure"].eq(measure)]


def share_rows(groups: pd.DataFrame, names: list[Any], words: Words, question: str | None = None) -> dict[str, Any]:
    """Return the rows of a table of shares, and the share at the right end of its bars.

    Parameters
    ----------
    groups
        N rows of ``rates.csv``.
    names
        N names, ready to be shown.
    words
        The language.
    question
        Question of the map's filter that the groups answer: the numbers then open the map. None for none.
    """
    scale_end = scale_of(groups)
    rows = [
        _share_row(name, group, scale_end, words) | _linked(group, question, words)
        for name, group in zip(names, groups.to_dict("records"), strict=True)
    ]
    return {"most": words.percent(scale_end), "rows": rows}


def _linked(group: dict[Any, Any], question: str | None, words: Words) -> dict[str, Any]:
    """Return the numbers of a group as links to the map, and its anchor."""
    if question is None:
        return {}
    wanted = {question: None if group["group"] in {NO_DISTRICT, ""} else group["group"]}
    return {
        "anchor": anchor(question, str(group["group"])),
        "cores": on_map(words.number(group["cores"]), **wanted),
        "found": on_map(words.number(group["with_findings"]), **wanted, status="flagged"),
    }


def scale_of(groups: pd.DataFrame) -> float:
    """Return the share at the right end of the bars of N rows of ``rates.csv``."""
    # a group too small to tell has no bar, and does not stretch the scale of the others
    ends = groups.loc[~groups["differs"].isin(["too few", "not recorded", "no others"]), "high"]
    return min(ceil(10 * max(ends.max(), 0.1)) / 10, 1.0) if len(ends) else 1.0


def note_of(differs: str, words: Words) -> Markup | str:
    """Return the note beside a group that differs, or that cannot be compared."""
    return words.say(_NOTES[differs]) if differs in _NOTES else ""


def _share_row(name: object, group: dict[Any, Any], scale_end: float, words: Words) -> dict[str, Any]:
    low, rate, high, differs = group["low"], group["rate"], group["high"], group["differs"]
    has_bar, is_filled = differs != "too few", differs in {"more", "less"}
    return {
        "name": name,
        "cores": words.number(group["cores"]),
        "found": words.number(group["with_findings"]),
        "share": words.percent(rate, 1),
        "interval": interval(low, high, words),
        "bar": interval_bar(low, rate, high, scale_end, is_filled=is_filled) if has_bar else "",
        "note": note_of(differs, words),
    }


def interval(low: float, high: float, words: Words) -> Markup:
    """Return the two ends of an interval on a share."""
    return words.say("format.range", low=words.percent(low, 1), high=words.percent(high, 1))
