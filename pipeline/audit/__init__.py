"""Audit: every rule applied to every core; findings, and how many cores each rule could not assess."""

import datetime as dt
from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType
from typing import Any, Final, TypeVar

import numpy as np
import pandas as pd
import pyarrow as pa
from pyarrow import compute as pc

import pipeline.audit.rules  # noqa: F401 - the families register their rules as they are imported
from pipeline.audit.comparison import compare_groups, record_completeness
from pipeline.audit.evidence import rank_evidence
from pipeline.audit.figures import with_figures
from pipeline.audit.findings import Findings, Wording, state_of
from pipeline.audit.limits import limit_in_words
from pipeline.audit.outcomes import AT_LIMIT, FOUND, NOT_APPLICABLE, NOT_ASSESSED, outcome_of
from pipeline.audit.registry import AuditContext, BoundRule, bind_rules
from pipeline.clock import Told, silent
from pipeline.contracts import AUDIT_TABLES, MADE_FROM, URGENCIES, names_of
from pipeline.contracts.arrow_texts import as_column, texts_of
from pipeline.errors import ContractError
from pipeline.programme.thresholds import SCOPE_COLUMNS
from pipeline.workdays import Calendar

__all__ = [
    "Audit",
    "BoundRule",
    "Wording",
    "audit",
    "bind_rules",
    "limits_of",
    "outcomes_of",
    "rule_book",
    "with_figures",
]

_Limits = TypeVar("_Limits")
# the family of rules about rows and ids, which holds for rows that are not counted too
_OF_RECORDS: Final = "identity"
# the outcomes that are counted for each rule
_COUNTED: Final = {"found": FOUND, "not_assessed": NOT_ASSESSED, "not_applicable": NOT_APPLICABLE, "at_limit": AT_LIMIT}
# of no register is it known what it keeps
NOTHING_KEPT: Final[Mapping[str, frozenset[str]]] = MappingProxyType({})


@dataclass(frozen=True)
class Audit:
    """The result of an audit.

    ``findings``: one row per finding, by row, then rule, those on copies included: ``row``, ``core_id``, ``rule``,
    ``severity``, ``urgency``. ``wordings``: by rule, the templates and values of its findings, from which ``publish``
    makes ``message`` and ``evidence``. ``status``, ``urgency`` (of the most urgent failure or check, missing without
    any) and ``slugs``: on the cores' index. ``outcomes``: on the same index, a column per rule; see ``outcomes.py``.
    ``rules``: one row per rule: ``rule``, ``family``, ``title``, ``severity``, ``limits``, ``source``, ``needs``,
    ``applies_to``, ``assessed``, ``found``, ``not_assessed``, ``not_applicable``, ``urgency``, ``at_limit``; the counts
    add up to the number of cores, ``found`` and ``at_limit`` apart, which are part of ``assessed``. ``thresholds``: one
    row per threshold and scope: ``rule``, ``threshold``, ``value``, ``where``, ``origin``, ``source``, and the number
    of ``cores`` it applies to. ``evidence``, ``rates`` and ``completeness``: see their modules.
    ``reveals``: by rule, the columns that its sentences can reveal.
    """

    findings: pd.DataFrame
    wordings: Mapping[str, Wording]
    status: pd.Series
    urgency: pd.Series
    slugs: pd.Series
    outcomes: pd.DataFrame
    rules: pd.DataFrame
    thresholds: pd.DataFrame
    evidence: pd.DataFrame
    rates: pd.DataFrame
    completeness: pd.DataFrame
    reveals: dict[str, frozenset[str]]

    @property
    def not_run(self) -> list[str]:
        """The rules that apply to some cores but have the data they need for none, in the rule book's order."""
        return self.rules.loc[self.rules["assessed"].eq(0) & self.rules["not_assessed"].gt(0), "rule"].tolist()


def _is_superseded(cores: pd.DataFrame) -> pd.Series:
    """Return whether a row tells an earlier state of a core that another row, which differs, is counted for.

    What is wrong with the core is found on the row that is counted: "open for 271 days" would mislead where another
    register has reinstated it.
    """
    counted = cores["copy_of"].map(pd.Series(cores["same_row"].to_numpy(), cores["row"]))
    return cores["is_copy"] & counted.notna() & counted.ne(cores["same_row"])


def audit(
    cores: pd.DataFrame,
    rules: list[BoundRule],
    as_of: dt.date,
    reach_m: float | pd.Series,
    holidays: Calendar | None = None,
    kept: Mapping[str, frozenset[str]] = NOTHING_KEPT,
    told: Told = silent,
) -> Audit:
    """Apply every rule to every row; where it counts, a core in several rows is counted once, by its counted row.

    Parameters
    ----------
    cores
        N rows with the contract's audit columns.
    rules
        The rules in force.
    as_of
        Day of the audit.
    reach_m
        How far a road segment was looked for, in metres: for all cores, or N.
    holidays
        Public holidays, which are not working days; see ``workdays``.
    kept
        By contract column, the names of the registers that keep it.
    told
        Is told what is worked on and, of long work, how much of it is done: each rule checks each row.
    """
    context = AuditContext(pd.Timestamp(as_of), reach_m, holidays)
    found, asked, outcomes = _apply(rules, cores, context, told)
    told("findings")
    every = _table(cores, rules, found)
    flagged = np.zeros(len(cores), dtype=bool)
    flagged[every.loc[every["severity"].eq("fail"), "core"]] = True
    status = np.select([flagged, cores["reinstated_at"].notna()], ["flagged", "reinstated"], "pending")
    states, once = state_of(cores), ~cores["is_copy"]
    book = pd.DataFrame([_counted(bound, outcomes.loc[once, bound.rule.slug]) for bound in rules])
    told("evidence")
    evidence = rank_evidence(cores, rules, asked, kept)
    wordings = {slug: one.worded(states, cores["row"]) for slug, one in found.items() if len(one.templates)}
    # what follows needs neither, and they are as large as everything else together
    del asked, found
    rates = compare_groups(cores, outcomes, book, as_of, told)
    told("completeness of records")
    return Audit(
        findings=every[["row", "core_id", "rule", "severity", "urgency"]].astype({"core_id": "str"}),
        wordings=wordings,
        status=pd.Series(status, cores.index, dtype="str"),
        urgency=_most_urgent(every, len(cores)).set_axis(cores.index),
        slugs=_joined(every, len(cores)).set_axis(cores.index),
        outcomes=outcomes,
        rules=book,
        thresholds=_thresholds(cores.loc[once, list(SCOPE_COLUMNS)], rules),
        evidence=evidence,
        rates=rates,
        completeness=record_completeness(cores, [bound.rule for bound in rules], kept),
        reveals={bound.rule.slug: bound.rule.reveals for bound in rules},
    )


def outcomes_of(
    cores: pd.DataFrame,
    rules: list[BoundRule],
    as_of: dt.date,
    reach_m: float | pd.Series,
    holidays: Calendar | None = None,
) -> pd.DataFrame:
    """Return the outcome of each rule for each of N cores, as :func:`audit` does, and nothing else of an audit."""
    return _apply(rules, cores, AuditContext(pd.Timestamp(as_of), reach_m, holidays), silent)[2]


def _apply(
    rules: list[BoundRule], cores: pd.DataFrame, context: AuditContext, told: Told
) -> tuple[dict[str, Findings], dict[str, tuple[pd.Series, pd.Series]], pd.DataFrame]:
    """Return by rule what it found, and for N cores whether it is assessed and whether it applies; and all outcomes."""
    superseded = _is_superseded(cores)
    found: dict[str, Findings] = {}
    asked: dict[str, tuple[pd.Series, pd.Series]] = {}
    by_rule: dict[str, pd.Series] = {}
    for at, bound in enumerate(rules):
        told("rules", at * len(cores), len(rules) * len(cores), "checks")
        slug = bound.rule.slug
        asked[slug] = able, applies = bound.assessed(cores), bound.applies(cores)
        if bound.rule.family != _OF_RECORDS:
            able, applies = able & ~superseded, applies & ~superseded
        found[slug] = bound.find(cores, able, context)
        by_rule[slug] = outcome_of(cores.index, able, applies, found[slug])
    return found, asked, pd.DataFrame(by_rule, index=cores.index)


def _table(cores: pd.DataFrame, rules: list[BoundRule], found: dict[str, Findings]) -> pd.DataFrame:
    """One row per finding, by core, then rule; ``core`` is the position of the core among the N."""
    places = []
    for bound in rules:
        at = cores.index.get_indexer(found[bound.rule.slug].templates.index)
        if len(np.unique(at)) < len(at):
            raise ContractError(f"rule {bound.rule.slug}: two findings about one core")
        places.append(at)
    core = np.concatenate([np.zeros(0, dtype=np.intp), *places])
    rule = np.repeat(np.arange(len(rules)), [len(at) for at in places])
    by_name = pd.Series([bound.rule.slug for bound in rules], dtype="str").rank(method="dense").to_numpy()
    order = np.lexsort((by_name[rule], core))
    core, rule = core[order], rule[order]
    of_rules = {
        "rule": [bound.rule.slug for bound in rules],
        "severity": [bound.severity for bound in rules],
        "urgency": [bound.urgency for bound in rules],
    }
    return pd.DataFrame(
        {
            "core": core,
            **{name: pd.Series(texts, dtype="str").take(rule).array for name, texts in of_rules.items()},
            "row": cores["row"].to_numpy()[core],
            "core_id": cores["core_id"].astype("str").take(core).array,
        }
    )


def _counted(bound: BoundRule, outcomes: pd.Series) -> dict[str, Any]:
    """The rule's row of the rule book, with the number of cores in each outcome."""
    counts = {name: int(outcomes.eq(code).sum()) for name, code in _COUNTED.items()}
    assessed = len(outcomes) - counts["not_assessed"] - counts["not_applicable"]
    return rule_book([bound])[0] | {"assessed": assessed, **counts, "urgency": bound.urgency}


def limits_of(rules: list[BoundRule], slug: str, kind: type[_Limits], cores: pd.DataFrame) -> _Limits:
    """Return the limits of one rule: each one value where it is the same for all N located cores, otherwise a column.

    Raises
    ------
    ContractError
        The rule's limits are of another kind.
    """
    found = next(bound for bound in rules if bound.rule.slug == slug).limits(cores)
    if not isinstance(found, kind):
        raise ContractError(f"rule {slug}: its limits are {type(found).__name__}, not {kind.__name__}")
    return found


def rule_book(rules: list[BoundRule]) -> list[dict[str, Any]]:
    """Return one row per rule: what it is, what it needs, its limits and their source."""
    return [
        {
            "rule": bound.rule.slug,
            "family": bound.rule.family,
            "title": bound.rule.title,
            "severity": bound.severity,
            "limits": ", ".join(
                f"{name.replace('_', ' ')} {limit_in_words(value)}" for name, value in bound.written().items()
            ),
            "source": bound.source,
            "needs": ", ".join(_inputs(bound)),
            "applies_to": bound.rule.applies_to,
        }
        for bound in rules
    ]


def _inputs(bound: BoundRule) -> list[str]:
    """The inputs a rule needs, by the names a programme file uses for them."""
    made = [name for need in bound.rule.needs for name in MADE_FROM.get(need, (need,))]
    return [*dict.fromkeys(made), *(["dates"] if bound.rule.needs_any else [])]


def _thresholds(cores: pd.DataFrame, rules: list[BoundRule]) -> pd.DataFrame:
    """One row for each threshold that applies everywhere or to some core, and the number of cores."""
    rows = []
    for bound in rules:
        for name in bound.rule.limit_fields:
            settings = [setting for setting, _ in bound.settings if setting.name == name]
            everywhere = max(at for at, setting in enumerate(settings) if not setting.scope)
            left = np.ones(len(cores), dtype=bool)
            # a later one overrides an earlier one
            for setting in reversed(settings[everywhere:]):
                here = left & setting.applies(cores).to_numpy()
                left &= ~here
                if here.any() or not setting.scope:
                    rows.append(
                        {
                            "rule": bound.rule.slug,
                            "threshold": name,
                            "value": limit_in_words(setting.written),
                            "where": setting.where,
                            "origin": setting.origin,
                            "source": setting.source,
                            "cores": int(here.sum()),
                            "kind": setting.kind,
                        }
                    )
    return pd.DataFrame(rows, columns=list(names_of(AUDIT_TABLES["thresholds"])))


def _most_urgent(findings: pd.DataFrame, count: int) -> pd.Series:
    """The urgency of each of ``count`` cores: the most urgent among its failures and checks, missing without any."""
    to_act_on = findings["severity"].ne("note").to_numpy()
    rank = pd.Index(URGENCIES).get_indexer(pd.Index(findings["urgency"]))[to_act_on]
    least = np.full(count, len(URGENCIES))
    np.minimum.at(least, findings["core"].to_numpy()[to_act_on], rank)
    return pd.Series([*URGENCIES, None], dtype="str").take(least).reset_index(drop=True)


def _joined(findings: pd.DataFrame, count: int) -> pd.Series:
    """The slugs of each of ``count`` cores, joined; ``findings`` are by core."""
    ends = np.cumsum(np.bincount(findings["core"], minlength=count))
    lists = pa.ListArray.from_arrays(pa.array(np.append(0, ends), pa.int32()), texts_of(findings["rule"]))
    return as_column(pc.binary_join(lists, pa.scalar(";", pa.large_string())), pd.RangeIndex(count))
