"""Which findings someone has accepted, and until when: they are shown as accepted, and never left out."""

from typing import Final

import pandas as pd

from pipeline.publish.words import Words

__all__ = ["DECIDED", "accepted_in_words", "accepted_until", "with_acceptance"]

_HOLDS: Final = {"decision": "accept", "decision_standing": "holds"}
# the columns of findings that show whether they are accepted
DECIDED: Final = (*_HOLDS, "decided_until")


def accepted_until(findings: pd.DataFrame) -> pd.Series:
    """Return for each of N findings the last day of its acceptance, by ISO 8601.

    An empty text is an acceptance without an end; missing where the finding is not accepted, or no longer so.
    """
    if not {*_HOLDS} <= {*findings}:
        return pd.Series(None, findings.index, dtype="str")
    holds = pd.Series(True, findings.index)
    for name, word in _HOLDS.items():
        holds &= findings[name].eq(word).fillna(value=False).astype(bool)
    until = findings.get("decided_until", pd.Series(None, findings.index, dtype="str"))
    days = until.dt.strftime("%Y-%m-%d") if pd.api.types.is_datetime64_any_dtype(until) else until.astype("str")
    return days.astype("str").fillna("").where(holds)


def accepted_in_words(until: pd.Series, words: Words) -> pd.Series:
    """Return "accepted until 31 Dec 2026" for each of N days from ``accepted_until``, missing where it is missing."""
    once = {
        day: words.plainly("accepted.until", day=words.day(pd.Timestamp(day).date()))
        if day
        else words.plainly("accepted.open_ended")
        for day in until.dropna().unique()
    }
    return until.map(once).astype("str").where(until.notna())


def with_acceptance(findings: pd.DataFrame, words: Words) -> pd.DataFrame:
    """Return findings with the words on their acceptance after their message, where they are accepted."""
    said = accepted_in_words(accepted_until(findings), words)
    if said.isna().all():
        return findings
    return findings.assign(message=(findings["message"] + " [" + said + "]").where(said.notna(), findings["message"]))
