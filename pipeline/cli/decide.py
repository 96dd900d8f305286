"""The command ``decide``: writes a sheet of the findings that await a decision."""

from pathlib import Path
from typing import TYPE_CHECKING, Final

import click

from pipeline.cli.group import commands
from pipeline.cli.terminal import printer
from pipeline.wording import counted

if TYPE_CHECKING:
    from pipeline.commands.decide import DecisionSheet

# those of findings, written once more so that no command waits for the tables to load
_URGENCIES: Final = ("hazard", "overdue", "quality", "record")


@commands.command("decide", short_help="Write a sheet of the findings that await a decision.")
@click.argument("run", type=click.Path(path_type=Path))
@click.option("--out", type=click.Path(path_type=Path, dir_okay=False),
              help="File to write, .csv or .xlsx.  [default: decide-<as_of>.csv beside RUN]")  # fmt: skip
@click.option("--urgency", type=click.Choice(_URGENCIES), multiple=True,
              help="Take only findings of this urgency; may be repeated.")  # fmt: skip
@click.option("--owner", multiple=True, help="Take only findings of this owner; may be repeated.")
def decide_command(run: Path, out: Path | None, urgency: tuple[str, ...], owner: tuple[str, ...]) -> None:
    """Write a sheet of the findings of RUN that await a decision, the most urgent first.

    Fill in decision (accept, correct, dispute or defer), decided_by, reason, decided_on and until with any spreadsheet
    program, and name the file in the programme file: [decisions] path = "decisions.csv". Findings whose decision holds
    are left out; those whose decision has ended are on the sheet again, with the reason.
    """
    from pipeline.commands.decide import write_decision_sheet

    _print(write_decision_sheet(run, out, urgency, owner))


def _print(written: "DecisionSheet") -> None:
    from rich.table import Table

    console = printer()
    found, sheet = written.awaiting, written.awaiting.sheet
    console.print(
        f"{written.run.programme}, as of {written.run.as_of.isoformat()}: {counted(len(sheet), 'finding')} to decide.",
        soft_wrap=True,
    )
    if len(sheet):
        table = Table("urgency", "findings", "cores")
        for urgency in _URGENCIES:
            here = sheet[sheet["urgency"].eq(urgency)]
            if len(here):
                # two registers may use the same ids
                cores = here[["register", "core_id"]].drop_duplicates()
                table.add_row(urgency, f"{len(here):,}", f"{len(cores):,}")
        console.print(table)
    lines = {
        "With an earlier decision that no longer holds": found.returned,
        "Left out, because a decision holds": found.decided,
        "Left out, because the core has no id (decide by rule)": found.without_id,
        "Left out by --urgency or --owner": found.others,
    }
    for words, count in lines.items():
        if count:
            console.print(f"{words}: {counted(count, 'finding')}.")
    console.print(f"Sheet: {written.path}", soft_wrap=True)
