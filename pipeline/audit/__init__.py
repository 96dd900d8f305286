"""Audit: every rule on every core; findings, and how many cores each rule could not assess."""

import datetime as dt
from dataclasses import dataclass

import numpy as np
import pandas as pd

from pipeline.audit import dates as _dates  # noqa: F401

# the families register their rules as they are imported; this order is the order of the rule book
from pipeline.audit import identity, position, sizes, spacing, sureness, surface  # noqa: F401
from pipeline.audit.registry import BoundRule, Limits, bind_rules
from pipeline.audit.sizes import believable
from pipeline.contracts import FINDING_COLUMNS

__all__ = ["Audit", "BoundRule", "audit", "believable", "bind_rules"]


@dataclass(frozen=True)
class Audit:
    """The result of an audit.

    ``findings``: one row a finding, by core, then rule. ``status`` and ``slugs``: on the cores' index.
    ``rules``: one row a rule: ``rule``, ``family``, ``title``, ``severity``, ``limits``, ``source``, ``assessed``,
    ``found``, ``not_assessed``.
    """

    findings: pd.DataFrame
    status: pd.Series
    slugs: pd.Series
    rules: pd.DataFrame


def audit(cores: pd.DataFrame, rules: list[BoundRule], as_of: dt.date, reach_m: float) -> Audit:
    """Apply every rule to every core.

    Parameters
    ----------
    cores
        N rows with the contract's audit columns.
    rules
        The rules in force.
    as_of
        Day of the audit.
    reach_m
        How far a road segment was looked for, in metres.
    """
    found, book = [], []
    for bound in rules:
        able = bound.assessed(cores)
        limits = Limits(**bound.limits, as_of=as_of, reach_m=reach_m)
        hits = bound.rule.check(cores[able], limits).assign(rule=bound.rule.slug, severity=bound.severity)
        found.append(hits)
        book.append(
            {
                "rule": bound.rule.slug,
                "family": bound.rule.family,
                "title": bound.rule.title,
                "severity": bound.severity,
                "limits": ", ".join(f"{name} {value}" for name, value in bound.written.items()),
                "source": bound.source,
                "assessed": int(able.sum()),
                "found": len(hits),
                "not_assessed": int((~able).sum()),
            }
        )
    every = pd.concat(found)
    every = every.assign(place=cores.index.get_indexer(every.index)).sort_values(["place", "rule"], kind="stable")
    every["row"] = cores["row"].to_numpy()[every["place"]]
    every["core_id"] = cores["core_id"].to_numpy()[every["place"]]

    slugs = _joined(every, len(cores)).set_axis(cores.index)
    fails = np.zeros(len(cores), dtype=bool)
    fails[every.loc[every["severity"].eq("fail"), "place"]] = True
    status = np.select([fails, cores["reinstated_at"].notna()], ["flagged", "reinstated"], "pending")
    return Audit(
        every[list(FINDING_COLUMNS)].reset_index(drop=True).astype({"core_id": "str"}),
        pd.Series(status, cores.index, dtype="str"),
        slugs,
        pd.DataFrame(book),
    )


def _joined(findings: pd.DataFrame, count: int) -> pd.Series:
    """The slugs of each of ``count`` cores, joined; most cores have none or one, and those need no joining."""
    several = findings.duplicated("place", keep=False)
    alone = findings[~several].set_index("place")["rule"]
    many = findings[several].groupby("place")["rule"].agg(";".join)
    joined: pd.Series = pd.concat([alone, many]).reindex(range(count), fill_value="").astype("str")
    return joined
