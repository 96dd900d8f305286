"""The command that explains one core."""

from pathlib import Path

import click

from pipeline.cli.group import commands
from pipeline.cli.terminal import line_width, say, say_lines


@commands.command("explain", short_help="Show everything about one core, for a dispute or a court.")
@click.argument("run", type=click.Path(path_type=Path))
@click.argument("core", required=False)
@click.option(
    "--row", type=click.IntRange(min=1), help="One row, where several carry the id, or for a core without one."
)
@click.option("--page", type=click.Path(path_type=Path, dir_okay=False), help="Also write it as a page to print.")
def explain_command(run: Path, core: str | None, row: int | None, page: Path | None) -> None:
    """Show everything about core CORE of run RUN, a folder such as outputs/<programme>/<as_of>.

    What was read and repaired, where the core is and how certain that is, its volumes with every number, its mix and
    order lines, each rule with its limit and outcome, decisions and history: all from the run's own folder.
    """
    from pipeline.commands.explain import explain_in_words

    say_lines(explain_in_words(run, core, row, line_width(), page), is_line=False)
    if page is not None:
        say()
        say(f"Page: {page}")
