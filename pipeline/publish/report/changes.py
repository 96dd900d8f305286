"""Changes since the last run, and the trend over all runs kept, as values for the pages."""

from collections.abc import Iterable, Mapping
from typing import Any, Final

import pandas as pd
from markupsafe import Markup

from pipeline.contracts import SEVERITIES
from pipeline.history import MOVED_M, Changes, trend
from pipeline.publish.looks import STATUS_LOOKS
from pipeline.publish.pages.trends import trend_chart
from pipeline.publish.report.names import core_name, on_map, place_name
from pipeline.publish.since import Since, changed_cores
from pipeline.publish.words import Words
from pipeline.readback.runs import Run
from pipeline.results import RunResult

__all__ = ["change_words", "changes_shown", "since_last_run", "trend_shown"]

_SHOWN: Final = 10
_RUNS_SHOWN: Final = 24
# what a manager asks first
_FIRST: Final = ("newly flagged", "cleared", "opened", "closed", "reopened", "removed", "not comparable")


def since_last_run(result: RunResult, words: Words, since: Since | None) -> dict[str, Any]:
    """Return the values for the section on changes: ``since`` and ``trend``, None where no earlier run is kept."""
    if since is None:
        return {"since": None, "trend": None}
    shown = changes_shown(since.before, since.this, since.changes, since.caveats, words)
    # cores that are no longer in the register are not on the map
    kinds = [
        kind | {"cores": on_map(kind["cores"], changed=kind["kind"])}
        if kind["kind"] in set(_changes_on_map(since))
        else kind
        for kind in shown["kinds"]
    ]
    return {
        "since": shown
        | {"kinds": kinds, "flagged": [row | {"core": core_name(row["core_id"], words)} for row in shown["flagged"]]},
        "trend": trend_shown([*result.earlier.records, since.this.record], words),
    }


def _changes_on_map(since: Since) -> pd.Series:
    """Return the kinds of change of which the map has every core."""
    every, here = since.changes.lines["change"].value_counts(), changed_cores(since.changes)["change"].value_counts()
    return every.index[every.eq(here.reindex(every.index))].to_series()


def change_words(kind: str, words: Words) -> dict[str, Any]:
    """Return the name of a kind of change and its meaning."""
    return {"change": words.say(f"change.{_key(kind)}"), "meaning": change_meaning(kind, words)}


def change_meaning(kind: str, words: Words) -> str:
    """Return what a kind of change means."""
    return words.plainly(f"change_means.{_key(kind)}", moved=words.measure(MOVED_M))


def _key(kind: str) -> str:
    return kind.replace(" ", "_")


def changes_shown(before: Run, after: Run, changes: Changes, reasons: list[str], words: Words) -> dict[str, Any]:
    """Return the changes as values for a template.

    Parameters
    ----------
    before, after
        The two runs.
    changes
        What differs between them.
    reasons
        Why part of the difference may not come from the road, in sentences.
    words
        The language.
    """
    lines = changes.lines
    flagged = lines[lines["change"].eq("newly flagged")]
    kinds = changes.kinds[changes.kinds["cores"].gt(0)]
    counted = dict(zip(kinds["change"], kinds["cores"], strict=True))
    return {
        "before": before.as_of,
        "after": after.as_of,
        "caveats": [words.own(reason) for reason in reasons],
        "account": changes.account,
        "first": [
            words.say("chart.value", n=int(counted[kind]), name=change_words(kind, words)["change"])
            for kind in _FIRST
            if kind in counted
        ],
        "others": int(sum(cores for kind, cores in counted.items() if kind not in _FIRST)),
        "kinds": [
            change_words(str(kind), words) | {"kind": kind, "cores": words.number(cores)}
            for kind, cores in counted.items()
        ],
        "rules": changes.rules.to_dict("records"),
        "stock": changes.stock.to_dict("records"),
        "flagged": _newly_flagged(flagged.head(_SHOWN), after.findings, words),
        "flagged_total": len(flagged),
        "flagged_from_the_start": int(changes.stock.loc[changes.stock["cores"].eq("flagged"), "added"].sum()),
    }


def _newly_flagged(lines: pd.DataFrame, findings: pd.DataFrame, words: Words) -> list[dict[str, Any]]:
    rows = lines["row_after"].astype("str")
    fails = findings[findings["severity"].eq("fail") & findings["row"].isin(rows)]
    why = fails.groupby("row")["message"].agg(lambda sentences: " ".join(sentences.fillna("")))
    return [
        {
            "row": int(one["row_after"]),
            "core_id": one["core_id"],
            "core": place_name(one["core_id"], "format.no_id", words),
            "district": place_name(one["district"], "format.no_district", words),
            "street": place_name(one["street"], "format.no_street", words),
            "why": words.own(why.get(row, "")),
        }
        for row, one in zip(rows, lines.to_dict("records"), strict=True)
    ]


def trend_shown(records: Iterable[Mapping[str, Any]], words: Words) -> dict[str, Any]:
    """Return the trend as values for a template; there are no charts for a single run."""
    runs = trend(records)
    return {
        "charts": _trend_charts(runs.set_index("as_of"), words) if len(runs) > 1 else [],
        "runs": len(runs),
        "rows": [
            one
            | {
                "bags": words.say("since.not_recorded")
                if pd.isna(one["bags_needed"])
                else words.number(one["bags_needed"], 1)
            }
            for one in runs.tail(_RUNS_SHOWN).to_dict("records")
        ],
    }


def _trend_charts(runs: pd.DataFrame, words: Words) -> list[Markup]:
    """Return a chart per measure that was recorded, each with its own scale."""
    named = (
        {status: f"status.{status}" for status in STATUS_LOOKS}
        | {severity: f"since.trend_{severity}" for severity in SEVERITIES}
        | {"cores": "report.cores", "unplaced": "since.unplaced", "bags_needed": "since.bags"}
    )
    drawn = [
        trend_chart(
            runs[measure], f"trend-{measure}", words.plainly(key), words, measure if measure in STATUS_LOOKS else None
        )
        for measure, key in named.items()
    ]
    return [chart for chart in drawn if chart is not None]
