"""Shares by crew, surface and month, and the differences between groups that are beyond chance."""

from typing import Any, Final

import pandas as pd

from pipeline.publish.report.names import LONGEST_NAME, district_name
from pipeline.publish.report.shares import groups_of, share_rows
from pipeline.publish.words import Words
from pipeline.results import RunResult

__all__ = ["comparisons"]

# the groups with the most cores; one that differs is always shown as well
_MOST_GROUPS: Final = 15
_DIFFERENT: Final = ("more", "less")
# the tables of each section: grouping and measure
_CREW_TABLES: Final = (("crew", "workmanship"), ("crew", "flagged"))
_SURFACE_TABLES: Final = (("surface", "flagged"), ("month", "workmanship"))
_HEADS: Final = {
    "crew": "comparisons.crew",
    "district": "report.district",
    "surface": "comparisons.surface",
    "month": "comparisons.month",
}


def comparisons(result: RunResult, words: Words) -> dict[str, Any]:
    """Return the values for the template of crews, surfaces and months."""
    rates = result.audit.rates
    return {
        "crew_shares": _tables(result, _CREW_TABLES, words),
        "surface_shares": _tables(result, _SURFACE_TABLES, words),
        "differences": [
            words.say(
                "comparisons.difference",
                by=words.say(_HEADS[group["by"]]),
                group=district_name(str(group["group"]), words),
                rate=words.percent(group["rate"]),
                measure=words.say(f"comparisons.{group['measure']}"),
                others=words.percent(group["others_rate"]),
            )
            for group in rates[rates["differs"].isin(_DIFFERENT)].to_dict("records")
        ],
        "comparisons_made": int(rates["p"].notna().sum()),
        "surface_sources": _surface_sources(result, words),
    }


def _tables(result: RunResult, tables: tuple[tuple[str, str], ...], words: Words) -> list[dict[str, Any]]:
    """Return a table for each grouping and measure that has groups."""
    groups = [(by, measure, groups_of(result, by, measure)) for by, measure in tables]
    return [_table(by, measure, every, words) for by, measure, every in groups if len(every)]


def _table(by: str, measure: str, every: pd.DataFrame, words: Words) -> dict[str, Any]:
    largest = every["cores"].rank(method="first", ascending=False).le(_MOST_GROUPS)
    shown = every[largest | every["differs"].isin(_DIFFERENT)]
    return {
        "name": f"{by}-{measure}",
        "caption": words.say(f"comparisons.caption_{by}_{measure}"),
        "head": words.say(_HEADS[by]),
        "found": words.say("report.flagged_n" if measure == "flagged" else "comparisons.with_findings"),
        "left": len(every) - len(shown),
        **share_rows(shown, [words.own(name, LONGEST_NAME) for name in shown["group"]], words),
    }


def _surface_sources(result: RunResult, words: Words) -> list[dict[str, Any]]:
    """Return for each surface of the run where the cores' surface is from, and what a reinstatement takes there."""
    counts = pd.crosstab(result.counted_cores["surface"], result.counted_cores["surface_from"])
    counts = counts.reindex(columns=["polygon", "segment", "register", "none"], fill_value=0)
    by_surface = {
        str(name): {str(key): int(count) for key, count in row.items()}
        for name, row in zip(counts.index, counts.to_dict("records"), strict=True)
    }
    return [
        {
            "surface": words.own(name),
            "cores": sum(by_surface[name].values()),
            "suitable": words.say("format.yes" if surface.reinstate else "format.no"),
            "shade": words.own(surface.shade),
            "bedding": words.own(surface.bedding),
            **by_surface[name],
        }
        for name, surface in result.catalogue.surfaces.items()
        if name in by_surface
    ]
