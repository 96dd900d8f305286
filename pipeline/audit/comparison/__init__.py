"""Groups of cores compared fairly, rule by rule, and what their registers record."""

import datetime as dt
from typing import Any, Final

import numpy as np
import pandas as pd

from pipeline.audit.comparison.completeness import record_completeness
from pipeline.audit.comparison.diagnostics import Fit, fit_model, odds_and_homogeneity, rows_of
from pipeline.audit.comparison.differences import FEWEST, judged, table_of, with_chances
from pipeline.audit.comparison.groups import COMPARED, DAYS_OPEN, DAYS_SINCE, age_names, covariates, days_since
from pipeline.audit.comparison.measures import WORKMANSHIP, Grounds, grounds_of, tallies
from pipeline.audit.comparison.shares import FLAGGED, WORK_FINDINGS, plain_shares
from pipeline.clock import Told, counted, silent
from pipeline.contracts import AUDIT_TABLES, names_of
from pipeline.intervals import CONFIDENCE

__all__ = [
    "COMPARED", "DAYS_OPEN", "DAYS_SINCE", "FEWEST", "FLAGGED", "WORKMANSHIP", "WORK_FINDINGS", "age_names",
    "compare_groups", "days_since", "record_completeness",
]  # fmt: skip

_COLUMNS: Final = AUDIT_TABLES["rates"]
# with a smaller share of alike cores elsewhere, strata cannot adjust
_ENOUGH_ALIKE: Final = 0.5
# columns of the cores that comparisons read
_READ: Final = (
    "core_id", "register", "crew", "district", "surface", "segment_id", "road_class", "street_matched", "opened_on",
    "reinstated_at", "is_open", "hole_mm", "depth_believed_mm",
)  # fmt: skip
_DISPUTED: Final = ("more", "less", "raw only", "adjusted only")


def compare_groups(
    cores: pd.DataFrame, outcomes: pd.DataFrame, rules: pd.DataFrame, as_of: dt.date, told: Told = silent
) -> pd.DataFrame:
    """Return the share of cores with findings in each group of cores, compared with all other groups.

    Parameters
    ----------
    cores
        N rows with the audit's columns; copies are not counted.
    outcomes
        On the same index, a column of outcome codes per rule.
    rules
        The rule book: ``rule``, ``family``, ``severity``, ``applies_to``.
    as_of
        Day of the audit, to which ages are counted.
    told
        Is told how many of the rules are compared, by each kind of group.

    Returns
    -------
    pandas.DataFrame
        One row per measure and group, as the contract describes it. A measure is a rule, among the cores it assessed;
        "workmanship", the findings per check of the rules on the work on reinstated cores; "flagged" and
        "work findings", shares of cores that are not compared. An interval is for one group by itself: some of many
        will miss their true share.
    """
    once = ~cores["is_copy"].to_numpy()
    cores = cores[list(_READ)]
    if not once.all():
        cores, outcomes = cores[once], outcomes[once]
    done = counted(told, "groups compared", len(COMPARED) * len(rules), "comparisons")
    grounds = grounds_of(cores, outcomes, rules, as_of)
    compared = tallies(outcomes, rules, grounds, done)
    told("differences between groups")
    plain = plain_shares(cores, outcomes, rules, as_of)
    if not compared:
        return _as_contract(plain)
    table = with_chances(table_of(compared))
    table = judged(_with_models(judged(table), cores, outcomes, rules, grounds, as_of))
    return _as_contract(pd.concat([_with_odds(table, outcomes, rules, grounds), plain], ignore_index=True))


def _with_models(
    table: pd.DataFrame,
    cores: pd.DataFrame,
    outcomes: pd.DataFrame,
    rules: pd.DataFrame,
    grounds: Grounds,
    as_of: dt.date,
) -> pd.DataFrame:
    """Adjust by a model where a raw difference is beyond chance and too few cores are alike."""
    table = table.assign(adjusted_by=np.where(table["p_adjusted"].notna(), "strata", ""))
    wanted = table["p_corrected"].lt(1 - CONFIDENCE) & ~table["alike_share"].ge(_ENOUGH_ALIKE)
    if not wanted.any():
        return table
    bands = covariates(cores, as_of)
    fits = [_fit(row, rows_of(row, outcomes, rules, grounds), bands) for row in table[wanted].to_dict("records")]
    # the chance is of both directions, of which half is on the side of the difference
    p = np.array([1.0 if fit.problem else fit.p for fit in fits])
    is_more = np.array([fit.odds_ratio > 1 for fit in fits])
    instead = pd.DataFrame(
        {
            "p_adjusted": p,
            "p_more_alike": np.where(is_more, p / 2, 1 - p / 2),
            "p_less_alike": np.where(is_more, 1 - p / 2, p / 2),
            "adjusted_by": ["none" if fit.problem else "model" for fit in fits],
        },
        index=table.index[wanted],
    )
    return table.assign(
        **{str(name): column.reindex(table.index).fillna(table[name]) for name, column in instead.items()}
    )


def _fit(row: dict[Any, Any], checks: pd.DataFrame, bands: pd.DataFrame) -> Fit:
    """Fit the model with cores at the limit counted against the difference."""
    is_more = row["p_more"] < row["p_less"]
    found = checks["is_found"] | (checks["at_limit"] & (checks["in_group"] != is_more))
    names = [name for name in str(row["adjusted_for"]).split(", ") if name]
    mine = bands.iloc[checks["core"].to_numpy()][names].reset_index(drop=True).assign(rule=checks["rule"])
    return fit_model(found.to_numpy(), checks["in_group"].to_numpy(), mine, checks["day"].to_numpy())


def _with_odds(table: pd.DataFrame, outcomes: pd.DataFrame, rules: pd.DataFrame, grounds: Grounds) -> pd.DataFrame:
    """Add the odds ratio among alike cores and whether strata differ in it, where a difference is at issue."""
    disputed = table[table["differs"].isin(_DISPUTED)]
    pairs = [
        odds_and_homogeneity(rows_of(row, outcomes, rules, grounds), float(row["design_effect"]))
        for row in disputed.to_dict("records")
    ]
    odds = pd.DataFrame(pairs, disputed.index, ["odds_ratio", "homogeneity_p"], dtype=float)
    return table.join(odds)


def _as_contract(table: pd.DataFrame) -> pd.DataFrame:
    """Return the contract's columns, each of its kind."""
    table = table.reindex(columns=list(names_of(_COLUMNS)))
    kinds: dict[str, Any] = {"text": "str", "integer": "int64", "number": "float64"}
    filled = {"text": "", "integer": 0}
    columns = {one.name: table[one.name].astype(object) for one in _COLUMNS}
    return pd.DataFrame(
        {
            one.name: columns[one.name]
            .where(columns[one.name].notna(), filled.get(one.kind, np.nan))
            .astype(kinds[one.kind])
            for one in _COLUMNS
        },
        index=table.index,
    )
