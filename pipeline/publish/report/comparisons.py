"""What the report says of crews, surfaces and months, and which differences hold."""

from typing import Any, Final

import pandas as pd

from pipeline.publish.report.first_page import district_name
from pipeline.publish.report.places import groups_of, rate_rows
from pipeline.publish.words import Words
from pipeline.results import RunResult

__all__ = ["people_and_records"]

# more groups than a page holds: those with the most cores, and every one that differs
_MOST_GROUPS: Final = 15
_TABLES: Final = {
    "crews": (("crew", "workmanship"), ("crew", "flagged")),
    "others": (("surface", "flagged"), ("month", "workmanship")),
}
_BY: Final = {
    "crew": "people.crew",
    "district": "report.district",
    "surface": "people.surface",
    "month": "people.month",
}


def people_and_records(result: RunResult, words: Words) -> dict[str, Any]:
    """Return what the templates of crews, surfaces and months show."""
    rates = result.audit.rates
    differ = rates[rates["differs"].isin(["more", "less"])]
    return {
        **{
            name: [table for by, measure in tables if (table := _table(result, by, measure, words))]
            for name, tables in _TABLES.items()
        },
        "differences": [
            words.say(
                "people.difference",
                by=words.say(_BY[one["by"]]),
                group=district_name(str(one["group"]), words),
                rate=words.percent(one["rate"]),
                measure=words.say(f"people.{one['measure']}"),
                others=words.percent(one["others_rate"]),
            )
            for one in differ.to_dict("records")
        ],
        "comparisons": int(rates["p"].notna().sum()),
        "surfaces": _surfaces(result, words),
    }


def _table(result: RunResult, by: str, measure: str, words: Words) -> dict[str, Any] | None:
    every = groups_of(result, by, measure)
    if every.empty:
        return None
    most = every["cores"].rank(method="first", ascending=False).le(_MOST_GROUPS)
    shown = every[most | every["differs"].isin(["more", "less"])]
    return {
        "name": f"{by}-{measure}",
        "head": words.say(f"people.{by}"),
        "found": words.say("report.flagged_n" if measure == "flagged" else "people.with_findings"),
        "caption": words.say(f"people.caption_{by}_{measure}"),
        "left": len(every) - len(shown),
        **rate_rows(shown, [words.own(name, 60) for name in shown["group"]], words),
    }


def _surfaces(result: RunResult, words: Words) -> list[dict[str, Any]]:
    counts = pd.crosstab(result.cores["surface"], result.cores["surface_from"])
    counts = counts.reindex(columns=["polygon", "segment", "register", "none"], fill_value=0)
    by_surface = {
        str(name): {str(key): int(count) for key, count in row.items()}
        for name, row in zip(counts.index, counts.to_dict("records"), strict=True)
    }
    return [
        {
            "surface": words.own(name),
            "cores": sum(by_surface[name].values()),
            "back": words.say("format.yes" if surface.reinstate else "format.no"),
            "shade": words.own(surface.shade),
            "bedding": words.own(surface.bedding),
            **by_surface[name],
        }
        for name, surface in result.catalogue.surfaces.items()
        if name in by_surface
    ]
