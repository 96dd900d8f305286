"""The report's rules: what share each found, examples, and what could not be judged."""

from typing import Any, Final

import pandas as pd
from markupsafe import Markup

from pipeline.audit.rates import FEWEST
from pipeline.intervals import true_rates
from pipeline.publish.report.first_page import name_of_place
from pipeline.publish.report.places import shown_interval
from pipeline.publish.words import Words
from pipeline.results import RunResult

__all__ = ["rules_and_gaps"]

_SEVERITIES: Final = ("fail", "check", "note")
_EXAMPLES: Final = {"fail": 3, "check": 1}
_MOST_RULES: Final = 5
_MOST_INPUTS: Final = 12
_MOST_UNPLACED: Final = 15
_MOST_NOTICES: Final = 40
_LONGEST_NAME: Final = 60


def rules_and_gaps(result: RunResult, words: Words) -> dict[str, Any]:
    """Return what the templates of rules, examples and gaps show."""
    rules, found = result.audit.rules, result.audit.findings
    order = rules["severity"].map(_SEVERITIES.index)
    ranked = rules.assign(order=order).sort_values(["order", "found", "rule"], ascending=[True, False, True])
    rows = _shares(ranked, words)
    mute = ranked[ranked["assessed"].eq(0)]
    lacking = mute["rule"].isin(result.audit.not_run)
    loud = ranked[ranked["found"].gt(0) & ranked["severity"].ne("note")]
    return {
        "findings_total": len(found),
        "rules_asked": len(rules) - len(mute),
        "rules_found": [one for one in rows if one["n"]],
        "rules_silent": [one for one in rows if not one["n"] and one["judged"]],
        "unasked": mute.loc[lacking, "rule"].tolist(),
        "unconcerned": mute.loc[~lacking, "rule"].tolist(),
        "examples": _examples(result, loud, words),
        **_gaps(result, words),
    }


def _shares(rules: pd.DataFrame, words: Words) -> list[dict[str, Any]]:
    asked = rules["assessed"].clip(lower=1)
    low, high = true_rates(rules["found"], asked)
    return [
        {
            "rule": one["rule"],
            "severity": one["severity"],
            "title": words.own(one["title"]),
            "n": one["found"],
            "found": words.number(one["found"]),
            "judged": one["assessed"] > 0,
            "assessed": words.number(one["assessed"]),
            "share": words.percent(one["found"] / max(one["assessed"], 1), 1),
            "interval": shown_interval(least, most, words),
            "most": words.say("rule.at_most", share=words.percent(most, 1)),
            "is_few": one["assessed"] < FEWEST,
            "not_assessed": words.number(one["not_assessed"]),
            "not_applicable": words.number(one["not_applicable"]),
        }
        for one, least, most in zip(rules.to_dict("records"), low, high, strict=True)
    ]


def _examples(result: RunResult, rules: pd.DataFrame, words: Words) -> list[dict[str, Any]]:
    where = result.table.set_index("row")[["district", "street"]]
    found = result.audit.findings
    asked = found[found["rule"].isin(rules["rule"])]
    shown = asked[asked.groupby("rule").cumcount().lt(asked["severity"].map(_EXAMPLES).astype("int64"))].join(
        where, on="row"
    )
    rows = {rule: _cells(group, words) for rule, group in shown.groupby("rule")}
    return [
        {
            "rule": one["rule"],
            "severity": one["severity"],
            "title": words.own(one["title"]),
            "n": one["found"],
            "rows": rows[one["rule"]],
        }
        for one in rules.to_dict("records")
    ]


def _cells(found: pd.DataFrame, words: Words) -> list[dict[str, Any]]:
    return [
        {
            "row": one["row"],
            "core": name_of_place(one["core_id"], "format.no_id", words),
            "district": name_of_place(one["district"], "format.no_district", words),
            "street": name_of_place(one["street"], "format.no_street", words),
            "message": words.own(one["message"]),
        }
        for one in found.to_dict("records")
    ]


def _gaps(result: RunResult, words: Words) -> dict[str, Any]:
    evidence = result.audit.evidence
    useful = evidence[evidence["cores"].gt(0)]
    unplaced = result.table[result.cores["x_m"].isna().to_numpy()]
    why = result.audit.findings
    why = why[why["rule"].str.startswith("position-") & why["severity"].ne("note")]
    reasons = why.drop_duplicates("row").set_index("row")["message"]
    left = result.orders.left_out.groupby("reason", sort=True)["cores"].sum()
    return {
        "evidence": [
            one | {"rules": _listed(str(one["rules"]).split(", "), words)}
            for one in useful.head(_MOST_INPUTS).to_dict("records")
        ],
        "evidence_left": max(len(useful) - _MOST_INPUTS, 0),
        "unplaced": [
            {
                "row": int(one["row"]),
                "core": name_of_place(one["core_id"], "format.no_id", words),
                "why": words.own(reasons.get(one["row"], "")),
            }
            for one in unplaced.head(_MOST_UNPLACED).to_dict("records")
        ],
        "left_out": [{"reason": words.own(reason), "cores": words.number(cores)} for reason, cores in left.items()],
        "notices": [words.own(notice) for notice in result.inputs.notices[:_MOST_NOTICES]],
        "notices_left": max(len(result.inputs.notices) - _MOST_NOTICES, 0),
    }


def _listed(rules: list[str], words: Words) -> Markup:
    named = Markup(", ").join(Markup("<code>{}</code>").format(rule) for rule in rules[:_MOST_RULES])
    more = len(rules) - _MOST_RULES
    return words.say("report.and_more", list=named, n=more) if more > 0 else named
