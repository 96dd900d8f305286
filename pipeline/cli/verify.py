"""The command that checks a handover pack."""

from pathlib import Path
from typing import TYPE_CHECKING

import click

from pipeline.cli.group import commands
from pipeline.cli.progress import progress_of
from pipeline.cli.terminal import printer

if TYPE_CHECKING:
    from pipeline.commands.verify import Verified

_GROUP = 8
# exit code: done, but not everything could be checked
_NOT_ALL = 1
_NOT_CHECKED = "NOT CHECKED"


@commands.command("verify", short_help="Check that a handover pack is complete and unaltered.")
@click.argument("pack", type=click.Path(path_type=Path))
@click.option("--fingerprint", help="Fingerprint as the sender gave it, to be compared with the pack's.")
@click.option(
    "--signer",
    "signers",
    type=click.Path(path_type=Path),
    help="File of the keys that may sign, in OpenSSH's allowed_signers format; checks the signature.",
)
@click.option("--identity", help="Identity in that file that must have signed.  [default: any of them]")
@click.option("--quiet", is_flag=True, help="Do not show progress.")
def verify_command(
    pack: Path, fingerprint: str | None, signers: Path | None, identity: str | None, *, quiet: bool
) -> None:
    """Check PACK, a handover folder or its zip: nothing missing, added or altered, and all files agree.

    Every cell of the tables is compared with the GeoPackage and the map; the pages and the GeoPackage are drawn again
    from the pack's files. Ends with exit code 3 if anything differs, and with 1 if another build of Kerfbook made the
    pack, so that something could not be checked, and neither a signature nor a fingerprint vouches for it.
    """
    from rich.table import Table

    from pipeline.commands.verify import verify

    if identity is not None and signers is None:
        raise click.UsageError("--identity: found without --signer, expected both. Add --signer FILE.")
    with progress_of(quiet=quiet) as progress:
        verified = verify(pack, fingerprint, signers, identity, progress)
    console = printer()
    facts = verified.identity
    table = Table("file", "bytes", "SHA-256", "checked")
    for file in verified.files:
        table.add_row(file.name, f"{file.size:,}", file.sha256[:16], file.checked)
    console.print(table)
    console.print(
        f"{facts['programme']}, as of {facts['as_of']}: {facts['cores']:,} cores, "
        f"{facts['flagged']:,} flagged, {facts['pending']:,} pending, {facts['reinstated']:,} reinstated; "
        f"{facts['findings']:,} findings. Every file matches SHA256SUMS"
        + (", but not every file was checked." if verified.not_checked else ", and no file contradicts another."),
        soft_wrap=True,
    )
    if verified.not_checked:
        console.print(_not_checked(verified), soft_wrap=True)
    console.print(f"Run {facts['run']}", soft_wrap=True)
    digits = verified.fingerprint
    grouped = " ".join(digits[at : at + _GROUP] for at in range(0, len(digits), _GROUP))
    console.print(f"Fingerprint {grouped}", soft_wrap=True)
    console.print(_who(verified, is_fingerprint_given=fingerprint is not None), soft_wrap=True)
    if verified.not_checked and not verified.is_vouched_for:
        # a reader who sees that all is done takes the pack for checked
        raise SystemExit(_NOT_ALL)


def _not_checked(verified: "Verified") -> str:
    """Return which files were not checked, why, and what to do."""
    names = [file.name for file in verified.files if _NOT_CHECKED in file.checked]
    lacks = f" A pack of this version also has {', '.join(verified.lacks)}." if verified.lacks else ""
    return (
        f"{_NOT_CHECKED}: {', '.join(names) or 'what is missing'}. The pack states that it was made with "
        f"{verified.not_checked}; another build may draw pages and styles differently, so these were not compared."
        f"{lacks} "
        + (
            "They are as the sender made them."
            if verified.is_vouched_for
            else "What they show and do beyond the cells of the tables could be anything. Do not open them before you "
            "have checked the pack with that build of Kerfbook, or the sender's signature (--signer) or fingerprint "
            "(--fingerprint)."
        )
    )


def _who(verified: "Verified", *, is_fingerprint_given: bool) -> str:
    """Return what is known of the sender."""
    if verified.signer is not None:
        return f"Signed by {verified.signer}, whose key is valid today."
    if is_fingerprint_given:
        return "It matches the fingerprint given."
    unchecked = (
        "The pack has a signature, which was not checked: give the sender's keys with --signer."
        if verified.is_signed
        else "The pack is not signed."
    )
    return (
        f"{unchecked} Checksums show damage, not who sent the pack: someone who alters all files alike also alters the "
        "checksums. Only a signature shows who; without one, ask the sender for the fingerprint in their run.json, "
        "through a channel other than the one the pack came by."
    )
