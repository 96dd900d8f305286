"""What changed since the last run, and the trend, as the pages show them."""

import json
from collections.abc import Iterable, Mapping
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

import pandas as pd

from pipeline.history import Changes, Side, compare, doubts, trend
from pipeline.intake.runs import Run, register_text
from pipeline.publish.charts import over_time
from pipeline.publish.looks import STATUS_LOOKS
from pipeline.publish.record import as_json, record

if TYPE_CHECKING:
    from pipeline.run import RunResult

__all__ = ["changes_between", "changes_shown", "since_last_run", "trend_shown"]

_SHOWN: Final = 10
_RUNS_SHOWN: Final = 24


def since_last_run(result: "RunResult") -> dict[str, Any]:
    """Return what the report's first section needs: ``since`` and ``trend``, None where no earlier run is kept."""
    earlier = result.earlier
    if earlier.run is None:
        return {"since": None, "trend": None}
    told = json.loads(as_json(record(result, [], "", "")))
    this = Run(Path(), told, result.table, result.audit.findings.astype("str"))
    changes = changes_between(earlier.run, this)
    said = doubts(earlier.run.record, told, changes)
    return {"since": changes_shown(earlier.run, this, changes, said), "trend": trend_shown([*earlier.records, told])}


def changes_between(before: Run, after: Run) -> Changes:
    """Compare two runs as they were read."""
    sides = [Side(run.cores, run.findings, register_text(run, "reinstated_at")) for run in (before, after)]
    return compare(*sides)


def changes_shown(before: Run, after: Run, changes: Changes, said: list[str]) -> dict[str, Any]:
    """Return the changes as values for a template.

    Parameters
    ----------
    before, after
        The two runs.
    changes
        What differs between them.
    said
        What else than the road may have made the difference, in sentences.
    """
    lines = changes.lines
    flagged = lines[lines["change"].eq("newly flagged")]
    kinds = changes.kinds[changes.kinds["cores"].gt(0)]
    return {
        "before": before.as_of.isoformat(),
        "after": after.as_of.isoformat(),
        "doubts": said,
        "account": changes.account,
        "kinds": kinds.to_dict("records"),
        "rules": changes.rules.to_dict("records"),
        "stock": changes.stock.to_dict("records"),
        "flagged": _with_reasons(flagged.head(_SHOWN), after.findings),
        "flagged_total": len(flagged),
        "flagged_from_the_start": int(changes.stock.loc[changes.stock["cores"].eq("flagged"), "new"].sum()),
        "districts": changes.districts.to_dict("records"),
    }


def _with_reasons(lines: pd.DataFrame, findings: pd.DataFrame) -> list[dict[Any, Any]]:
    fails = findings[findings["severity"].eq("fail")]
    why = fails.groupby("row")["message"].agg(lambda words: " ".join(words.fillna("")))
    shown = lines[["core_id", "district", "street"]].fillna("")
    shown["row"] = lines["row_after"]
    shown["why"] = lines["row_after"].astype("str").map(why).fillna("")
    return shown.to_dict("records")


def trend_shown(records: Iterable[Mapping[str, Any]]) -> dict[str, Any]:
    """Return the trend as values for a template; the chart is None for a single run."""
    runs = trend(records)
    counts = runs.set_index("as_of")[list(STATUS_LOOKS)]
    return {
        "chart": over_time(counts, "Cores by status, run by run") if len(runs) > 1 else None,
        "runs": len(runs),
        "rows": runs.tail(_RUNS_SHOWN).to_dict("records"),
    }
