"""The command that checks a handover pack."""

from pathlib import Path

import click

from pipeline.cli.group import commands, for_terminal
from pipeline.cli.summary import line_width

_GROUP = 8


@commands.command("verify", short_help="Check that a handover pack is complete and unaltered.")
@click.argument("pack", type=click.Path(path_type=Path))
@click.option("--fingerprint", help="Fingerprint as the sender gave it, to be compared with the pack's.")
def verify_command(pack: Path, fingerprint: str | None) -> None:
    """Check PACK, a handover folder or its zip: nothing missing, added or altered, and all files agree.

    Ends with exit code 3 if anything differs from what was sent.
    """
    from rich.console import Console
    from rich.markup import escape
    from rich.table import Table

    from pipeline.commands.verify import verify

    def plain(text: str) -> str:
        return escape(for_terminal(text))

    verified = verify(pack, fingerprint)
    console = Console(width=line_width(), highlight=False)
    identity = verified.identity
    table = Table("file", "bytes", "SHA-256")
    for name, size, sha256 in verified.files:
        table.add_row(plain(name), f"{size:,}", sha256[:16])
    console.print(table)
    console.print(
        f"{plain(identity['programme'])}, as of {plain(identity['as_of'])}: {identity['cores']:,} cores, "
        f"{identity['flagged']:,} flagged, {identity['pending']:,} pending, {identity['reinstated']:,} reinstated; "
        f"{identity['findings']:,} findings. Every file matches SHA256SUMS. Tables and GeoPackage hold the same cores "
        "and findings, and the map holds the same number of cores.",
        soft_wrap=True,
    )
    console.print(f"Run {plain(identity['run'])}", soft_wrap=True)
    digits = verified.fingerprint
    grouped = " ".join(digits[at : at + _GROUP] for at in range(0, len(digits), _GROUP))
    console.print(f"Fingerprint {grouped}", soft_wrap=True)
    if fingerprint is None:
        console.print(
            "Ask the sender for the fingerprint in their run.json, through another channel than the one the pack "
            "came by; the two must be the same."
        )
    else:
        console.print("It matches the fingerprint given.")
