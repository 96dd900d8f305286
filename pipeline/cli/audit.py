"""The command that audits a programme."""

import datetime as dt
import sys
from pathlib import Path
from typing import TYPE_CHECKING

import click

from pipeline.cli.group import PROGRAMME, Day, commands
from pipeline.cli.progress import progress_of
from pipeline.cli.summary import summary

if TYPE_CHECKING:
    from pipeline.publish.report.pdf import Paper


@commands.command("audit", short_help="Audit a programme and write a finished run folder.")
@click.argument("programme", type=PROGRAMME)
@click.option("--out", type=click.Path(path_type=Path, file_okay=False), default=Path("outputs"), show_default=True,
              help="Folder for the run, which is written to <programme>/<as_of>/ in it.")  # fmt: skip
@click.option("--as-of", type=Day(), help="Day of the audit, instead of the programme's own.")
@click.option("--pdf", is_flag=True, help="Also write the report as report.pdf; needs .venv/bin/pip install '.[pdf]'.")
@click.option(
    "--paper", type=click.Choice(["A4", "Letter"]), default="A4", show_default=True, help="Paper size for --pdf."
)
@click.option("--strict", is_flag=True, help="End with exit code 1 if a core is flagged.")
@click.option("--quiet", is_flag=True, help="Print errors only.")
def audit_command(
    programme: Path,
    out: Path,
    as_of: dt.date | None,
    pdf: bool,  # noqa: FBT001 - click fills flags by name
    paper: "Paper",
    strict: bool,  # noqa: FBT001 - click fills flags by name
    quiet: bool,  # noqa: FBT001 - click fills flags by name
) -> None:
    """Audit PROGRAMME, a TOML file, and write a finished run folder.

    The folder holds the map, the report, the tables, the orders and the handover for the road authority. It appears
    complete or not at all.
    """
    from pipeline.run import run_programme

    with progress_of(quiet=quiet) as progress:
        result = run_programme(programme, out, as_of, progress, paper if pdf else None)
    if not quiet:
        summary(result)
    if strict and result.account["flagged"]:
        sys.exit(1)
