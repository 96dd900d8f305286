"""Since when each finding has been found, and which are new, unchanged or gone since the latest earlier run."""

import datetime as dt
from typing import Final, NamedTuple

import numpy as np
import numpy.typing as npt
import pandas as pd

from pipeline.contracts import GONE_TABLE, names_of

__all__ = ["GONE", "NEW", "UNCHANGED", "Baseline", "nothing_gone", "with_baseline"]

NEW: Final = "new"
UNCHANGED: Final = "unchanged"
GONE: Final = "gone"
# of findings with one fingerprint, those with the same evidence are the same first
_KEYS: Final = (["fingerprint", "evidence_mark"], ["fingerprint"])
_DAY: Final = r"\d{4}-\d{2}-\d{2}"


class Baseline(NamedTuple):
    """The findings of a run with ``first_seen`` and ``baseline``, and those that are ``gone`` since the earlier run."""

    findings: pd.DataFrame
    gone: pd.DataFrame


def with_baseline(
    findings: pd.DataFrame, as_of: dt.date, earlier: pd.DataFrame | None, earlier_as_of: dt.date | None
) -> Baseline:
    """Compare the findings of a run with those of the latest earlier run, finding by finding.

    Parameters
    ----------
    findings
        N findings with ``fingerprint`` and ``evidence_mark``.
    as_of
        Day of the audit.
    earlier
        The findings of the latest earlier run, as it wrote them; None without one.
    earlier_as_of
        Its day.

    Returns
    -------
    Baseline
        ``first_seen`` is the day of the run from which on the finding has been found in every run, this one included.
        ``baseline`` is new or unchanged, and empty where there is no earlier run. A finding without a fingerprint has
        neither. Findings that share a fingerprint are paired one with one: of three where two were, one is new.
    """
    followed = findings["fingerprint"].notna()
    first_seen = followed.map({True: as_of.isoformat()}).to_numpy(object)
    if earlier is None or earlier_as_of is None:
        return Baseline(_seen(findings, first_seen, np.full_like(first_seen, None)), nothing_gone())
    baseline = followed.map({True: NEW}).to_numpy(object)
    was = earlier.reset_index(drop=True)
    last_seen = earlier_as_of.isoformat()
    # a run that did not follow its findings, or whose table was edited, says no more than that they were found
    is_day = was["first_seen"].str.fullmatch(_DAY).fillna(value=False) & was["first_seen"].le(last_seen)
    since = was["first_seen"].where(is_day, last_seen)
    left, right = np.flatnonzero(followed), np.flatnonzero(was["fingerprint"].notna())
    for keys in _KEYS:
        here, there = _pairs(findings.iloc[left], was.iloc[right], keys)
        first_seen[left[here]] = since.to_numpy(object)[right[there]]
        baseline[left[here]] = UNCHANGED
        left, right = np.delete(left, here), np.delete(right, there)
    gone = was.assign(first_seen=since, last_seen=last_seen).iloc[right]
    return Baseline(_seen(findings, first_seen, baseline), _gone_of(gone))


def _seen(
    findings: pd.DataFrame, first_seen: npt.NDArray[np.object_], baseline: npt.NDArray[np.object_]
) -> pd.DataFrame:
    return findings.assign(first_seen=first_seen, baseline=baseline).astype({"first_seen": "str", "baseline": "str"})


def _pairs(now: pd.DataFrame, was: pd.DataFrame, keys: list[str]) -> tuple[npt.NDArray[np.intp], npt.NDArray[np.intp]]:
    """Return the positions of findings with equal keys, the n-th of each table with the n-th."""
    numbered = []
    for table in (now, was):
        keyed = table[keys].assign(at=np.arange(len(table), dtype=np.intp)).dropna()
        numbered.append(keyed.assign(nth=keyed.groupby(keys, sort=False).cumcount()))
    both = numbered[0].merge(numbered[1], on=[*keys, "nth"], suffixes=("_now", "_was"), validate="one_to_one")
    return both["at_now"].to_numpy(np.intp), both["at_was"].to_numpy(np.intp)


def nothing_gone() -> pd.DataFrame:
    """Return the table of the findings that are gone, without any."""
    return _gone_of(pd.DataFrame(columns=list(names_of(GONE_TABLE))))


def _gone_of(findings: pd.DataFrame) -> pd.DataFrame:
    """Return findings as the table of those that are gone; they have no row any more."""
    names = names_of(GONE_TABLE)
    kinds = {name: "Int64" if name == "row" else "str" for name in names}
    return findings.assign(row=None, baseline=GONE).reindex(columns=list(names)).astype(kinds).reset_index(drop=True)
