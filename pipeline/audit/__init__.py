"""Audit: every rule on every core; findings, and how many cores each rule could not assess."""

import datetime as dt
from dataclasses import dataclass
from typing import Any

import numpy as np
import pandas as pd

import pipeline.audit.rules  # noqa: F401 - the families register their rules as they are imported
from pipeline.audit.evidence import rank_evidence
from pipeline.audit.figures import with_figures
from pipeline.audit.limits import shown_limit
from pipeline.audit.rates import rates_of_findings
from pipeline.audit.registry import BoundRule, Limits, bind_rules
from pipeline.contracts import FINDING_COLUMNS, MADE_FROM
from pipeline.programme.thresholds import PLACES

__all__ = ["Audit", "BoundRule", "audit", "bind_rules", "limits_of", "rule_book", "with_figures"]


@dataclass(frozen=True)
class Audit:
    """The result of an audit.

    ``findings``: one row a finding, by core, then rule. ``status`` and ``slugs``: on the cores' index.
    ``rules``: one row a rule: ``rule``, ``family``, ``title``, ``severity``, ``limits``, ``source``, ``needs``,
    ``concerns``, ``assessed``, ``found``, ``not_assessed``, ``not_concerned``; these but ``found`` add up to N.
    ``thresholds``: one row a threshold and place: ``rule``, ``threshold``, ``value``, ``where``, ``origin``,
    ``source``, ``cores`` for which it is the one in force. ``evidence`` and ``rates``: see their modules.
    ``reveals``: by rule, the columns that its sentences can reveal.
    """

    findings: pd.DataFrame
    status: pd.Series
    slugs: pd.Series
    rules: pd.DataFrame
    thresholds: pd.DataFrame
    evidence: pd.DataFrame
    rates: pd.DataFrame
    reveals: dict[str, frozenset[str]]

    @property
    def unasked(self) -> list[str]:
        """The rules that speak of some cores and have their inputs for none of them, in the rule book's order."""
        return self.rules.loc[self.rules["assessed"].eq(0) & self.rules["not_assessed"].gt(0), "rule"].tolist()


def audit(
    cores: pd.DataFrame, rules: list[BoundRule], as_of: dt.date, reach_m: float, holidays: str | None = None
) -> Audit:
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
    holidays
        Region whose public holidays are no working days; see ``workdays``.
    """
    found, book, able_by_rule = [], [], {}
    for bound in rules:
        able, concerned = bound.assessed(cores), bound.concerned(cores)
        asked = cores.loc[able, bound.rule.columns]
        limits = Limits(**bound.limits(cores.loc[able, list(PLACES)]), as_of=as_of, reach_m=reach_m, holidays=holidays)
        hits = bound.rule.check(asked, limits).assign(rule=bound.rule.slug, severity=bound.severity)
        found.append(hits)
        able_by_rule[bound.rule.slug] = (able, concerned)
        book.append(
            rule_book([bound])[0]
            | {
                "assessed": int(able.sum()),
                "found": len(hits),
                "not_assessed": int((concerned & ~able).sum()),
                "not_concerned": int((~concerned).sum()),
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
    families = {bound.rule.slug: bound.rule.family for bound in rules}
    return Audit(
        every[list(FINDING_COLUMNS)].reset_index(drop=True).astype({"core_id": "str"}),
        pd.Series(status, cores.index, dtype="str"),
        slugs,
        pd.DataFrame(book),
        _thresholds(cores, rules),
        rank_evidence(cores, rules, able_by_rule),
        rates_of_findings(cores, every, families, fails, as_of),
        {bound.rule.slug: bound.rule.reveals for bound in rules},
    )


def limits_of(rules: list[BoundRule], slug: str, cores: pd.DataFrame) -> dict[str, Any]:
    """Return the limits of one rule: one value where it is the same for all N located cores, else a column."""
    return next(bound for bound in rules if bound.rule.slug == slug).limits(cores)


def rule_book(rules: list[BoundRule]) -> list[dict[str, Any]]:
    """Return one row a rule: what it is, what it needs, its thresholds and their source."""
    return [
        {
            "rule": bound.rule.slug,
            "family": bound.rule.family,
            "title": bound.rule.title,
            "severity": bound.severity,
            "limits": ", ".join(f"{name} {shown_limit(value)}" for name, value in bound.written().items()),
            "source": bound.source,
            "needs": ", ".join(_inputs(bound)),
            "concerns": bound.rule.concerns,
        }
        for bound in rules
    ]


def _inputs(bound: BoundRule) -> list[str]:
    """The inputs a rule needs, by the names a programme file knows them under."""
    made = [name for need in bound.rule.needs for name in MADE_FROM.get(need, (need,))]
    return [*dict.fromkeys(made), *(["dates"] if bound.rule.needs_any else [])]


def _thresholds(cores: pd.DataFrame, rules: list[BoundRule]) -> pd.DataFrame:
    """One row for each threshold that is in force for some core, and how many."""
    rows = []
    for bound in rules:
        for name in bound.rule.limits:
            said = [saying for saying, _ in bound.said if saying.name == name]
            everywhere = max(place for place, saying in enumerate(said) if not saying.place)
            left = np.ones(len(cores), dtype=bool)
            # a later one beats an earlier
            for saying in reversed(said[everywhere:]):
                here = left & saying.holds(cores).to_numpy()
                left &= ~here
                if here.any() or not saying.place:
                    rows.append(
                        {
                            "rule": bound.rule.slug,
                            "threshold": name,
                            "value": shown_limit(saying.written),
                            "where": saying.where,
                            "origin": saying.origin,
                            "source": saying.source,
                            "cores": int(here.sum()),
                        }
                    )
    return pd.DataFrame(rows, columns=["rule", "threshold", "value", "where", "origin", "source", "cores"])


def _joined(findings: pd.DataFrame, count: int) -> pd.Series:
    """The slugs of each of ``count`` cores, joined; most cores have none or one, and those need no joining."""
    several = findings.duplicated("place", keep=False)
    alone = findings[~several].set_index("place")["rule"]
    many = findings[several].groupby("place")["rule"].agg(";".join)
    joined: pd.Series = pd.concat([alone, many]).reindex(range(count), fill_value="").astype("str")
    return joined
