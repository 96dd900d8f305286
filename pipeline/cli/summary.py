"""What an audit prints when it is done."""

import shutil
from typing import TYPE_CHECKING

from pipeline.cli.group import WIDTH
from pipeline.contracts import SEVERITIES
from pipeline.results import RunResult
from pipeline.wording import counted

if TYPE_CHECKING:
    from rich.table import Table

__all__ = ["line_width", "summary"]

_MOST_NOTICES = 10


def line_width() -> int:
    """Return how many characters fit on a line."""
    return min(WIDTH, shutil.get_terminal_size((WIDTH, 24)).columns)


def summary(result: RunResult) -> None:
    """Print what a run found."""
    from rich.console import Console
    from rich.markup import escape

    console = Console(width=line_width(), highlight=False)
    console.print(f"{escape(result.settings.programme.name)}, as of {result.as_of.isoformat()}", soft_wrap=True)
    console.print(_status_table(result.account))
    if len(result.audit.findings):
        console.print(_rule_table(result))
    if result.audit.not_run:
        console.print(f"Rules not run, no data supplied: {', '.join(result.audit.not_run)}.")
    console.print(_materials(result))
    for notice in result.inputs.notices[:_MOST_NOTICES]:
        console.print(f"Note: {escape(notice)}")
    if len(result.inputs.notices) > _MOST_NOTICES:
        console.print(f"{counted(len(result.inputs.notices) - _MOST_NOTICES, 'more note')} in run.json.")
    console.print(f"Outputs: {escape(str(result.folder))}", soft_wrap=True)


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


def _rule_table(result: RunResult) -> "Table":
    """Return the rules with findings: failures first, then checks, then notes; within each, the most cores first."""
    from rich.markup import escape
    from rich.table import Table

    found = result.audit.rules[result.audit.rules["found"].gt(0)]
    ranked = found.assign(order=found["severity"].map(SEVERITIES.index)).sort_values(
        ["order", "found", "rule"], ascending=[True, False, True]
    )
    table = Table("rule", "severity", "cores", "what is wrong")
    for rule in ranked.to_dict("records"):
        table.add_row(rule["rule"], rule["severity"], f"{rule['found']:,}", escape(rule["title"]))
    return table


def _materials(result: RunResult) -> str:
    """Return a sentence on the materials for the open cores, and on the open cores that are not ordered."""
    from rich.markup import escape

    from pipeline.publish.orders.workbook import in_units

    orders = result.orders
    lines = in_units(orders.lines, result.settings.orders.units)
    bags = lines[lines["packs"].notna()].groupby(["item", "unit"])[["needed", "packs"]].sum()
    items = [
        f"{escape(line['item'])} {counted(int(line['packs']), 'bag')} ({line['needed']:,.0f} {line['unit']} needed)"
        for line in bags.reset_index().to_dict("records")
    ]
    sentence = f"Materials to reinstate {counted(orders.cores, 'open core')}: {'; '.join(items) or 'none'}."
    missing = int(orders.left_out["cores"].sum())
    if missing:
        sentence += (
            f" {counted(missing, 'open core')} not ordered: surface or size missing, or not suitable for core "
            "reinstatement."
        )
    return sentence
