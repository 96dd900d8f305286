"""What an audit prints when it is done."""

from typing import TYPE_CHECKING

from pipeline.cli.terminal import printer
from pipeline.wording import counted

if TYPE_CHECKING:
    import pandas as pd
    from rich.table import Table

    from pipeline.results import RunResult

__all__ = ["faults_in_words", "summary"]

_MOST_NOTICES = 10
# ids of a reason; all of them are in orders.xlsx
_MOST_IDS = 5
_STATES = {
    "open": "open with no cover recorded",
    "plated": "plated",
    "interim": "with an interim reinstatement",
    "back": "reinstated",
    "unknown": "not known",
}

_POSITIONS = {
    "stated": "stated for",
    "learnt": "learnt from the register for",
    "default": "by default for",
}


def summary(result: "RunResult") -> None:
    """Print what a run found."""

    from pipeline.publish.handover.limits import limits_exceeded
    from pipeline.publish.return_sheet import kept_sheets

    console = printer()
    console.print(f"{result.settings.programme.name}, as of {result.as_of.isoformat()}", soft_wrap=True)
    console.print(_status_table(result.account))
    console.print(_states(result))
    console.print(_to_act_on(result))
    if len(result.audit.findings):
        console.print(_rule_table(result))
    if result.audit.not_run:
        console.print(f"Rules not run, no data supplied: {', '.join(result.audit.not_run)}.")
    if positions := _positions(result):
        console.print(positions)
    console.print(_plan(result))
    console.print(_materials(result))
    written = [*limits_exceeded(result.folder / "handover"), *kept_sheets(result.folder)] if result.folder else []
    for notice in (*written, *result.inputs.notices[:_MOST_NOTICES]):
        console.print(f"Note: {notice}")
    if len(result.inputs.notices) > _MOST_NOTICES:
        console.print(f"{counted(len(result.inputs.notices) - _MOST_NOTICES, 'more note')} in run.json.")
    console.print(f"Outputs: {result.folder!s}", soft_wrap=True)
    if (database := result.settings.publish.database) and result.folder:
        console.print(f"Database: {database.shown}", soft_wrap=True)
    if left_out := result.settings.publish.left_out:
        console.print(f"Not asked for in [publish], and not in the folder: {', '.join(left_out)}.")


def _status_table(account: dict[str, int]) -> "Table":
    from rich.table import Table

    heads = {
        "cores": "cores",
        "flagged": "flagged",
        "pending": "pending",
        "reinstated": "reinstated",
        "unplaced": "not on the map",
    }
    further = {"copies": "repeated rows", "set_aside": "rows set aside", "left_out_by_where": "excluded by filter"}
    heads |= {key: head for key, head in further.items() if account[key]}
    table = Table(*heads.values())
    table.add_row(*(f"{account[key]:,}" for key in heads))
    return table


def _rule_table(result: "RunResult") -> "Table":
    """Return the rules with findings: by urgency, then severity, then the most cores first."""
    from rich.table import Table

    from pipeline.audit.ranking import by_urgency

    found = result.audit.rules[result.audit.rules["found"].gt(0)]
    table = Table("rule", "urgency", "severity", "cores", "what is wrong")
    for rule in by_urgency(found).to_dict("records"):
        cells = (rule["rule"], rule["urgency"], rule["severity"], f"{rule['found']:,}", rule["title"])
        table.add_row(*cells)
    return table


def _states(result: "RunResult") -> str:
    """Return a sentence on the states of the cores, which are told apart from their statuses."""
    from pipeline.contracts import CORE_STATES

    counts = result.counted("state").value_counts()
    named = [f"{counts[state]:,} {_STATES[state]}" for state in CORE_STATES if state in counts]
    return f"State: {', '.join(named) or 'no cores'}."


def _to_act_on(result: "RunResult") -> str:
    """Return sentences on what the flagged cores need, and on what has been accepted."""
    from pipeline.publish.actions import actions_of

    actions = actions_of(result)
    parts = [
        f"{actions.repair:,} to put right on site or with the road authority",
        f"{actions.correct:,} to correct in the register",
        *([f"{actions.settled:,} with accepted findings only"] if actions.settled else []),
    ]
    flagged = counted(result.account["flagged"], "flagged core")
    sentence = f"Of {flagged}: {', '.join(parts)}."
    if actions.accepted:
        sentence += f" Failures and checks accepted: {actions.accepted:,}."
    return sentence


def _positions(result: "RunResult") -> str:
    """Return what the errors of the positions rest on, or nothing where no position is weighed."""
    from pipeline.publish.learnt_errors import position_counts

    counts = position_counts(result)
    parts = [f"{said} {counted(counts[name], 'core')}" for name, said in _POSITIONS.items() if name in counts]
    return f"Position errors: {', '.join(parts)}." if parts else ""


def _plan(result: "RunResult") -> str:
    """Return a sentence on the plan, and a warning where its check found faults."""
    stops, left = result.plan.stops, len(result.plan.not_planned)
    if stops.empty:
        return f"Plan: nothing is planned; {left:,} not planned."
    return (
        f"Plan: {counted(len(stops), 'core')} from {stops['day'].min():%Y-%m-%d} to {stops['day'].max():%Y-%m-%d}, "
        f"{int(stops['late_days'].gt(0).sum()):,} after their due day; {left:,} not planned."
        f"{faults_in_words(result.plan.faults)}"
    )


def faults_in_words(faults: "pd.DataFrame") -> str:
    """Return a warning to follow a sentence on a plan whose check found faults, with the first of them."""
    if faults.empty:
        return ""

    crew, day, core, fault = faults[["crew", "day", "core_id", "fault"]].fillna({"core_id": ""}).iloc[0]
    at = f"{crew} on {day:%Y-%m-%d}" + (f", core {core}" if core else "")
    return f" Do not hand it out: its check found {counted(len(faults), 'fault')}, the first for {at}: {fault}"


def _materials(result: "RunResult") -> str:
    """Return sentences on the materials for the planned cores, and on the open cores that are not ordered."""

    from pipeline.order.lines import item_of
    from pipeline.publish.item_units import in_units

    orders = result.orders
    lines = in_units(orders.lines, result.settings.orders.units)
    bags = lines[lines["packs"].notna()].groupby(["item", "unit"])[["needed", "packs"]].sum()
    bought = orders.purchases.groupby("item")[["packs_ordered", "packs_safety_stock"]].sum()
    grout = {item_of(shade) for shade in result.catalogue.shades}
    items = []
    for line in bags.reset_index().to_dict("records"):
        item, is_grout = line["item"], line["item"] in grout
        count, net = counted(int(line["packs"]), "bag"), f"{line['needed']:,.0f} {line['unit']}"
        parts = [f"{count} to mix", f"net grout {net}"] if is_grout else [count, f"exactly {net}"]
        if item in bought.index:
            if is_grout:
                parts.append(f"safety stock {bought.loc[item, 'packs_safety_stock']:,.0f}")
            parts.append(f"to buy {bought.loc[item, 'packs_ordered']:,.0f}")
        items.append(f"{item} {parts[0]} ({', '.join(parts[1:])})")
    sentence = f"Materials to reinstate {counted(orders.cores, 'open core')}: {'; '.join(items) or 'none'}."
    return f"{sentence}{_not_ordered(orders.cores_left_out)}"


def _not_ordered(left_out: "pd.DataFrame") -> str:
    """Return how many open cores nothing is ordered for, by reason, each with its first ids."""
    if left_out.empty:
        return ""
    reasons = []
    for reason, ids in left_out["core_id"].fillna("(no id)").groupby(left_out["reason"], sort=True):
        more = f" and {len(ids) - _MOST_IDS:,} more" if len(ids) > _MOST_IDS else ""
        reasons.append(f"{len(ids):,} {reason} ({', '.join(ids.head(_MOST_IDS))}{more})")
    return f" {counted(len(left_out), 'open core')} not ordered: {'; '.join(reasons)}."
