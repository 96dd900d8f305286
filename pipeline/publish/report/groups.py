"""The first page's groups: hazards, what is overdue, what is to be lifted, what is wrong in the register."""

from typing import Any, Final

import pandas as pd
from markupsafe import Markup

from pipeline.audit.outcomes import AT_LIMIT, NOT_ASSESSED
from pipeline.audit.overdue import OVERDUE_DAYS
from pipeline.audit.ranking import by_urgency
from pipeline.contracts import SEVERITIES, URGENCIES
from pipeline.publish.actions import Actions
from pipeline.publish.report.decisions import answer_in_words
from pipeline.publish.report.names import LONGEST_NAME, column_label, core_name, on_map, place_name
from pipeline.publish.sentences import faults
from pipeline.publish.words import Words
from pipeline.results import RunResult

__all__ = ["groups", "has_several_registers"]

# cores shown per group, and rules and missing inputs; the rest is counted
_MOST_CORES: Final = {"hazard": 5, "overdue": 5, "quality": 4, "record": 0}
_MOST_RULES: Final = 4
_MOST_IDS: Final = 2
_MOST_INPUTS: Final = 3
# characters, on a page that is read in a minute
_LONGEST_FAULT: Final = 170
# who answers for a core, as far as a run knows it: of the findings and the cores
_OF_FINDING: Final = ("owner",)
_OF_CORE: Final = ("crew", "permit_no")
_RECORD: Final = URGENCIES[-1]
_QUALITY: Final = "quality"


def groups(result: RunResult, actions: Actions, words: Words) -> list[dict[str, Any]]:
    """Return the values for the template of each group, the most urgent first; each core is in one group at most."""
    return [_group(urgency, result, actions, words) for urgency in URGENCIES]


def _group(urgency: str, result: RunResult, actions: Actions, words: Words) -> dict[str, Any]:
    rows = actions.urgency.index[actions.urgency.eq(urgency)]
    mine = actions.findings[actions.findings["row"].isin(rows) & actions.findings["urgency"].eq(urgency)]
    flagged = result.cores["status"].eq("flagged") & result.cores["row"].isin(rows)
    is_lifted = mine["row"].isin(_lifted(mine, result))
    listed = mine.iloc[:0] if urgency == _RECORD else mine[is_lifted] if urgency == _QUALITY else mine
    cores, most = _by_core(listed, result), _MOST_CORES[urgency]
    return {
        "urgency": urgency,
        "n": len(rows),
        **_tile(urgency, len(rows), result, words),
        "flagged": int(flagged.sum()),
        "cores": _core_rows(cores.head(most), result, words),
        "cores_left": max(len(cores) - most, 0),
        "kinds": _kinds(mine, is_lifted, result, words) if urgency == _QUALITY else _by_rule(listed, words),
        "rules": _rule_rows(mine, result, words) if urgency == _RECORD else [],
        "rules_left": max(mine["rule"].nunique() - _MOST_RULES, 0) if urgency == _RECORD else 0,
        "above": _above(urgency, result, actions, words),
        "new": int(mine["baseline"].eq("new").sum()) if "baseline" in mine else 0,
        **_unjudged(urgency, result, words),
    }


def _tile(urgency: str, count: int, result: RunResult, words: Words) -> dict[str, Any]:
    """Return the count as a link to the map, and how many cores the map shows besides.

    The map's filter does not ask which findings were accepted. A core whose most urgent finding was accepted counts in
    a less urgent group here, and the map does not show it there: such a count is no link.
    """
    more = int(result.counted("urgency").eq(urgency).sum()) - count
    shown = words.number(count)
    is_link = more >= 0 and count + more > 0
    return {"tile": on_map(shown, urgency=urgency) if is_link else shown, "accepted": max(more, 0)}


def _lifted(findings: pd.DataFrame, result: RunResult) -> pd.Series:
    """Return the rows of reinstated cores with a failure among these findings."""
    back = result.cores.loc[result.cores["state"].eq("back"), "row"]
    failed = findings.loc[findings["severity"].eq("fail"), "row"]
    return failed[failed.isin(back)]


def has_several_registers(result: RunResult) -> bool:
    """Return whether the cores come from more than one register, so that its name says who is meant."""
    return len(result.counted("register").unique()) > 1


def _by_core(findings: pd.DataFrame, result: RunResult) -> pd.DataFrame:
    """Return the first finding of each core, and how many ``more`` it has.

    What is overdue comes before what is not, cores that are out before those that are back, the longest overdue before
    the others, then failures.
    """
    back = result.cores.loc[result.cores["state"].eq("back"), "row"]
    order = findings.assign(
        graveness=findings["severity"].map(SEVERITIES.index),
        is_over=findings[OVERDUE_DAYS].notna(),
        is_back=findings["row"].isin(back),
    ).sort_values(
        ["is_over", "is_back", OVERDUE_DAYS, "graveness", "row", "rule"],
        ascending=[False, True, False, True, True, True],
        na_position="last",
    )
    return order.drop_duplicates("row").assign(more=lambda first: first["row"].map(findings["row"].value_counts()) - 1)


def _core_rows(findings: pd.DataFrame, result: RunResult, words: Words) -> list[dict[str, Any]]:
    cores = result.cores[["row", *_OF_CORE, "register"]].set_index("row").loc[findings["row"]]
    several = has_several_registers(result)
    shown = findings.assign(fault=faults(findings, result.audit.wordings, words)).join(
        result.table.set_index("row")[["district", "street", "lon", "lat"]], on="row", validate="many_to_one"
    )
    return [
        {
            "core": core_name(finding["core_id"], words),
            "row": finding["row"],
            "district": place_name(finding["district"], "format.no_district", words),
            "street": _where(finding, words),
            "who": _who(finding, core, words, several=several),
            "severity": finding["severity"],
            "fault": words.own(finding["fault"], _LONGEST_FAULT),
            "more": int(finding["more"]),
            "is_new": finding.get("baseline") == "new",
            "answer": answer_in_words(finding, words),
        }
        for finding, core in zip(shown.to_dict("records"), cores.to_dict("records"), strict=True)
    ]


def _where(finding: dict[Any, Any], words: Words) -> Markup:
    """Return the street, or without one the position, so that the core can be found."""
    if pd.notna(finding["street"]) or pd.isna(finding["lon"]):
        return place_name(finding["street"], "format.no_street", words)
    return words.say("format.at", lat=words.number(finding["lat"], 5), lon=words.number(finding["lon"], 5))


def _who(finding: dict[Any, Any], core: dict[Any, Any], words: Words, *, several: bool) -> list[Markup]:
    """Return who answers for a core, as far as it is known: owner, crew, register if there are several, permit."""
    names = [*(finding.get(name) for name in _OF_FINDING), *(core[name] for name in _OF_CORE)]
    names.insert(len(_OF_FINDING) + 1, core["register"] if several else None)
    return [words.own(name, LONGEST_NAME) for name in names if isinstance(name, str) and name]


def _kinds(findings: pd.DataFrame, is_lifted: pd.Series, result: RunResult, words: Words) -> list[Markup]:
    """Return how many cores of the group are not to be lifted, by what is to be done; kinds of none left out."""
    others = findings[~is_lifted]
    back = others["row"].isin(result.cores.loc[result.cores["state"].eq("back"), "row"])
    failed = others["row"].isin(others.loc[others["severity"].eq("fail"), "row"])
    rows = {"unfit": ~back & failed, "check_open": ~back & ~failed, "check_back": back}
    counts = {name: others.loc[here, "row"].nunique() for name, here in rows.items()}
    return [words.say(f"first.{name}", n=count) for name, count in counts.items() if count]


def _by_rule(findings: pd.DataFrame, words: Words) -> list[Markup]:
    """Return how many cores each rule found, the most first."""
    counts = findings["rule"].value_counts().sort_index(kind="stable").sort_values(ascending=False, kind="stable")
    return [words.say("first.of_rule", rule=words.rule_label(str(rule)), n=int(n)) for rule, n in counts.items()]


def _above(urgency: str, result: RunResult, actions: Actions, words: Words) -> Markup | None:
    """Return how many cores of more urgent groups have findings of this one too; None without any."""
    if urgency == URGENCIES[0]:
        return None
    higher = actions.urgency.index[actions.urgency.isin(URGENCIES[: URGENCIES.index(urgency)])]
    theirs = actions.findings[actions.findings["urgency"].eq(urgency) & actions.findings["row"].isin(higher)]
    if urgency == _QUALITY:
        theirs = theirs[theirs["row"].isin(_lifted(theirs, result))]
    if theirs.empty:
        return None
    days = theirs[OVERDUE_DAYS].max()
    longest = words.say("format.days", n=int(days)) if pd.notna(days) else ""
    return words.say(f"first.above_{urgency}", n=theirs["row"].nunique(), days=longest)


def _rule_rows(findings: pd.DataFrame, result: RunResult, words: Words) -> list[dict[str, Any]]:
    """Return the rules of a group that are found on the most cores: how many, mostly where and whose."""
    counts = findings.groupby("rule").size()
    rules = result.audit.rules
    shown = by_urgency(
        rules[rules["rule"].isin(counts.index)].assign(found=lambda mine: mine["rule"].map(counts).astype("int64"))
    )
    cores = result.cores.set_index("row")[["core_id", "district", "crew", "register"]]
    by = ("register", "crew") if has_several_registers(result) else ("crew",)
    rows = []
    for rule in shown.head(_MOST_RULES).to_dict("records"):
        mine = cores.loc[findings.loc[findings["rule"].eq(rule["rule"]), "row"]]
        rows.append(
            {
                "rule": rule["rule"],
                "severity": rule["severity"],
                "title": words.own(rule["title"]),
                "n": int(rule["found"]),
                "ids": [core_name(name, words) for name in mine["core_id"].head(_MOST_IDS)],
                "ids_left": max(len(mine) - _MOST_IDS, 0),
                "where": _most(mine["district"], "district", words),
                "who": [name for one in by if (name := _most(mine[one], one, words))],
            }
        )
    return rows


def _most(names: pd.Series, kind: str, words: Words) -> Markup:
    """Return the most frequent name, with its number where there are others; nothing where there is no name."""
    alike = names.str.strip().str.casefold()
    counts = alike.value_counts().sort_index(kind="stable").sort_values(ascending=False, kind="stable")
    if counts.empty:
        return Markup()
    most = words.own(names[alike.eq(counts.index[0])].iloc[0], LONGEST_NAME)
    if counts.iloc[0] == len(names):
        return most
    if counts.iloc[0] == 1:
        return words.say(f"first.spread_{kind}", n=len(counts))
    return words.say("first.most", name=most, n=int(counts.iloc[0]), all=len(names))


def _unjudged(urgency: str, result: RunResult, words: Words) -> dict[str, Any]:
    """Return the cores that a failure or check of this urgency could not be judged on, and what is missing for it."""
    rules, evidence = result.audit.rules, result.audit.evidence
    mine = set(rules.loc[rules["urgency"].eq(urgency) & rules["severity"].ne("note"), "rule"])
    outcomes = result.audit.outcomes[[name for name in result.audit.outcomes if name in mine]]
    outcomes = outcomes[outcomes.index.isin(result.counted_cores.index)]
    wanted = evidence["rules"].str.split(", ").map(lambda names: bool(mine & set(names)))
    ranked = evidence[wanted.astype(bool)]
    ranked = ranked.assign(all=ranked["cores"] + ranked["cores_with_others"]).sort_values("all", ascending=False)
    labels = [
        column_label(name, words) or Markup("<code>{}</code>").format(name)
        for name in ranked["input"].head(_MOST_INPUTS)
    ]
    return {
        "unjudged": int(outcomes.eq(NOT_ASSESSED).any(axis="columns").sum()),
        "missing": words.listed(labels),
        "at_limit": int(outcomes.eq(AT_LIMIT).any(axis="columns").sum()),
    }
