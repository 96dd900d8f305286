"""The command ``return``: takes a filled sheet back."""

from pathlib import Path
from typing import TYPE_CHECKING

import click

from pipeline.cli.group import commands
from pipeline.cli.terminal import printer
from pipeline.wording import counted

if TYPE_CHECKING:
    import pandas as pd

    from pipeline.commands.return_sheet import TakenBack

_MOST_LINES = 20


@commands.command("return", short_help="Take back a sheet that a crew filled in.")
@click.argument("run", type=click.Path(path_type=Path))
@click.argument("sheet", type=click.Path(path_type=Path, dir_okay=False))
@click.option("--out", type=click.Path(path_type=Path, dir_okay=False),
              help="Register of returns to write, .csv.  [default: returns-<SHEET>.csv beside RUN]")  # fmt: skip
@click.option("--day-first/--month-first", default=None, help="How dates such as 03/04/2026 are read.")
@click.option("--layer", help="Sheet of a workbook.")
def return_command(run: Path, sheet: Path, out: Path | None, layer: str | None, *, day_first: bool | None) -> None:
    """Check SHEET, the return-sheet.csv of RUN filled in (.csv or .xlsx), and make a register of returns of it.

    Name the register in the programme file: [returns] path = ["returns-SHEET.csv"]. The next audit fills what the
    registers lack with it. What a register holds already is never replaced.
    """
    from pipeline.commands.return_sheet import take_back

    _print(take_back(run, sheet, out, day_first=day_first, layer=layer))


def _print(taken: "TakenBack") -> None:

    console = printer()
    console.print(
        f"{taken.run.programme}, as of {taken.run.as_of.isoformat()}: {counted(taken.cores, 'core')} returned, "
        f"{counted(taken.blank, 'row')} left blank.",
        soft_wrap=True,
    )
    for title, table in (("Left out", taken.problems), ("To check", taken.warnings)):
        for line in _lines(title, table):
            console.print(line, soft_wrap=True)
    console.print(f"Register of returns: {taken.path!s}", soft_wrap=True)
    console.print(f'Name it in the programme file: [returns] path = ["{taken.path.name}"]', soft_wrap=True)


def _lines(title: str, table: "pd.DataFrame") -> list[str]:
    lines = [
        f'{title}: row {row["place"]}, {row["core_id"]}, {row["column"]}: found "{row["text"]}": {row["why"]}.'
        for row in table.head(_MOST_LINES).astype("str").fillna("").to_dict("records")
    ]
    if len(table) > _MOST_LINES:
        lines.append(f"{title}: {len(table) - _MOST_LINES:,} more.")
    return lines
