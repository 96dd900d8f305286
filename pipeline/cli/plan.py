"""The command ``plan``: plans the work of a finished run anew."""

import datetime as dt
from pathlib import Path
from typing import Any

import click

from pipeline.cli.group import ALLOW_REMOTE, PROGRAMME, Day, commands
from pipeline.cli.progress import progress_of
from pipeline.cli.summary import faults_in_words
from pipeline.cli.terminal import printer
from pipeline.wording import counted


def _path(_context: click.Context, option: click.Parameter, value: str | None) -> str | None:
    """Return a path as the settings of a programme hold it: an address without what opens it."""
    from pipeline.programme.addresses import as_address

    try:
        return None if value is None else as_address(value)
    except ValueError as error:
        raise click.BadParameter(f"{error}. Correct it.", param=option) from None


@commands.command("plan", short_help="Plan the work of a finished run anew, without another audit.")
@click.argument("run", type=click.Path(path_type=Path))
@click.argument("programme", type=PROGRAMME, required=False)
@click.option("--start", type=Day(), help="First day of the plan, instead of the programme's own.")
@click.option("--horizon", type=click.IntRange(1, 3650), help="Days that are planned.")
@click.option("--keep", callback=_path,
              help="The plan.csv that was promised: its stops are kept, and the rest is planned around them. Its path "
              "is relative to PROGRAMME.")  # fmt: skip
@click.option("--out", type=click.Path(path_type=Path, file_okay=False),
              help="Folder to write.  [default: <as_of>-plan beside RUN]")  # fmt: skip
@ALLOW_REMOTE
def plan_command(
    run: Path,
    programme: Path | None,
    start: dt.date | None,
    horizon: int | None,
    keep: str | None,
    out: Path | None,
    allow_remote: bool,  # noqa: FBT001 - click fills flags by name
) -> None:
    """Plan the work of RUN anew with the crews, plan and orders of PROGRAMME; RUN itself stays as it is.

    Writes plan.csv, crew sheets, the return sheet, orders, loads and purchases.
    """

    from pipeline.commands.plan import plan_again
    from pipeline.intake.files.remote import remote_inputs
    from pipeline.publish.return_sheet import kept_sheets

    given: dict[str, Any] = {"start": start, "horizon_days": horizon, "keep": keep}
    changes = {name: value for name, value in given.items() if value is not None}
    with progress_of(quiet=False) as progress, remote_inputs(allowed=allow_remote) as remote:
        remote.told = progress.detail
        replanned = plan_again(run, programme, changes, out, progress)
    console = printer()
    stops, left = replanned.plan.stops, replanned.plan.not_planned
    console.print(
        f"{replanned.run.programme}, as of {replanned.run.as_of.isoformat()}: {counted(len(stops), 'core')} "
        f"planned, {int(stops['late_days'].gt(0).sum()):,} after their due day, {int(stops['is_kept'].sum()):,} kept "
        f"as promised, {len(left):,} not planned.{faults_in_words(replanned.plan.faults)}",
        soft_wrap=True,
    )
    for notice in (*kept_sheets(replanned.folder), *replanned.notices):
        console.print(f"Note: {notice}")
    console.print(f"Plan: {replanned.folder}", soft_wrap=True)
