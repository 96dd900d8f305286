"""The report's first page: what can hurt someone, what is overdue, what to lift, what the register has wrong."""

from typing import Any, Final

from markupsafe import Markup

from pipeline.contracts import CORE_STATES, URGENCIES
from pipeline.publish.actions import Actions, actions_of
from pipeline.publish.looks import STATUS_LOOKS
from pipeline.publish.pages.charts import status_bar
from pipeline.publish.report.groups import groups, has_several_registers
from pipeline.publish.report.names import LONGEST_NAME, on_map
from pipeline.publish.words import Words
from pipeline.results import RunResult

__all__ = ["first_page"]

_STATUSES: Final = tuple(STATUS_LOOKS)


def first_page(result: RunResult, words: Words) -> dict[str, Any]:
    """Return the values for the template of the first page."""
    counts = {status: result.account[status] for status in _STATUSES}
    cores_read = max(result.account["cores"], 1)
    actions = actions_of(result)
    states = result.counted("state").value_counts()
    return {
        "groups": groups(result, actions, words),
        "adding_up": _adding_up(result, actions, words),
        "flagged_by_need": _flagged_by_need(actions, words),
        "accepted": actions.accepted,
        "accepted_hazards": actions.accepted_hazards,
        "status_bar": status_bar(counts, "all-cores", words),
        "statuses": [
            {
                "status": status,
                "n": on_map(words.number(count), status=status),
                "share": words.percent(count / cores_read, 1),
            }
            for status, count in counts.items()
        ],
        "who": words.say(_who_key(result)),
        "status_counts": [
            words.say("first.state_count", n=count, state=words.say(f"status.{status}"))
            for status, count in counts.items()
        ],
        "states": [
            words.say("first.state_count", n=int(states[state]), state=words.say(f"first_state.{state}"))
            for state in CORE_STATES
            if state in states
        ],
        "no_reinstatement": _no_reinstatement(result, words),
        "not_run": _not_run(result, words),
        "baseline_day": result.earlier.run.as_of if result.earlier.run else None,
    }


def _who_key(result: RunResult) -> str:
    """Return the key of the heading over who answers for a core: what a run knows of it."""
    findings = result.audit.findings
    owner = "_owner" if "owner" in findings and findings["owner"].fillna("").ne("").any() else ""
    several = "_several" if has_several_registers(result) else ""
    return f"first.who{owner}{several}"


def _adding_up(result: RunResult, actions: Actions, words: Words) -> Markup:
    """Return how the groups add up to the cores."""
    of_groups = actions.urgency.value_counts()
    cores, to_act_on = result.account["cores"], len(actions.urgency)
    total = " + ".join(words.number(int(of_groups.get(name, 0))) for name in URGENCIES)
    return words.say("first.adding_up", sum=total, n=to_act_on, all=cores, rest=cores - to_act_on)


def _flagged_by_need(actions: Actions, words: Words) -> list[Markup]:
    """Return what the flagged cores need; the numbers add up to them."""
    counts = {"repair": actions.repair, "correct": actions.correct, "settled": actions.settled}
    return [words.say(f"first.{name}", n=count) for name, count in counts.items() if count]


def _no_reinstatement(result: RunResult, words: Words) -> list[Markup]:
    """Return a sentence for each register without a column for the reinstatement date."""
    registers = result.counted("register")
    without = registers[~registers.isin(result.inputs.register.kept.get("reinstated_at", frozenset()))]
    return [
        words.say("first.no_reinstatement", register=words.own(name, LONGEST_NAME), n=int(count))
        for name, count in without.value_counts(sort=False).items()
    ]


def _not_run(result: RunResult, words: Words) -> dict[str, Any]:
    """Return how many checks, and how many whole rules, lacked data."""
    rules = result.audit.rules
    lacking, asked = int(rules["not_assessed"].sum()), int((rules["assessed"] + rules["not_assessed"]).sum())
    return {
        "checks": lacking,
        "of": asked,
        "share": words.percent(lacking / max(asked, 1), 1),
        "rules": len(result.audit.not_run),
    }
