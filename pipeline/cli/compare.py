"""The command ``compare``: what changed between two runs or packs."""

from pathlib import Path
from typing import TYPE_CHECKING

import click

from pipeline.cli.group import commands
from pipeline.cli.terminal import printer

if TYPE_CHECKING:
    from pipeline.results import Comparison

_RUN = click.Path(path_type=Path)


@commands.command("compare", short_help="Show what changed between two runs or packs.")
@click.argument("before", type=_RUN)
@click.argument("after", type=_RUN)
@click.option("--out", type=click.Path(path_type=Path, file_okay=False),
              help="Folder for the outputs.  [default: compare-<day>-to-<day> beside the later one]")  # fmt: skip
def compare_command(before: Path, after: Path, out: Path | None) -> None:
    """Show what changed from BEFORE to AFTER.

    Each is the folder of a run, such as outputs/<programme>/<as_of>, or a handover pack: its folder or its zip. Cores
    are matched by their ids. Writes changes.csv, changes.xlsx and compare.html.
    """
    from pipeline.commands.compare import compare_runs

    _print(compare_runs(before, after, out))


def _print(found: "Comparison") -> None:
    from rich.table import Table

    from pipeline.publish.report.changes import change_meaning
    from pipeline.publish.words import words_of

    console = printer()
    old, new, account = found.before.as_of, found.after.as_of, found.changes.account
    console.print(f"{found.after.programme}: from {old} to {new}", soft_wrap=True)
    if found.is_swapped:
        console.print("The later run was given first, so the two are swapped.")
    for caveat in found.caveats:
        console.print(f"Read first: {caveat}")
    happened = found.changes.kinds[found.changes.kinds["cores"].gt(0)]
    counts = Table("change", "cores", "what it means")
    for kind in happened.to_dict("records"):
        counts.add_row(kind["change"], f"{kind['cores']:,}", change_meaning(kind["change"], words_of("en")))
    console.print(counts if len(happened) else "Nothing has changed.")
    stock = Table("cores", str(old), "added", "newly", "no longer", "removed", "not comparable", str(new))
    for row in found.changes.stock.to_dict("records"):
        stock.add_row(row.pop("cores"), *(f"{count:,}" for count in row.values()))
    console.print(stock)
    console.print(
        f"Rows: {account['matched']:,} matched, {account['removed']:,} removed, {account['added']:,} added; not "
        f"comparable: {account['not_comparable_before']:,} before, {account['not_comparable_after']:,} after."
    )
    for notice in found.notices[:10]:
        console.print(f"Note: {notice}")
    console.print(f"Outputs: {found.folder}", soft_wrap=True)
