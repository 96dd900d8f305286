"""Shares by group, each with its interval: districts, streets, ages; and the rows that other sections share."""

from itertools import pairwise
from math import ceil
from typing import Any, Final

import pandas as pd
from markupsafe import Markup

from pipeline.audit.rates import DAYS_OPEN, DAYS_SINCE, age_names
from pipeline.contracts import NO_DISTRICT
from pipeline.publish.looks import STATUS_LOOKS
from pipeline.publish.pages.charts import columns_chart, interval_bar, stacked_bars
from pipeline.publish.report.first_page import name_of_place
from pipeline.publish.words import Words, plain_text
from pipeline.results import RunResult

__all__ = ["groups_of", "places_and_ages", "rate_rows"]

_STATUSES: Final = tuple(STATUS_LOOKS)
# more than a page holds; the rest is in rates.csv
_MOST_DISTRICTS: Final = 40
_MOST_STREETS: Final = 15
_NOTES: Final = {"more": "report.more", "less": "report.less", "too few": "report.too_few"}
_LONGEST_BAR_NAME: Final = 44


def places_and_ages(result: RunResult, words: Words) -> dict[str, Any]:
    """Return what the templates of districts, streets and ages show."""
    return _districts(result, words) | _streets(result, words) | _ages(result, words)


def groups_of(result: RunResult, by: str, measure: str = "flagged") -> pd.DataFrame:
    """Return the rows of ``rates.csv`` for one grouping and measure."""
    rates = result.audit.rates
    return rates[rates["by"].eq(by) & rates["measure"].eq(measure)]


def rate_rows(groups: pd.DataFrame, names: list[Any], words: Words) -> dict[str, Any]:
    """Return rows of a table of shares.

    Parameters
    ----------
    groups
        N rows of ``rates.csv``.
    names
        N names, ready to be shown.
    words
        The language.
    """
    # a round share at the right end of every bar of the table; a group too small to tell has no bar
    enough = groups.loc[groups["differs"].ne("too few"), "high"]
    most = min(ceil(10 * max(enough.max(), 0.1)) / 10, 1.0) if len(enough) else 1.0
    return {
        "most": words.percent(most),
        "rows": [
            {
                "name": name,
                "cores": words.number(one["cores"]),
                "found": words.number(one["with_findings"]),
                "share": words.percent(one["rate"], 1),
                "interval": shown_interval(one["low"], one["high"], words),
                "bar": ""
                if one["differs"] == "too few"
                else interval_bar(
                    one["low"], one["rate"], one["high"], most, is_filled=one["differs"] in {"more", "less"}
                ),
                "note": words.say(_NOTES[one["differs"]]) if one["differs"] in _NOTES else "",
            }
            for name, one in zip(names, groups.to_dict("records"), strict=True)
        ],
    }


def shown_interval(low: float, high: float, words: Words) -> Markup:
    """Return the ends of an interval on a share."""
    return words.say("format.range", low=words.percent(low, 1), high=words.percent(high, 1))


def _districts(result: RunResult, words: Words) -> dict[str, Any]:
    district = result.cores["district"].fillna(NO_DISTRICT)
    counts = pd.crosstab(district, result.cores["status"]).reindex(columns=list(_STATUSES), fill_value=0)
    largest = counts.loc[counts.sum(axis="columns").sort_values(ascending=False, kind="stable").index]
    shown = largest.head(_MOST_DISTRICTS).sort_index()
    bars = shown.set_axis([_bar_name(str(name), words) for name in shown.index])
    rates = groups_of(result, "district").set_index("group", drop=False).reindex(shown.index).dropna(subset=["group"])
    return {
        "district_bars": stacked_bars(bars, "districts", words.plainly("chart.districts"), words),
        "districts": rate_rows(rates, [words.own(name, 60) for name in rates["group"]], words),
        "districts_left": len(counts) - len(shown),
    }


def _bar_name(name: str, words: Words) -> str:
    return words.plainly("format.no_district") if name == NO_DISTRICT else plain_text(name, _LONGEST_BAR_NAME)


def _streets(result: RunResult, words: Words) -> dict[str, Any]:
    every = groups_of(result, "street")
    order = every.sort_values(["with_findings", "cores", "group"], ascending=[False, False, True], kind="stable")
    shown = order.head(_MOST_STREETS)
    return {
        "streets": rate_rows(shown, [name_of_place(name, "format.no_street", words) for name in shown["group"]], words),
        "streets_left": len(every) - len(shown),
        "streetless": int(result.cores["street_matched"].isna().sum()),
    }


def _ages(result: RunResult, words: Words) -> dict[str, Any]:
    open_cores = groups_of(result, "days open")
    back = groups_of(result, "days since reinstatement", "workmanship")
    is_open = result.cores["is_open"]
    values: dict[str, Any] = {"undated": int((is_open & result.cores["opened_on"].isna()).sum())}
    for name, groups, ends, look in (
        ("open", open_cores, DAYS_OPEN, "pending"),
        ("since", back, DAYS_SINCE, "reinstated"),
    ):
        labels = dict(zip(age_names(ends), _labels(ends, words), strict=True))
        rows = groups.set_index("group", drop=False).reindex([key for key in labels if key in set(groups["group"])])
        cores = rows["cores"].reindex(list(labels), fill_value=0).set_axis(list(labels.values()))
        title = words.plainly(f"chart.{name}")
        fill = STATUS_LOOKS[look].fill
        values[f"age_{name}"] = {
            "chart": columns_chart(cores, f"age-{name}", title, fill, words) if len(rows) else None,
            **rate_rows(rows, [labels[str(group)] for group in rows["group"]], words),
        }
    return values


def _labels(ends: tuple[int, ...], words: Words) -> list[str]:
    ranges = [words.plainly("age.range", low=low + 1, high=high) for low, high in pairwise((-1, *ends))]
    return [*ranges, words.plainly("age.over", n=ends[-1] + 1)]
