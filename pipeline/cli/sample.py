"""The command that draws an inspection sample of a finished run, and judges it when it comes back."""

from pathlib import Path
from typing import TYPE_CHECKING

import click

from pipeline.cli.group import commands
from pipeline.cli.summary import line_width
from pipeline.errors import SettingsError

if TYPE_CHECKING:
    from pipeline.commands.sample import Judged, Sample
    from pipeline.programme.sampling_schemes import Of

_FOLDER = click.Path(path_type=Path, file_okay=False)
_LARGEST_SEED = 2**53


@commands.command("sample", short_help="Draw an inspection sample of a run, or judge its results.")
@click.argument("run", type=_FOLDER)
@click.option("--plan", type=click.Choice(["series", "isolated"]),
              help="series (default): a plan by AQL, for districts inspected one after another. isolated: the smallest "
              "sample that seldom accepts a bad district, for one that stands alone.")  # fmt: skip
@click.option("--level", type=click.Choice(["I", "II", "III", "S-1", "S-2", "S-3", "S-4"]),
              help="Inspection level of a series.  [default: II]")  # fmt: skip
@click.option("--aql", type=click.Choice(["1.0", "2.5", "4.0"]),
              help="Acceptance quality limit of a series, in percent of bad cores.  [default: 2.5]")  # fmt: skip
@click.option("--limit", help='Isolated: a district is bad beyond this share of bad cores.  [default: "5 %"]')
@click.option("--risk", help='Isolated: largest probability of accepting a bad district.  [default: "5 %"]')
@click.option("--accept", type=click.IntRange(min=0), help="Isolated: failures still accepted.  [default: 0]")
@click.option("--of", type=click.Choice(["back", "open", "all"]),
              help="Cores that are back, flagged or not (default), still open, or all.")  # fmt: skip
@click.option("--seed", type=click.IntRange(0, _LARGEST_SEED),
              help="What the drawing starts from, in place of the register's checksum.")  # fmt: skip
@click.option("--results", type=click.Path(path_type=Path, dir_okay=False),
              help="A sample.csv that was filled in: judge it, draw nothing.")  # fmt: skip
@click.option("--out", type=_FOLDER, help="Folder to write to.  [default: sample-<as_of> beside RUN; with --results, "
              "the folder of that file]")  # fmt: skip
def sample_command(
    run: Path,
    plan: str | None,
    level: str | None,
    aql: str | None,
    limit: str | None,
    risk: str | None,
    accept: int | None,
    of: "Of | None",
    seed: int | None,
    results: Path | None,
    out: Path | None,
) -> None:
    """Draw an inspection sample of RUN, the folder of a finished run, by district.

    Writes sample.csv, to be filled in (result: pass or fail), and sample.json; the draw can be repeated by anyone. With
    --results, reports for each district whether it is accepted, and writes results.csv and results.json.
    """
    from pipeline.commands.sample import draw_sample, judge_sample
    from pipeline.programme.sampling_schemes import scheme_of

    if results is None:
        scheme = scheme_of(plan, level, aql, limit, risk, accept)
        _tell_sample(draw_sample(run, scheme, of or "back", seed, out))
        return
    drawing = {
        "--plan": plan, "--level": level, "--aql": aql, "--limit": limit, "--risk": risk, "--accept": accept,
        "--of": of, "--seed": seed,
    }  # fmt: skip
    given = [name for name, value in drawing.items() if value is not None]
    if given:
        raise SettingsError(f"{given[0]}: the sample is drawn already, as its sample.json says. Leave it out.")
    _tell_results(judge_sample(run, results, out))


def _tell_sample(sample: "Sample") -> None:
    from rich.console import Console
    from rich.markup import escape
    from rich.table import Table

    console = Console(width=line_width(), highlight=False)
    record = sample.record
    console.print(
        f"{escape(record['programme'])}, as of {record['as_of']}: a sample of {record['of_in_words']}.", soft_wrap=True
    )
    plan = record["plan"]
    console.print(
        f"Plan for a series of lots: level {plan['level']}, AQL {plan['aql']} %."
        if plan["plan"] == "series"
        else f"Plan for an isolated lot: one with more than {plan['limit']:.4g} of its cores bad is accepted with a "
        f"probability of {plan['risk']:.4g} at most."
    )
    table = Table("district", "cores", "inspect", "accept", "reject", "accepted 95 %", "accepted 10 %")
    for lot in record["lots"]:
        table.add_row(
            escape(lot["lot"]),
            f"{lot['cores']:,}",
            f"{lot['n']:,}{' (all)' if lot['every_core'] else ''}",
            f"{lot['accept']}",
            f"{lot['reject']}",
            _percent(lot["accepted_with_95_percent"]),
            _percent(lot["accepted_with_10_percent"]),
        )
    console.print(table)
    console.print("accepted 95 %, 10 %: the share of bad cores that is accepted with that probability.")
    for reason, count in record["left_out"].items():
        console.print(f"Left out: {count:,}, {reason}.")
    console.print(f"Seed {record['seed']}, {record['seed_from']}: the same seed draws the same cores.")
    for caution in record["cautions"]:
        console.print(f"Caution: {escape(caution)}")
    console.print(f"{record['drawn']:,} cores to inspect: {escape(str(sample.folder / 'sample.csv'))}", soft_wrap=True)


def _tell_results(judged: "Judged") -> None:
    from rich.console import Console
    from rich.markup import escape
    from rich.table import Table

    console = Console(width=line_width(), highlight=False)
    record = judged.record
    console.print(f"{escape(record['programme'])}, as of {record['as_of']}: results of the sample.", soft_wrap=True)
    table = Table("district", "inspected", "failed", "decision", "bad cores", "true rate")
    for lot in record["lots"]:
        some = lot["inspected"] > 0
        table.add_row(
            escape(lot["lot"]),
            f"{lot['inspected']:,} of {lot['n']:,}",
            f"{lot['failed']:,}",
            f"{lot['decision']} ({lot['accept']}/{lot['reject']})",
            f"{lot['bad_low']:,} to {lot['bad_high']:,} of {lot['cores']:,}" if some else "",
            f"{_percent(lot['rate_low'])} to {_percent(lot['rate_high'])}" if some else "",
        )
    console.print(table)
    console.print(
        "In brackets: failures that accept and that reject. bad cores, true rate: 95 % intervals for the district's "
        "own cores, and for the work they come from."
    )
    account = dict(record["account"])
    rows, absent = account.pop("rows in the file"), account.pop("drawn, and not in the file")
    counts = ", ".join(f"{count:,} {outcome}" for outcome, count in account.items() if count)
    console.print(f"Rows in the file: {rows:,}: {counts}. Drawn, and not in the file: {absent:,}.")
    for caution in record["cautions"]:
        console.print(f"Caution: {escape(caution)}")
    console.print(f"Outputs: {escape(str(judged.folder / 'results.csv'))}", soft_wrap=True)


def _percent(share: float | None) -> str:
    return "none" if share is None else f"{share:.1%}"
