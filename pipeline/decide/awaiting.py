"""The findings of a run that await a decision, as a sheet to fill in."""

from collections.abc import Collection
from dataclasses import dataclass

import pandas as pd

from pipeline.contracts import SEVERITIES, URGENCIES
from pipeline.contracts.decisions import DECISION_SHEET

__all__ = ["Awaiting", "awaiting"]

# filled in by hand
_EMPTY = ("decision", "decided_by", "reason", "decided_on", "until", "column", "value", "original")


@dataclass(frozen=True)
class Awaiting:
    """What awaits a decision.

    ``sheet``: one row per finding, ``DECISION_SHEET``, every cell text, the most urgent first. ``decided``: findings
    left out because a decision about them holds. ``returned``: those on the sheet whose decision no longer holds.
    ``without_id``: findings left out because their core has no id: they can only be decided by rule. ``others``: left
    out by urgency or owner.
    """

    sheet: pd.DataFrame
    decided: int
    returned: int
    without_id: int
    others: int


def awaiting(
    findings: pd.DataFrame,
    cores: pd.DataFrame,
    urgencies: Collection[str] = (),
    owners: Collection[str] = (),
) -> Awaiting:
    """Return the findings that await a decision.

    Parameters
    ----------
    findings
        N findings about cores that are counted, every cell text: ``row``, ``core_id``, ``rule``, ``severity``,
        ``message``, ``urgency``, ``fingerprint``, ``evidence_mark``, ``first_seen``, ``owner`` and what was decided.
    cores
        The cores by ``row``: ``register``, ``street``, ``district``.
    urgencies, owners
        Take only these; none takes all.
    """
    asked = pd.Series(data=True, index=findings.index)
    if urgencies:
        asked &= findings["urgency"].isin(list(urgencies))
    if owners:
        asked &= findings["owner"].isin(list(owners))
    is_decided = findings["decision_standing"].eq("holds")
    is_named = findings["fingerprint"].fillna("").ne("")
    places = cores[["row", "register", "street", "district"]].assign(row=cores["row"].astype("str"))
    shown = findings[asked & ~is_decided & is_named].merge(places, on="row", how="left", validate="many_to_one")
    # the same finding on several rows of a register is decided once
    shown = shown.drop_duplicates(["fingerprint", "evidence_mark", "register"])
    shown = shown.assign(
        earlier_decision=_earlier(shown),
        first=shown["urgency"].map(URGENCIES.index),
        second=shown["severity"].map(SEVERITIES.index),
        **dict.fromkeys(_EMPTY, ""),
    )
    shown = shown.sort_values(
        ["first", "second", "first_seen", "district", "street", "core_id", "row", "rule"], kind="stable"
    )
    sheet = shown[list(DECISION_SHEET)].astype("str").fillna("").reset_index(drop=True)
    return Awaiting(
        sheet,
        decided=int((asked & is_decided).sum()),
        returned=int(sheet["earlier_decision"].ne("").sum()),
        without_id=int((asked & ~is_decided & ~is_named).sum()),
        others=int((~asked).sum()),
    )


def _earlier(findings: pd.DataFrame) -> pd.Series:
    """Return what was decided about each of N findings and no longer holds, in words; empty where nothing was."""
    cells = {
        name: findings[name].fillna("").astype("str")
        for name in ("decision", "decision_standing", "decided_by", "decided_on", "decided_until", "decision_reason")
    }
    words = cells["decision"] + " by " + cells["decided_by"]
    words = words + (" on " + cells["decided_on"]).where(cells["decided_on"].ne(""), "")
    words = words + (", until " + cells["decided_until"]).where(cells["decided_until"].ne(""), "")
    words = words + " (" + cells["decision_reason"] + "): " + cells["decision_standing"]
    return words.where(cells["decision_standing"].ne(""), "")
