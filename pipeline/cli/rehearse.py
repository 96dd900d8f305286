"""The command ``rehearse``: plants known faults into copies of the registers, and says which of them an audit finds."""

import datetime as dt
from pathlib import Path
from typing import TYPE_CHECKING

import click

from pipeline.cli.group import ALLOW_REMOTE, PROGRAMME, Day, commands
from pipeline.cli.progress import progress_of
from pipeline.cli.terminal import printer

if TYPE_CHECKING:
    from rich.console import Console

    from pipeline.publish.words import Words
    from pipeline.rehearse.result import Rehearsal


@commands.command("rehearse", short_help="Plant faults into copies of the registers; see which are found.")
@click.argument("programme", type=PROGRAMME)
@click.option("--out", type=click.Path(path_type=Path, file_okay=False),
              help="Folder of its own for rehearsal.html and the tables. Without it, nothing is written.")  # fmt: skip
@click.option("--faults", type=click.IntRange(1, 1_000_000), default=2000, show_default=True,
              help="How many faults to plant.")  # fmt: skip
@click.option("--seed", type=click.IntRange(0, 2**32 - 1), default=1, show_default=True,
              help="The same seed plants the same faults.")  # fmt: skip
@click.option("--as-of", type=Day(), help="Day of the audit. Default: that of the programme, otherwise today.")
@click.option("--quiet", is_flag=True, help="Print no progress.")
@ALLOW_REMOTE
def rehearse_command(
    programme: Path,
    out: Path | None,
    faults: int,
    seed: int,
    as_of: dt.date | None,
    quiet: bool,  # noqa: FBT001 - click fills flags by name
    allow_remote: bool,  # noqa: FBT001 - click fills flags by name
) -> None:
    """Plant known faults into copies of the registers of PROGRAMME, a TOML file, and audit them.

    Says for each kind of fault how many were found, missed and wrongly blamed on other rows, how large a slip in a
    coordinate must be to be found, and what would raise that. Neither the inputs nor any run are touched.
    """
    from pipeline.commands.rehearse import rehearse_programme
    from pipeline.intake.files.remote import remote_inputs
    from pipeline.publish.words import words_of

    with progress_of(quiet=quiet) as progress, remote_inputs(allowed=allow_remote) as remote:
        remote.told = progress.detail
        found, folder = rehearse_programme(programme, out, as_of, faults, seed, progress)
    console = printer()
    console.print(f"{found.settings.programme.name}, as of {found.as_of.isoformat()}", soft_wrap=True)
    _print_all(console, found, words_of("en"))
    if folder is not None:
        console.print(f"Outputs: {folder}", soft_wrap=True)


def _print_all(console: "Console", found: "Rehearsal", words: "Words") -> None:
    from rich import box
    from rich.table import Table

    from pipeline.publish.rehearsal.shown import kind_rows, size_rows, verdict, what_raises

    say = words.plainly
    for line in verdict(found, words):
        console.print(line)
    heads = ("kind", "planted", "found_head", "noticed_head", "missed_head", "blamed_head", "share", "interval")
    table = Table(box=box.SIMPLE_HEAD, padding=(0, 1, 0, 0), pad_edge=False)
    for head in heads:
        is_kind = head == "kind"
        table.add_column(say(f"rehearse.{head}"), justify="left" if is_kind else "right", ratio=1 if is_kind else None)
    group = ""
    for row in kind_rows(found, words):
        if row.group != group:
            group = row.group
            table.add_row(group, style="bold")
        label = row.label if row.rules else f"{row.label} ({say('rehearse.no_rule')})"
        table.add_row(f"  {label}", *row.counts, row.share, row.interval)
    console.print(table)
    if rows := size_rows(found, words):
        sizes = Table(title=say("rehearse.sizes"), title_justify="left", box=box.SIMPLE_HEAD, pad_edge=False)
        for head in ("band", "planted", "found_head", "share", "interval"):
            sizes.add_column(say(f"rehearse.{head}"), justify="left" if head == "band" else "right")
        for one in rows:
            sizes.add_row(*(one[key] for key in ("name", "planted", "found", "share_text", "interval")))
        console.print(sizes)
    console.print(f"{say('rehearse.raise')}:")
    for line in what_raises(found, words):
        console.print(f"- {line}")
    console.print()
    console.print(say("rehearse.warning"))
