"""Groups compared on workmanship and rule by rule, which differences hold, and where surfaces come from."""

from typing import Any, Final

import pandas as pd

from pipeline.audit.comparison import COMPARED, WORKMANSHIP
from pipeline.publish.pages.charts import interval_bar
from pipeline.publish.report.names import LONGEST_NAME
from pipeline.publish.report.shares import groups_of, interval, note_of, scale_of
from pipeline.publish.words import Words
from pipeline.results import RunResult

__all__ = ["comparisons"]

# the groups with the most cores; one that differs is always shown as well
_MOST_GROUPS: Final = 15
_MOST_SENTENCES: Final = 20
_DIFFERENT: Final = ("more", "less")
_DISPUTED: Final = ("raw only", "adjusted only")
# the groupings of each section
_WHO: Final = ("contractor", "crew")
_WHERE_AND_WHEN: Final = ("district", "surface", "month")
_HEADS: Final = {
    "contractor": "comparisons.contractor",
    "crew": "comparisons.crew",
    "district": "report.district",
    "surface": "comparisons.surface",
    "month": "comparisons.month",
}


def comparisons(result: RunResult, words: Words) -> dict[str, Any]:
    """Return the values for the template of contractors, crews, districts, surfaces and months."""
    rates = result.audit.rates
    compared = rates[rates["by"].isin(COMPARED)]
    held, disputed = (compared[compared["differs"].isin(kinds)] for kinds in (_DIFFERENT, _DISPUTED))
    return {
        "crew_shares": _tables(result, _WHO, words),
        "surface_shares": _tables(result, _WHERE_AND_WHEN, words),
        "differences": _differences(held, _WHO, words),
        "other_differences": _differences(held, _WHERE_AND_WHEN, words),
        "disputed": [_disputed(row, words) for row in disputed.head(_MOST_SENTENCES).to_dict("records")],
        "disputed_left": max(len(disputed) - _MOST_SENTENCES, 0),
        "unrecorded": _unrecorded(compared, words),
        "comparisons_made": int(rates["p"].notna().sum()),
        "surface_sources": _surface_sources(result, words),
    }


def _tables(result: RunResult, groupings: tuple[str, ...], words: Words) -> list[dict[str, Any]]:
    """Return a table of workmanship for each grouping that has groups."""
    groups = [(by, groups_of(result, by, WORKMANSHIP)) for by in groupings]
    lacking = result.audit.rates.query("differs == 'not recorded'")
    return [
        _table(by, every.assign(records_less=every["group"].isin(lacking.loc[lacking["by"].eq(by), "group"])), words)
        for by, every in groups
        if len(every)
    ]


def _table(by: str, every: pd.DataFrame, words: Words) -> dict[str, Any]:
    largest = every["cores"].rank(method="first", ascending=False).le(_MOST_GROUPS)
    shown = every[largest | every["differs"].isin(_DIFFERENT)]
    scale_end = scale_of(shown)
    return {
        "name": f"{by}-workmanship",
        "caption": words.say(f"comparisons.caption_{by}"),
        "head": words.say(_HEADS[by]),
        "left": len(every) - len(shown),
        "most": words.percent(scale_end),
        "rows": [_row(row, scale_end, words) for row in shown.to_dict("records")],
    }


def _row(row: dict[Any, Any], scale_end: float, words: Words) -> dict[str, Any]:
    """Return one group of a table: raw and adjusted side by side."""
    low, rate, high, differs = row["low"], row["rate"], row["high"], row["differs"]
    is_recorded = row["checks"] > 0
    # findings of other rules: side by side on one scale they would be read as better work
    has_bar = is_recorded and differs not in {"too few", "no others"} and not row["records_less"]
    return {
        "name": words.own(row["group"], LONGEST_NAME),
        "cores": words.number(row["cores"]),
        "checks": words.number(row["checks"]),
        "found": words.number(row["with_findings"]),
        "share": _percent(rate, words),
        "interval": interval(low, high, words) if is_recorded else "",
        "others": _percent(row["others_rate"], words),
        "alike": _percent(row["alike_rate"], words),
        "effect": words.measure(round(row["design_effect"], 2)) if is_recorded else "",
        "bar": interval_bar(low, rate, high, scale_end, is_filled=differs in _DIFFERENT) if has_bar else "",
        "note": note_of(differs, words)
        or (words.say("comparisons.records_less") if is_recorded and row["records_less"] else ""),
    }


def _percent(share: float, words: Words) -> str:
    return words.percent(share, 1) if pd.notna(share) else ""


def _differences(held: pd.DataFrame, groupings: tuple[str, ...], words: Words) -> list[Any]:
    return [_difference(row, words) for row in held[held["by"].isin(groupings)].to_dict("records")]


def _difference(row: dict[Any, Any], words: Words) -> Any:  # noqa: ANN401 - markup or text, as the words have it
    return words.say(f"comparisons.{row['differs']}", **_named(row, words))


def _disputed(row: dict[Any, Any], words: Words) -> Any:  # noqa: ANN401 - as above
    kind = {"raw only": "raw_only", "adjusted only": "adjusted_only"}[row["differs"]]
    if row["adjusted_by"] == "none":
        kind = "not_adjustable"
    return words.say(f"comparisons.{kind}", **_named(row, words))


def _named(row: dict[Any, Any], words: Words) -> dict[str, Any]:
    """Return what a sentence about a difference names."""
    measure = row["measure"]
    return {
        "by": words.say(_HEADS[row["by"]]),
        "group": words.own(row["group"], LONGEST_NAME),
        "measure": words.say("comparisons.workmanship") if measure == WORKMANSHIP else words.rule_label(measure),
        "rate": _percent(row["rate"], words),
        "others": _percent(row["others_rate"], words),
        "alike": _percent(row["alike_rate"], words) or words.say("format.unknown"),
    }


def _unrecorded(compared: pd.DataFrame, words: Words) -> list[dict[str, Any]]:
    """Return for each contractor and crew the rules by which it cannot be compared, because it does not record."""
    missing = compared[compared["differs"].eq("not recorded") & compared["by"].isin(_WHO)]
    return [
        {"by": words.say(_HEADS[str(by)]), "group": words.own(group, LONGEST_NAME), "rules": rows["measure"].tolist()}
        for (by, group), rows in missing.groupby(["by", "group"], sort=True)
    ]


def _surface_sources(result: RunResult, words: Words) -> list[dict[str, Any]]:
    """Return for each surface of the run where the cores' surface is from, and what a reinstatement takes there."""
    counts = pd.crosstab(result.counted("surface"), result.counted("surface_from"))
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
