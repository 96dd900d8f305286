"""The command start: a starter programme, or one proposed from the user's own files."""

import sys
from collections.abc import Callable
from pathlib import Path
from typing import Any

import click

from pipeline.cli.group import commands
from pipeline.cli.progress import progress_of
from pipeline.cli.terminal import say


class _File(click.Path):
    """A file; its name is looked at before a path takes a slash out of the address of a database."""

    name = "file"

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> Any:  # noqa: ANN401 - as click has it
        from pipeline.intake.files.paths import refuse_undecodable
        from pipeline.propose.file_groups import refuse_database

        refuse_database(str(value), "" if param is None else param.opts[0])
        refuse_undecodable([str(value)])
        # an empty text, or a folder such as . or /
        if not Path(str(value)).name:
            self.fail(f"found {str(value)!r}, expected the path of a file. Correct it.", param, ctx)
        return super().convert(value, param, ctx)


_FILE = _File(path_type=Path)
_LAYERS = {
    "roads": "Road lines; needed for every run, and to find the CRS of positions.",
    "surfaces": "Surface polygons.",
    "districts": "District polygons.",
    "joints": "Joints of concrete slabs.",
    "resurfaced": "Roads that were resurfaced.",
    "planned-works": "Planned resurfacing.",
    "protected": "Streets that the road authority protects.",
    "stock": "Stock of the yards.",
}


def _layer_options(command: Callable[..., None]) -> Callable[..., None]:
    """Add an option for each layer."""
    for name, meaning in reversed(_LAYERS.items()):
        command = click.option(f"--{name}", type=_FILE, metavar="FILE", help=meaning)(command)
    return command


@commands.command("start", short_help="Write a programme: a starter, or one proposed from your files.")
@click.argument("folder", type=click.Path(path_type=Path, file_okay=False))
@click.option(
    "--from", "registers", multiple=True, metavar="FILE",
    help="A register of cores to propose columns, units, dates and CRS from; a folder or a pattern stands for all its "
    "files. Repeat it for several.",
)  # fmt: skip
@_layer_options
@click.option(
    "--ask/--no-ask", "asks", default=None,
    help="Ask the questions that the files leave open, or write them into the programme. Default: ask in a terminal.",
)  # fmt: skip
def start_command(folder: Path, registers: tuple[str, ...], asks: bool | None, **layers: Path | None) -> None:  # noqa: FBT001 - click fills flags by name
    """Write a programme into FOLDER.

    Without --from it is a starter: the files of the demo town and a programme.toml in which every key is explained.
    Replace the files with your own and edit the paths and column names.

    With --from, the programme is proposed from your own files, which stay where they are. What the files do not show is
    never guessed: it is asked, or written into the programme as a question.
    """
    given = {name: file for name, file in layers.items() if file is not None}
    if registers:
        _start_from(folder, list(registers), given, asks=_is_terminal() if asks is None else asks)
        return
    if given:
        raise click.UsageError(
            f"--{next(iter(given)).replace('_', '-')}: found without --from, expected together with the registers "
            "that a programme is proposed from. Add --from FILE."
        )
    from pipeline.commands.start import start

    for file in start(folder):
        say(f"Wrote {file}")
    say(f"Next: kerfbook audit {folder / 'programme.toml'}")


def _is_terminal() -> bool:
    return sys.stdin.isatty() and sys.stdout.isatty()


def _start_from(folder: Path, registers: list[str], layers: dict[str, Path], *, asks: bool) -> None:
    """Propose a programme, ask its questions, write it, and print what was proposed."""
    from pipeline.cli.proposal import ask, proposal_summary
    from pipeline.commands.start_from import propose_programme, write_programme

    with progress_of(quiet=False) as progress:
        progress.stage("files", 1, 1)
        proposal = propose_programme(folder, registers, layers, progress.detail)
    answers: dict[int, Any] = ask(proposal) if asks else {}
    target = write_programme(folder, proposal, answers)
    proposal_summary(proposal, answers)
    say(f"Wrote {target}")
    say(f"Next: kerfbook check {target}")
