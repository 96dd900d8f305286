"""What was decided about findings, by whom, until when, and what no longer holds, as values for the pages."""

from collections.abc import Mapping
from typing import Any, Final

import pandas as pd
from markupsafe import Markup

from pipeline.contracts.decisions import DECISIONS, IN_ORDER, STANDINGS
from pipeline.publish.report.names import core_name
from pipeline.publish.words import Words
from pipeline.readback.runs import Run
from pipeline.results import RunResult

__all__ = ["answer_in_words", "decision_counts", "decisions", "decisions_between"]

_SHOWN: Final = 20
_GROUP: Final = (
    "decision", "rule", "decided_by", "decided_on", "decided_until", "decision_reason", "decision_standing",
)  # fmt: skip


def decisions(result: RunResult, words: Words) -> dict[str, Any]:
    """Return the values for the section on decisions: ``decided``, None where the programme has no file of them."""
    if result.settings.decisions is None:
        return {"decided": None}
    findings, report, corrections = result.counted_findings, result.decided.report, result.decided.corrections
    answered = findings[findings["decision_standing"].notna()]
    holding = answered["decision_standing"].eq("holds")
    wrong = report[~report["standing"].isin(IN_ORDER)]
    return {
        "decided": {
            "counts": decision_counts(findings, words),
            "returned": _groups(answered[~holding], "returned", words),
            "in_force": _groups(answered[holding], "in_force", words),
            "corrections": [_correction(line, words) for line in corrections.head(_SHOWN).to_dict("records")],
            "corrections_total": len(corrections),
            "problems": [
                {
                    "place": words.say("decisions.place", file=words.own(line["file"]), line=int(line["line"])),
                    "decision": _in_words(line["decision"], words) if line["decision"] in DECISIONS else "",
                    "standing": _in_words(line["standing"], words),
                    "problem": words.own(line["problem"]),
                }
                for line in wrong.head(_SHOWN).to_dict("records")
            ],
            "problems_total": len(wrong),
            "skipped": result.inputs.entries.skipped,
            "shown": _SHOWN,
        }
    }


def decisions_between(before: Run, after: Run, words: Words) -> dict[str, Any] | None:
    """Return what was decided in two runs, newly decided in the later, and has returned there; None without decisions.

    A decision is new where none of that kind held about the same finding in the earlier run. A pack has no fingerprints
    by which its findings could be followed, so nothing is returned for one.
    """
    if before.is_pack or after.is_pack:
        return None
    sides = [_answered(run) for run in (before, after)]
    if all(side.empty for side in sides):
        return None
    keys = ["fingerprint", "decision"]
    holding = [side[side["decision_standing"].eq("holds")] for side in sides]
    known = pd.MultiIndex.from_frame(holding[0][keys])
    new = holding[1][~pd.MultiIndex.from_frame(holding[1][keys]).isin(known)]
    return {
        "runs": [
            {"day": run.as_of, "counts": decision_counts(side, words)}
            for run, side in zip((before, after), sides, strict=True)
        ],
        "new": _groups(new, "new", words),
        "returned": _groups(sides[1][sides[1]["decision_standing"].ne("holds")], "returned", words),
        "shown": _SHOWN,
    }


def _answered(run: Run) -> pd.DataFrame:
    """Return the findings of a run that have a decision, about cores that are counted."""
    found = run.findings[run.findings["row"].isin(run.counted_cores["row"].astype("str"))]
    return found[found["decision_standing"].notna()]


def decision_counts(findings: pd.DataFrame, words: Words) -> list[dict[str, Any]]:
    """Return the number of findings by decision, and by whether it holds; kinds without any left out."""
    counts = pd.crosstab(findings["decision"], findings["decision_standing"]).reindex(
        index=list(DECISIONS), columns=list(STANDINGS), fill_value=0
    )
    return [
        {
            "decision": _in_words(decision, words),
            "counts": [words.number(count) if count else "" for count in row],
        }
        for decision, row in zip(counts.index, counts.to_numpy().tolist(), strict=True)
        if any(row)
    ]


def _groups(findings: pd.DataFrame, caption: str, words: Words) -> dict[str, Any]:
    """Return findings that were decided alike as one line each, the most first."""
    sizes = findings.groupby(list(_GROUP), sort=True, dropna=False).size().sort_values(ascending=False, kind="stable")
    lines = sizes.head(_SHOWN).rename("findings").reset_index().to_dict("records")
    return {
        "caption": words.say(f"decisions.{caption}", n=len(findings)),
        "total": len(sizes),
        "rows": [
            {
                "decision": _in_words(line["decision"], words),
                "rule": words.rule_label(str(line["rule"])),
                "findings": words.number(line["findings"]),
                "by": words.own(line["decided_by"]),
                "on": _day(line["decided_on"], words),
                "until": _day(line["decided_until"], words) or words.say("decisions.no_end"),
                "reason": words.own(line["decision_reason"]),
                "standing": _in_words(line["decision_standing"], words),
            }
            for line in lines
        ],
    }


def _correction(line: dict[Any, Any], words: Words) -> dict[str, Any]:
    return {
        "row": int(line["row"]),
        "core": core_name(line["core_id"], words),
        "column": words.own(line["column"]),
        "original": words.own(line["original"]),
        "corrected": words.own(line["corrected"]),
        "by": words.own(line["decided_by"]),
        "reason": words.own(line["reason"]),
        "until": _day(line["until"], words) or words.say("decisions.no_end"),
        "standing": _in_words(line["standing"], words),
    }


def answer_in_words(finding: Mapping[Any, Any], words: Words) -> Markup:
    """Return the mark of a finding in a list: "Disputed", or "Accepted: Expired" once it has returned, else nothing."""
    decision, standing = finding.get("decision"), finding.get("decision_standing")
    if decision not in DECISIONS:
        return Markup()
    shown = _in_words(decision, words)
    if standing == "holds":
        return shown
    return words.say("decisions.ended", decision=shown, standing=_in_words(standing, words))


def _in_words(name: object, words: Words) -> Markup:
    """Return a decision or a standing in words."""
    return words.say(f"decisions.{str(name).replace(' ', '_')}")


def _day(text: object, words: Words) -> Markup:
    """Return a day as the language writes it, what else was written as it is, and nothing for an empty cell."""
    if not isinstance(text, str) or not text:
        return Markup()
    day = pd.to_datetime(pd.Series([text]), format="%Y-%m-%d", errors="coerce").iloc[0]
    return words.own(text) if pd.isna(day) else words.date(day.date())
