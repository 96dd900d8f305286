"""The command ``calibrate``: fits the volume model to records of use."""

from pathlib import Path
from typing import TYPE_CHECKING, Final

import click

from pipeline.cli.group import ALLOW_REMOTE, PROGRAMME, commands
from pipeline.cli.progress import progress_of
from pipeline.cli.terminal import printer, say_lines
from pipeline.wording import counted

if TYPE_CHECKING:
    import pandas as pd
    from rich.console import Console

    from pipeline.calibrate import Rounding
    from pipeline.commands.calibrate import CalibrationResult

# the depth of the hole that the verdict names
_SHOWN_DEPTH_IN: Final = 12.0
_WAYS: "Final[dict[str, Rounding]]" = {"up": "up", "nearest": "nearest", "down": "down"}


def _stated_ways(
    _context: click.Context, option: click.Parameter, values: tuple[str, ...]
) -> "dict[str, Rounding] | None":
    """Return the way that each crew is stated to round, and that of all others by no name; None where none is."""
    ways: dict[str, Rounding] = {}
    for value in values:
        crew, _, way = value.rpartition("=")
        if way not in _WAYS:
            found = f'found "{way}", expected up, nearest or down, such as up or "Crew A=up". Correct it.'
            raise click.BadParameter(found, param=option)
        if crew.strip() in ways:
            found = (
                f'found two ways for "{crew.strip()}", expected one.'
                if crew
                else "found two ways for all crews, expected one."
            )
            raise click.BadParameter(f"{found} Keep the right one.", param=option)
        ways[crew.strip()] = _WAYS[way]
    return ways or None


@commands.command("calibrate", short_help="Fit kerf and bed thickness to records of grout used.")
@click.argument("programme", type=PROGRAMME)
@click.option("--out", type=click.Path(path_type=Path, file_okay=False),
              help="Folder for calibration.csv and calibration.svg. Without it, nothing is written.")  # fmt: skip
@click.option("--rounded", "stated", multiple=True, metavar="[CREW=]WAY", callback=_stated_ways,
              help="How a crew rounds to whole, half or quarter bags: up, nearest or down. Without a crew, it applies "
              "to all that are not named. May be repeated. Other crews are judged by their records.")  # fmt: skip
@ALLOW_REMOTE
def calibrate_command(
    programme: Path,
    out: Path | None,
    stated: "dict[str, Rounding] | None",
    allow_remote: bool,  # noqa: FBT001 - click fills flags by name
) -> None:
    """Fit kerf and bed thickness to the bags and water recorded in the register of PROGRAMME, a TOML file."""

    from pipeline.commands.calibrate import calibrate_programme
    from pipeline.intake.files.remote import remote_inputs

    with progress_of(quiet=False) as progress, remote_inputs(allowed=allow_remote) as remote:
        remote.told = progress.detail
        result = calibrate_programme(programme, out, progress, stated)
    # nothing of a register is markup
    console = printer()
    console.print(f"{result.settings.programme.name}, as of {result.as_of.isoformat()}", soft_wrap=True)
    _verdict(console, result)
    _values(console, result)
    _rounding(console, result)
    _fit(console, result)
    if result.snippet:
        console.print("To mix by these values, add to the programme file:")
        console.print()
        say_lines(result.snippet)
    if result.folder is not None:
        console.print(f"Outputs: {result.folder}", soft_wrap=True)


def _verdict(console: "Console", result: "CalibrationResult") -> None:
    """Print whether the records are sufficient, and why not, before any figure."""
    if result.calibration.enough:
        console.print(_sufficient(result.needs, is_stated=result.calibration.is_stated))
        return
    console.print("Not enough to go by. The stated values apply; the figures below are for information only.")
    for reason in result.calibration.reasons:
        console.print(f"- {reason}")


def _sufficient(needs: "pd.DataFrame", *, is_stated: bool) -> str:
    """Return what sufficient records show, and what to do."""
    shown = needs.set_index("depth_in").loc[_SHOWN_DEPTH_IN]
    agrees = bool(needs["bags_stated"].between(needs["bags_low"], needs["bags_high"]).all())
    found = (
        f"The records are sufficient and {'agree with' if agrees else 'differ from'} the stated values: a hole of 18 "
        f"in, 12 in deep, takes {shown['bags_calibrated']:.2f} bags ({shown['bags_low']:.2f} to "
        f"{shown['bags_high']:.2f}); {shown['bags_stated']:.2f} are stated."
    )
    if is_stated:
        return (
            f"{found} An audit does not know the rounding stated with --rounded: to use this calibration, add the "
            "lines at the end to the programme file."
        )
    if agrees:
        return f"{found} Nothing needs to be changed; the safety stock uses the calibration already."
    return (
        f"{found} The safety stock uses the calibration already; to plan the bags to mix by it as well, add the lines "
        "at the end to the programme file."
    )


def _values(console: "Console", result: "CalibrationResult") -> None:
    """Print kerf and bed, and what they rest on."""
    from rich.table import Table

    from pipeline.publish.calibration.rounding import note_spread
    from pipeline.publish.words import words_of

    found = result.calibration
    console.print(
        f"{counted(len(found.records), 'record')} of use, {counted(found.outliers, 'outlier')} excluded. Taken as "
        f"exact: overfill {found.overfill:.0%}, pilot hole {found.pilot_mm:g} mm, {found.bag_l:.2f} L per bag."
    )
    if not len(result.needs.dropna()):
        return
    values = Table("", "stated", "plausible range", "calibrated", "95% interval")
    for name, fitted in (("kerf, mm", found.kerf), ("bed, mm", found.bed)):
        values.add_row(
            name,
            f"{fitted.stated_mm:.1f}",
            f"{fitted.least_mm:.1f} to {fitted.most_mm:.1f}",
            f"{fitted.mm:.1f}",
            f"{fitted.low_mm:.1f} to {fitted.high_mm:.1f}",
        )
    console.print(values)
    for note in note_spread(found, words_of("en")):
        console.print(note)


def _fit(console: "Console", result: "CalibrationResult") -> None:
    """Print the bags by depth, and how well the records fit by diameter."""
    from rich.table import Table

    found = result.calibration
    if not len(needs := result.needs.dropna()):
        return
    bags = Table("depth of an 18 in hole, in", "bags as stated", "bags calibrated", "95% interval")
    for row in needs.to_dict("records"):
        bags.add_row(
            f"{row['depth_in']:g}",
            f"{row['bags_stated']:.2f}",
            f"{row['bags_calibrated']:.2f}",
            f"{row['bags_low']:.2f} to {row['bags_high']:.2f}",
        )
    console.print(bags)
    fit = Table("hole, mm", "records", "outliers", "used less fitted, L", "spread, L", "spread, bags")
    for row in found.by_diameter.to_dict("records"):
        fit.add_row(
            f"{row['hole_mm']:.0f}",
            f"{row['records']:,}",
            f"{row['outliers']:,}",
            f"{row['residual_l']:+.2f}",
            f"{row['spread_l']:.2f}",
            f"{row['spread_l'] / found.bag_l:.2f}",
        )
    console.print(fit)


def _rounding(console: "Console", result: "CalibrationResult") -> None:
    """Print how each crew rounds, and kerf and bed if all rounded in one way."""
    from rich.table import Table

    from pipeline.publish.calibration.rounding import list_crews, list_ways
    from pipeline.publish.words import words_of

    if not len(result.calibration.by_habit):
        return
    for listed in (list_crews(result.calibration, words_of("en")), list_ways(result.calibration, words_of("en"))):
        table = Table(*listed.headers, title=listed.title, title_justify="left")
        for row in listed.rows:
            table.add_row(*row)
        console.print(table)
        for note in listed.notes:
            console.print(note)
