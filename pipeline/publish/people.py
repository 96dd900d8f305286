"""What the report says of people and places, and of what the records lack."""

from typing import TYPE_CHECKING, Any, Final

import pandas as pd

from pipeline.publish.charts import intervals

if TYPE_CHECKING:
    from pipeline.run import RunResult

__all__ = ["people_and_records"]

_MOST_INPUTS: Final = 12
_MEASURES: Final = {
    "flagged": "flagged, of all cores",
    "workmanship": "findings on placement, timing or shade, of the cores that are back",
}
_SHOWN_AS: Final = {"more": "more", "less": "fewer", "not shown": "", "too few": "too few to tell"}
# more groups than a page holds: those with the most cores, and every one that differs
_MOST_GROUPS: Final = 12


def people_and_records(result: "RunResult") -> dict[str, Any]:
    """Return what the template shows: rates by crew, district, surface and month, and the inputs that are lacking."""
    rates, evidence = result.audit.rates, result.audit.evidence
    sections = []
    for by in ("crew", "district", "surface", "month"):
        for measure, words in _MEASURES.items():
            every = rates[rates["by"].eq(by) & rates["measure"].eq(measure)]
            if every.empty:
                continue
            most = every["cores"].rank(method="first", ascending=False).le(_MOST_GROUPS)
            shown = every[most | every["differs"].isin(["more", "less"])]
            sections.append(
                {
                    "title": f"By {by}: {words}",
                    "chart": intervals(shown.set_index("group"), f"Share by {by}: {words}"),
                    "rows": [_row(one) for one in shown.to_dict("records")],
                    "left_out": len(every) - len(shown),
                }
            )
    differ = rates[rates["differs"].isin(["more", "less"])]
    useful = evidence[evidence["cores"].gt(0)]
    return {
        "rate_sections": sections,
        "differences": [
            f"{one['by']} {one['group']}: {one['rate']:.0%} {_MEASURES[one['measure']]}; "
            f"elsewhere {one['others_rate']:.0%}"
            for one in differ.to_dict("records")
        ],
        "comparisons": int(rates["p"].notna().sum()),
        "evidence": useful.head(_MOST_INPUTS).to_dict("records"),
        "evidence_more": max(len(useful) - _MOST_INPUTS, 0),
    }


def _row(one: dict[Any, Any]) -> dict[str, str]:
    return {
        "group": one["group"],
        "cores": f"{one['cores']:,}",
        "found": f"{one['with_findings']:,}",
        "rate": f"{one['rate']:.1%}",
        "interval": f"{one['low']:.1%} to {one['high']:.1%}",
        "others": "" if pd.isna(one["others_rate"]) else f"{one['others_rate']:.1%}",
        "differs": _SHOWN_AS[one["differs"]],
    }
