"""The report's rules: what share each one found, examples, and what could not be checked."""

from collections import defaultdict
from collections.abc import Mapping
from typing import Any, Final

import pandas as pd
from markupsafe import Markup

from pipeline.audit.comparison import FEWEST
from pipeline.audit.ranking import by_urgency
from pipeline.contracts import URGENCIES
from pipeline.intervals import true_rates
from pipeline.publish.actions import actions_of
from pipeline.publish.report.names import LONGEST_NAME, anchor, column_label, core_name, on_map, place_name
from pipeline.publish.report.shares import interval
from pipeline.publish.words import Words
from pipeline.results import RunResult

__all__ = ["rules_and_gaps"]

# cores shown per rule
_EXAMPLES: Final = {"fail": 3, "check": 1}
_MOST_RULES: Final = 5
_MOST_INPUTS: Final = 12
_MOST_UNPLACED: Final = 15
# ids of a reason; all of them are in the workbook of the orders
_MOST_IDS: Final = 40
_MOST_NOTICES: Final = 40


def rules_and_gaps(result: RunResult, words: Words) -> dict[str, Any]:
    """Return the values for the templates of rules, examples and gaps."""
    rules, findings = result.audit.rules, result.counted_findings
    ranked = by_urgency(rules)
    rows = _rule_rows(ranked, words)
    idle = ranked[ranked["assessed"].eq(0)]
    lacks_data = idle["rule"].isin(result.audit.not_run)
    to_act_on = actions_of(result).findings
    with_examples = ranked[ranked["rule"].isin(to_act_on["rule"].unique())]
    return {
        "findings_total": len(findings),
        "rules_run": len(rules) - len(idle),
        "at_limit_total": int(rules["at_limit"].sum()),
        "urgencies": URGENCIES,
        "rules_found": [row for row in rows if row["n"]],
        "rules_silent": [row for row in rows if not row["n"] and row["was_run"]],
        "not_run_rules": idle.loc[lacks_data, "rule"].tolist(),
        "inapplicable": idle.loc[~lacks_data, "rule"].tolist(),
        "examples": _examples(result, to_act_on, with_examples, words),
        **_gaps(result, words),
    }


def _rule_rows(rules: pd.DataFrame, words: Words) -> list[dict[str, Any]]:
    assessed = rules["assessed"].clip(lower=1)
    # a core at the limit may be a breach: the share is at least without all of them, and at most with all
    low, _ = true_rates(rules["found"], assessed)
    _, high = true_rates(rules["found"] + rules["at_limit"], assessed)
    return [
        {
            "rule": rule["rule"],
            "severity": rule["severity"],
            "urgency": rule["urgency"],
            "title": words.own(rule["title"]),
            "n": rule["found"],
            "anchor": anchor("rule", rule["rule"]),
            "found": on_map(words.number(rule["found"]), rule=rule["rule"]),
            "was_run": rule["assessed"] > 0,
            "assessed": words.number(rule["assessed"]),
            "share": words.percent(rule["found"] / max(rule["assessed"], 1), 1),
            "interval": interval(least, most, words),
            "most": words.say("rule.at_most", share=words.percent(most, 1)),
            "is_few": rule["assessed"] < FEWEST,
            "at_limit": words.number(rule["at_limit"]),
            "not_assessed": words.number(rule["not_assessed"]),
            "not_applicable": words.number(rule["not_applicable"]),
        }
        for rule, least, most in zip(rules.to_dict("records"), low, high, strict=True)
    ]


def _examples(result: RunResult, findings: pd.DataFrame, rules: pd.DataFrame, words: Words) -> list[dict[str, Any]]:
    """Return for each rule its first cores with their findings, those to act on alone."""
    places = result.table.set_index("row")[["district", "street"]]
    shown = findings[findings.groupby("rule").cumcount().lt(findings["severity"].map(_EXAMPLES).astype("int64"))].join(
        places, on="row"
    )
    rows: dict[str, list[dict[str, Any]]] = defaultdict(list)
    for finding in shown.to_dict("records"):
        rows[finding["rule"]].append(_example_row(finding, words))
    return [
        {
            "rule": rule["rule"],
            "severity": rule["severity"],
            "urgency": rule["urgency"],
            "title": words.own(rule["title"]),
            "n": rule["found"],
            "rows": rows[rule["rule"]],
        }
        for rule in rules.to_dict("records")
    ]


def _example_row(finding: Mapping[Any, Any], words: Words) -> dict[str, Any]:
    return {
        "row": finding["row"],
        "core": core_name(finding["core_id"], words),
        "district": place_name(finding["district"], "format.no_district", words),
        "street": place_name(finding["street"], "format.no_street", words),
        "message": words.own(finding["message"]),
    }


def _gaps(result: RunResult, words: Words) -> dict[str, Any]:
    """Return what the rules lacked, which cores are not on the map or not ordered, and the notices of the inputs."""
    evidence = result.audit.evidence
    useful = evidence[evidence["cores"].gt(0)]
    notices = result.inputs.notices
    return {
        "evidence": [
            row
            | {
                "label": column_label(row["input"], words),
                "rules": _short_list(str(row["rules"]).split(", "), words),
                "reasons": _reasons(row, words),
            }
            for row in useful.head(_MOST_INPUTS).to_dict("records")
        ],
        "evidence_left": max(len(useful) - _MOST_INPUTS, 0),
        "unplaced": _unplaced(result, words),
        "not_ordered": _not_ordered(result.orders.cores_left_out, words),
        "notices": [words.own(notice) for notice in notices[:_MOST_NOTICES]],
        "notices_left": max(len(notices) - _MOST_NOTICES, 0),
    }


def _not_ordered(left_out: pd.DataFrame, words: Words) -> list[dict[str, Any]]:
    """Return the open cores that nothing is ordered for, by reason: their number, the first ids, how many more."""
    return [
        {
            "reason": words.own(reason),
            "cores": words.number(len(ids)),
            "ids": [core_name(core, words) for core in ids.head(_MOST_IDS)],
            "ids_left": max(len(ids) - _MOST_IDS, 0),
        }
        for reason, ids in left_out["core_id"].groupby(left_out["reason"], sort=True)
    ]


def _reasons(row: dict[Any, Any], words: Words) -> list[Markup]:
    """Return why an input is missing: registers have no column for it, or it is not filled in."""
    of_all = {"not_kept": int(row["not_kept"]), "left_empty": int(row["left_empty"])}
    registers = words.own(row["registers"], LONGEST_NAME)
    return [words.say(f"gaps.{name}", n=n, registers=registers) for name, n in of_all.items() if n]


def _unplaced(result: RunResult, words: Words) -> list[dict[str, Any]]:
    """Return the first cores that are not on the map, each with the finding that says why."""
    unplaced = result.counted_table[result.counted("x_m").isna().to_numpy()]
    findings = result.counted_findings
    findings = findings[findings["rule"].str.startswith("position-") & findings["severity"].ne("note")]
    why = findings.drop_duplicates("row").set_index("row")["message"]
    return [
        {
            "row": int(core["row"]),
            "core": core_name(core["core_id"], words),
            "why": words.own(why.get(core["row"], "")),
        }
        for core in unplaced.head(_MOST_UNPLACED).to_dict("records")
    ]


def _short_list(rules: list[str], words: Words) -> Markup:
    """Return the first rules by their labels, and how many more there are."""
    named = Markup(", ").join(words.rule_label(rule) for rule in rules[:_MOST_RULES])
    more = len(rules) - _MOST_RULES
    return words.say("report.and_more", list=named, n=more) if more > 0 else named
