"""Shares of cores with findings by district, street and age, among the cores assessed: shown, and not compared."""

import datetime as dt
from typing import Final

import numpy as np
import numpy.typing as npt
import pandas as pd

from pipeline.audit.comparison.differences import FEWEST
from pipeline.audit.comparison.groups import others_groupings
from pipeline.audit.comparison.measures import is_workmanship
from pipeline.audit.outcomes import AT_LIMIT, FOUND, NOT_ASSESSED
from pipeline.intervals import true_rates

__all__ = ["FLAGGED", "WORK_FINDINGS", "plain_shares"]

FLAGGED: Final = "flagged"
WORK_FINDINGS: Final = "work findings"
_SHOWN: Final = (
    (FLAGGED, "district"),
    (FLAGGED, "street"),
    (FLAGGED, "days open"),
    (WORK_FINDINGS, "days since reinstatement"),
)


def plain_shares(cores: pd.DataFrame, outcomes: pd.DataFrame, rules: pd.DataFrame, as_of: dt.date) -> pd.DataFrame:
    """Return one row per group: the share of its cores that have a finding of some rules, among those they assessed.

    The rules are those of severity ``fail`` ("flagged"), or those on the work on reinstated cores ("work findings").
    The parameters are those of ``tallies``.
    """
    asked = {FLAGGED: rules["severity"].eq("fail"), WORK_FINDINGS: is_workmanship(rules)}
    groups = others_groupings(cores, as_of)
    truths = {
        measure: _truths([outcomes[rule].to_numpy() for rule in rules.loc[which, "rule"]], len(cores))
        for measure, which in asked.items()
    }
    tables = [_shares(measure, by, groups[by], truths[measure]) for measure, by in _SHOWN]
    return pd.concat(tables, ignore_index=True)


def _truths(codes: list[npt.NDArray[np.int8]], count: int) -> dict[str, npt.NDArray[np.bool_]]:
    """Return for each of N cores whether rules assessed it, found it, or assessed it not although one applies."""
    assessed, found, lacking = (np.zeros(count, dtype=bool) for _ in range(3))
    for outcome in codes:
        assessed |= outcome <= AT_LIMIT
        found |= outcome == FOUND
        lacking |= outcome == NOT_ASSESSED
    return {"cores": assessed, "with_findings": found, "not_recorded": ~assessed & lacking}


def _shares(measure: str, by: str, names: pd.Series, truths: dict[str, npt.NDArray[np.bool_]]) -> pd.DataFrame:
    codes, known = pd.factorize(names, sort=True)
    counts = {name: np.bincount(codes[truth & (codes >= 0)], minlength=len(known)) for name, truth in truths.items()}
    counted = pd.DataFrame({"group": pd.Series(known, dtype="str"), **counts})
    counted = counted[counted["cores"].gt(0)].assign(measure=measure, by=by)
    low, high = true_rates(counted["with_findings"], counted["cores"])
    return counted.assign(
        checks=counted["cores"],
        rate=counted["with_findings"] / counted["cores"],
        low=low,
        high=high,
        differs=np.where(counted["cores"].lt(FEWEST), "too few", "not compared"),
    )
