"""Decide: which finding each decision answers, whether it holds, and what became of every entry.

What a decision does is one rule for every page and table:

- No decision changes a status, a count of findings or a row of a table; it is shown beside the finding.
- *accept* that holds: the finding leaves the lists of what to act on, which say how many they leave out.
- *defer* that holds: it leaves only the sheet of what awaits a decision.
- *dispute* that holds: it keeps its place everywhere, marked.
- *correct* that holds: the audit uses the corrected cell; the finding, if it is still there, keeps its place, marked.
- A hazard leaves the lists of hazards only if it is accepted with a last day.
- A decision that has expired, or whose evidence changed, does nothing: the finding has returned, and says so.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Final

import numpy as np
import pandas as pd

from pipeline.contracts import names_of, no_text
from pipeline.contracts.decisions import CORRECTION_TABLE, DECIDED_COLUMNS, DECISION_REPORT, STANDINGS
from pipeline.decide.matching import matched_pairs
from pipeline.decide.reporting import correction_table, entry_report, problem_notices

__all__ = ["NOTHING_DECIDED", "Decided", "decide", "is_accepted"]

_NAMES = names_of(DECIDED_COLUMNS)


@dataclass(frozen=True)
class Decided:
    """What was decided.

    ``columns``: on the findings' index, ``DECIDED_COLUMNS``, missing where nothing was decided. ``report``: one row
    per entry, ``DECISION_REPORT``. ``corrections``: one row per cell of a register that an entry names,
    ``CORRECTION_TABLE``. ``notices``: what is wrong with entries.
    """

    columns: pd.DataFrame
    report: pd.DataFrame
    corrections: pd.DataFrame
    notices: list[str]


NOTHING_DECIDED: Final = Decided(
    pd.DataFrame(columns=list(_NAMES), dtype="str"),
    pd.DataFrame(columns=list(names_of(DECISION_REPORT))),
    pd.DataFrame(columns=list(names_of(CORRECTION_TABLE))),
    [],
)


def decide(
    findings: pd.DataFrame,
    cores: pd.DataFrame,
    entries: pd.DataFrame,
    corrected: pd.DataFrame,
    urgencies: Mapping[str, str],
) -> Decided:
    """Return what was decided about findings.

    A decision about the finding itself comes before one by rule, unless only the latter holds; of several, the one
    decided last, then the one that is written last.

    Parameters
    ----------
    findings
        N findings: ``row``, ``rule``, ``fingerprint``, ``evidence_mark``.
    cores
        The cores by ``row``: ``core_id``, ``register``, ``street_matched``, ``street``, ``district``.
    entries
        The decisions, as :class:`pipeline.intake.decisions.Entries` describes them.
    corrected
        The cells that entries correct, as :data:`pipeline.intake.corrections.CORRECTED` names their columns.
    urgencies
        The urgency of each rule.
    """
    entries = _judged(entries, corrected, urgencies)
    pairs = matched_pairs(findings, cores, entries[entries["standing"].isin(STANDINGS)])
    entries = _without_endless(entries, pairs, urgencies)
    pairs = pairs[entries.loc[pairs["entry"], "standing"].isin(STANDINGS).to_numpy()]
    chosen = _chosen(pairs, entries)
    columns = pd.DataFrame(dict.fromkeys(_NAMES, no_text(findings.index)))
    if len(chosen):
        of = entries.loc[chosen["entry"]]
        shown = {
            "decision": of["decision"],
            "decided_by": of["decided_by"],
            "decided_on": of["decided_on"].dt.strftime("%Y-%m-%d"),
            "decided_until": of["until"].dt.strftime("%Y-%m-%d").fillna(of["until_text"]),
            "decision_reason": of["reason"],
        }
        for name, texts in shown.items():
            columns.loc[chosen["finding"], name] = texts.astype("str").to_numpy()
        columns.loc[chosen["finding"], "decision_standing"] = chosen["standing"].to_numpy()
    report = entry_report(entries, pairs, chosen, corrected)
    return Decided(columns, report, correction_table(entries, corrected), problem_notices(report))


def is_accepted(findings: pd.DataFrame) -> pd.Series:
    """Return whether each of N findings is accepted by a decision that holds."""
    return findings["decision"].eq("accept") & findings["decision_standing"].eq("holds")


def _judged(entries: pd.DataFrame, corrected: pd.DataFrame, urgencies: Mapping[str, str]) -> pd.DataFrame:
    """Return entries, those that name no rule and those whose cells are not as they were found out."""
    problem, standing = entries["problem"].astype("str"), entries["standing"].astype("str")
    rule = entries["rule"].where(entries["fingerprint"].isna())
    unknown = rule.notna() & ~rule.isin(list(urgencies)) & standing.ne("does not hold")
    problem = problem.mask(unknown, 'no rule is called "' + rule.astype("str") + '"; `kerfbook rules` lists them')
    standing = standing.mask(unknown, "does not hold")
    # an entry about several cells holds if it corrects any of them
    cells = corrected.sort_values("standing", key=lambda one: one.eq("holds"), ascending=False, kind="stable")
    of_cells = cells.drop_duplicates("entry").set_index("entry")["standing"].reindex(entries.index)
    of_cells = of_cells.fillna("matches nothing").where(entries["decision"].eq("correct"))
    standing = standing.where(of_cells.isna() | standing.ne("holds"), of_cells)
    wrong = {
        "no such column": "the register has no such column",
        "does not hold": "the register cannot be read with this value",
        "not a date": "value is not a date such as 2026-09-30, or day and month could be swapped",
        "several rows": "several rows carry this core id: enter in original what the cell to correct holds, or give "
        "each core an id of its own in the register",
    }
    problem = problem.fillna(of_cells.map(wrong).where(standing.isin(list(wrong))))
    standing = standing.replace(["not a date", "several rows"], "does not hold")
    return entries.assign(
        problem=problem, standing=standing, decided_on=pd.to_datetime(entries["decided_on"]),
        until=pd.to_datetime(entries["until"]),
    )  # fmt: skip


def _without_endless(entries: pd.DataFrame, pairs: pd.DataFrame, urgencies: Mapping[str, str]) -> pd.DataFrame:
    """Return entries of which those that accept a hazard without an end do not hold."""
    hazards = [rule for rule, urgency in urgencies.items() if urgency == "hazard"]
    about = entries["rule"].isin(hazards) | entries.index.isin(pairs.loc[pairs["rule"].isin(hazards), "entry"])
    endless = entries["decision"].eq("accept") & entries["until_text"].isna() & entries["standing"].isin(STANDINGS)
    why = "a hazard cannot be accepted without an end: enter until"
    return entries.assign(
        problem=entries["problem"].mask(about & endless, why),
        standing=entries["standing"].mask(about & endless, "does not hold"),
    )


def _chosen(pairs: pd.DataFrame, entries: pd.DataFrame) -> pd.DataFrame:
    """Return for each finding that has a decision the entry that counts, with its standing about the finding."""
    of = entries.loc[pairs["entry"]].set_axis(pairs.index)
    changed = (
        of["evidence_mark"].notna() & of["evidence_mark"].ne(pairs["evidence_mark"]) & of["decision"].ne("correct")
    )
    standing = np.select([of["standing"].ne("holds"), changed], [of["standing"], "evidence changed"], "holds")
    ranked = pairs.assign(
        standing=pd.Series(standing, pairs.index, dtype="str"), is_same=~changed, decided_on=of["decided_on"]
    ).sort_values(["is_same", "decided_on", "entry"], na_position="first", kind="stable")
    last = ranked.drop_duplicates(["finding", "is_by_finding"], keep="last")
    last = last.assign(holds=last["standing"].eq("holds")).sort_values(["holds", "is_by_finding"], kind="stable")
    return last.drop_duplicates("finding", keep="last").sort_values("finding")[["finding", "entry", "standing"]]
