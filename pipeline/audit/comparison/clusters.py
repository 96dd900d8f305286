"""Which findings come together: those of one crew on one day, of one day, of one id, or of one road segment.

A bad day makes eight bad cores, an id used twice makes two findings, and all cores of a crowded segment are found.
A day of rain is a bad day of every crew, and a month has few days.
"""

from typing import Final

import numpy as np
import pandas as pd

from pipeline.audit.comparison.groups import work_day
from pipeline.audit.comparison.tallies import Codes
from pipeline.contracts import plain_ids

__all__ = ["cluster_codes", "ties_of"]

# cores that such a rule finds together lie on one segment
_BY_SEGMENT: Final = frozenset({"spacing", "network", "confidence", "surface"})
_BY_ID: Final = frozenset({"identity"})


def cluster_codes(cores: pd.DataFrame) -> dict[str, Codes]:
    """Return the cluster of each of N cores, by each way in which findings come together.

    ``day``: crew and local day of reinstatement, or else of opening; where no crew is recorded, register and day.
    ``date``: the same day, of all crews; of a register's cores without a date, the register.
    ``segment``: road segment. ``id``: core id, regardless of case and spaces. A core without segment or id is a
    cluster of its own; cores of one crew without a date are one cluster.
    """
    written, names = pd.factorize(cores["crew"])
    # the same crew, however it is written
    crews = pd.factorize(pd.Series(names, dtype="str").str.strip().str.casefold())[0]
    register, _ = pd.factorize(cores["register"])
    who = np.where(written >= 0, np.append(crews, -1)[written], len(names) + register)
    day, team = pd.factorize(work_day(cores))[0], pd.factorize(who)[0]
    return {
        "day": team.astype(np.int64) * (day.max(initial=0) + 2) + day + 1,
        "date": np.where(day >= 0, day, day.max(initial=0) + 1 + register),
        "segment": _or_alone(cores["segment_id"]),
        "id": _or_alone(plain_ids(cores["core_id"])),
    }


def ties_of(family: str, by: str) -> tuple[str, ...]:
    """Return the ways in which the findings of a family of rules come together in the groups of a grouping.

    By their keys in ``cluster_codes``; those of all families come first.
    """
    # the day of one crew is its crew day
    days = ("day",) if by == "crew" else ("day", "date")
    if family in _BY_SEGMENT:
        return *days, "segment"
    return (*days, "id") if family in _BY_ID else days


def _or_alone(names: pd.Series) -> Codes:
    codes, known = pd.factorize(names)
    return np.where(codes >= 0, codes, len(known) + np.arange(len(codes)))
