"""Flagged shares by district, street and age, each with its exact interval."""

from itertools import pairwise
from typing import Any, Final

import pandas as pd

from pipeline.audit.comparison import DAYS_OPEN, DAYS_SINCE, WORK_FINDINGS, age_names
from pipeline.contracts import NO_DISTRICT
from pipeline.publish.looks import STATUS_LOOKS
from pipeline.publish.pages.charts import columns_chart, stacked_bars
from pipeline.publish.report.names import LONGEST_NAME, district_in_chart, place_name
from pipeline.publish.report.shares import groups_of, share_rows
from pipeline.publish.words import Words
from pipeline.results import RunResult

__all__ = ["districts_shown", "places_and_ages", "streets_shown"]

_STATUSES: Final = tuple(STATUS_LOOKS)
# more than this is in rates.csv
_MOST_DISTRICTS: Final = 40
_MOST_STREETS: Final = 15
_LONGEST_BAR_NAME: Final = 44


def places_and_ages(result: RunResult, words: Words) -> dict[str, Any]:
    """Return the values for the template of districts, streets and ages."""
    return _districts(result, words) | _streets(result, words) | _ages(result, words)


def _districts(result: RunResult, words: Words) -> dict[str, Any]:
    """Return a bar per district, the largest districts if there are too many, and their flagged shares."""
    counts = _largest_first(result)
    shown = counts.head(_MOST_DISTRICTS).sort_index()
    bars = shown.set_axis([district_in_chart(str(name), _LONGEST_BAR_NAME, words) for name in shown.index])
    rates = groups_of(result, "district").set_index("group", drop=False).reindex(shown.index).dropna(subset=["group"])
    return {
        "district_bars": stacked_bars(bars, "districts", words.plainly("chart.districts"), words),
        "districts": share_rows(rates, [words.own(name, LONGEST_NAME) for name in rates["group"]], words, "district"),
        "districts_left": len(counts) - len(shown),
    }


def _largest_first(result: RunResult) -> pd.DataFrame:
    """Return how many cores of each district have each status, the largest districts first."""
    district = result.counted("district").fillna(NO_DISTRICT)
    counts = pd.crosstab(district, result.counted("status")).reindex(columns=list(_STATUSES), fill_value=0)
    return counts.loc[counts.sum(axis="columns").sort_values(ascending=False, kind="stable").index]


def districts_shown(result: RunResult) -> list[str]:
    """Return the names of the districts that have a row in the report."""
    with_rates = set(groups_of(result, "district")["group"])
    return [str(name) for name in _largest_first(result).head(_MOST_DISTRICTS).sort_index().index if name in with_rates]


def _streets(result: RunResult, words: Words) -> dict[str, Any]:
    """Return the streets with the most flagged cores."""
    every = groups_of(result, "street")
    shown = _most_flagged(every)
    return {
        "streets": share_rows(
            shown, [place_name(name, "format.no_street", words) for name in shown["group"]], words, "street"
        ),
        "streets_left": len(every) - len(shown),
        "streetless": int(result.counted("street_matched").isna().sum()),
    }


def streets_shown(result: RunResult) -> list[str]:
    """Return the names of the streets that have a row in the report."""
    names = _most_flagged(groups_of(result, "street"))["group"]
    return [str(name) for name in names if name]


def _most_flagged(streets: pd.DataFrame) -> pd.DataFrame:
    order = streets.sort_values(["with_findings", "cores", "group"], ascending=[False, False, True], kind="stable")
    return order.head(_MOST_STREETS)


def _ages(result: RunResult, words: Words) -> dict[str, Any]:
    """Return a chart and the shares for each range of days open, and of days since reinstatement."""
    days_open = groups_of(result, "days open")
    days_reinstated = groups_of(result, "days since reinstatement", WORK_FINDINGS)
    undated = result.counted("is_open") & result.counted("opened_on").isna()
    return {
        "undated": int(undated.sum()),
        "age_open": _age_table(days_open, DAYS_OPEN, "days_open", "pending", words),
        "age_reinstated": _age_table(days_reinstated, DAYS_SINCE, "days_reinstated", "reinstated", words),
    }


def _age_table(groups: pd.DataFrame, ends: tuple[int, ...], name: str, look: str, words: Words) -> dict[str, Any]:
    """Return the chart and the rows for the age ranges that end at ``ends`` days.

    Parameters
    ----------
    groups
        Rows of ``rates.csv``, one per range that holds cores.
    ends
        Last day of each range but the open-ended last one.
    name
        Key of the chart's title.
    look
        Status whose colour the columns take.
    words
        The language.
    """
    labels = dict(zip(age_names(ends), _range_labels(ends, words), strict=True))
    rows = groups.set_index("group", drop=False).reindex([key for key in labels if key in set(groups["group"])])
    cores = rows["cores"].reindex(list(labels), fill_value=0).set_axis(list(labels.values()))
    title, colour = words.plainly(f"chart.{name}"), STATUS_LOOKS[look].fill
    return {
        "chart": columns_chart(cores, name.replace("_", "-"), title, colour, words) if len(rows) else None,
        **share_rows(rows, [labels[str(group)] for group in rows["group"]], words),
    }


def _range_labels(ends: tuple[int, ...], words: Words) -> list[str]:
    """Return "0–7", "8–14" and so on, and "181+" for the open-ended range."""
    ranges = [words.plainly("age.range", low=low + 1, high=high) for low, high in pairwise((-1, *ends))]
    return [*ranges, words.plainly("age.over", n=ends[-1] + 1)]
