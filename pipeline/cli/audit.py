"""The commands that run a programme: audit, check, start."""

import datetime as dt
import sys
from pathlib import Path
from typing import TYPE_CHECKING

import click

from pipeline.cli.group import PROGRAMME, Day, commands
from pipeline.cli.progress import progress_of
from pipeline.cli.summary import inputs_table, summary

if TYPE_CHECKING:
    from pipeline.publish.report.pdf import Paper


@commands.command("audit")
@click.argument("programme", type=PROGRAMME)
@click.option("--out", type=click.Path(path_type=Path, file_okay=False), default=Path("outputs"), show_default=True,
              help="Folder that takes <programme>/<as_of>/.")  # fmt: skip
@click.option("--as-of", type=Day(), help="Day of the audit, in place of the programme's own.")
@click.option("--pdf", is_flag=True, help="Leave the report as report.pdf too; needs .venv/bin/pip install '.[pdf]'.")
@click.option("--paper", type=click.Choice(["A4", "Letter"]), default="A4", show_default=True, help="Paper of --pdf.")
@click.option("--strict", is_flag=True, help="End with exit code 1 if a core is flagged.")
@click.option("--quiet", is_flag=True, help="Say nothing but errors.")
def audit_command(
    programme: Path,
    out: Path,
    as_of: dt.date | None,
    pdf: bool,  # noqa: FBT001
    paper: "Paper",
    strict: bool,  # noqa: FBT001
    quiet: bool,  # noqa: FBT001
) -> None:
    """Audit PROGRAMME, a TOML file, and leave a finished run folder behind."""
    from pipeline.run import run_programme

    with progress_of(quiet=quiet) as progress:
        result = run_programme(programme, out, as_of, progress, paper if pdf else None)
    if not quiet:
        summary(result)
    if strict and result.account["flagged"]:
        sys.exit(1)


@commands.command("check")
@click.argument("programme", type=PROGRAMME)
def check_command(programme: Path) -> None:
    """Read and validate the inputs of PROGRAMME only; nothing is written."""
    from pipeline.run import read_programme

    with progress_of(quiet=False) as progress:
        progress.stage("intake", 1, 1)
        _, _, _, inputs = read_programme(programme, progress)
    inputs_table(inputs)


@commands.command("start")
@click.argument("folder", type=click.Path(path_type=Path, file_okay=False))
def start_command(folder: Path) -> None:
    """Write a starter programme into FOLDER: the demo town, and a programme file to edit."""
    from pipeline.commands.start import start

    for file in start(folder):
        click.echo(f"wrote {file}")
    click.echo(f"Now run: kerfbook audit {folder / 'programme.toml'}")
