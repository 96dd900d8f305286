"""What a command says when it is done."""

import shutil
from typing import Any

from pipeline.cli.group import WIDTH
from pipeline.results import RunResult

__all__ = ["inputs_table", "line_width", "summary"]


def line_width() -> int:
    """Columns of text that fit."""
    return min(WIDTH, shutil.get_terminal_size((WIDTH, 24)).columns)


def summary(result: RunResult) -> None:
    """Print what a run found."""
    from rich.console import Console
    from rich.markup import escape
    from rich.table import Table

    console = Console(width=line_width(), highlight=False)
    account = result.account
    console.print(f"{escape(result.settings.programme.name)}, as of {result.as_of.isoformat()}", soft_wrap=True)
    counts = Table("cores read", "flagged", "pending", "reinstated", "unplaced", "left out by where")
    keys = ("rows_read", "flagged", "pending", "reinstated", "unplaced", "left_out_by_where")
    counts.add_row(*(f"{account[key]:,}" for key in keys))
    console.print(counts)

    found = result.audit.rules[result.audit.rules["found"].gt(0)]
    rules = Table("finding", "severity", "cores", "what it means")
    for one in found.sort_values(["found", "rule"], ascending=[False, True]).to_dict("records"):
        rules.add_row(one["rule"], one["severity"], f"{one['found']:,}", one["title"])
    if len(found):
        console.print(rules)
    unasked = result.audit.not_run
    if unasked:
        console.print(f"Not assessed for any core, for want of inputs: {', '.join(unasked)}.")

    orders = result.orders
    lines = orders.lines[orders.lines["packs"].notna()]
    packs = lines.groupby(["item", "unit"])[["needed", "packs"]].sum()
    needs = "; ".join(
        f"{one['item']} {one['needed']:,.0f} {one['unit']} = {one['packs']:,} packs"
        for one in packs.reset_index().to_dict("records")
    )
    left = int(orders.left_out["cores"].sum())
    console.print(
        f"To order for {orders.cores:,} open cores: {needs or 'nothing'}. Left out, need not known: {left:,}."
    )
    for notice in result.inputs.notices[:10]:
        console.print(f"Note: {escape(notice)}")
    console.print(f"Outputs: {escape(str(result.folder))}", soft_wrap=True)


def inputs_table(inputs: Any) -> None:  # noqa: ANN401 - kept out of the import of this module
    """Print what was read."""
    from rich.console import Console
    from rich.markup import escape
    from rich.table import Table

    console = Console(width=line_width(), highlight=False)
    table = Table("input", "file", "rows", "CRS")
    for file in inputs.files:
        table.add_row(file.section, escape(file.path), f"{file.rows:,}", file.crs)
    console.print(table)
    for notice in inputs.notices:
        console.print(f"Note: {escape(notice)}")
    console.print(f"The inputs can be used. Measured in {inputs.crs.name}.")
