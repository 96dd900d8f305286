"""The command ``sample``: draws an inspection sample of a finished run, and judges it when it is filled in."""

from pathlib import Path
from typing import TYPE_CHECKING

import click

from pipeline.cli.group import commands
from pipeline.cli.terminal import printer
from pipeline.errors import SettingsError
from pipeline.wording import counted

if TYPE_CHECKING:
    from pipeline.commands.sample import Judged, Sample
    from pipeline.programme.sampling_schemes import LotsBy, Of

_FOLDER = click.Path(path_type=Path, file_okay=False)
_LARGEST_SEED = 2**53


@commands.command("sample", short_help="Draw an inspection sample of a run, or judge its results.")
@click.argument("run", type=click.Path(path_type=Path))
@click.option("--plan", type=click.Choice(["series", "isolated"]),
              help="series (default): a plan by AQL, for lots inspected one after another. isolated: the smallest "
              "sample that seldom accepts a bad lot, for a single lot.")  # fmt: skip
@click.option("--level", type=click.Choice(["I", "II", "III", "S-1", "S-2", "S-3", "S-4"]),
              help="Inspection level of a series.  [default: II]")  # fmt: skip
@click.option("--aql", type=click.Choice(["1.0", "2.5", "4.0"]),
              help="Acceptance quality limit of a series, in percent of bad cores.  [default: 2.5]")  # fmt: skip
@click.option("--limit", help='Isolated: a lot is bad if more than this share of its cores is bad.  [default: "5 %"]')
@click.option("--risk", help='Isolated: largest probability of accepting a bad lot.  [default: "5 %"]')
@click.option("--accept", type=click.IntRange(min=0), help="Isolated: failures accepted.  [default: 0]")
@click.option("--of", type=click.Choice(["reinstated", "open", "all"]),
              help="Which cores to draw from: reinstated, flagged or not (default), open, or all.")  # fmt: skip
@click.option("--by", type=click.Choice(["district", "register", "crew"]),
              help="What makes a lot: the cores of a district, of a register (contractor), or of a crew.  "
              "[default: district]")  # fmt: skip
@click.option("--seed", type=click.IntRange(0, _LARGEST_SEED),
              help="Seed of the draw, instead of the register's checksum.")  # fmt: skip
@click.option("--results", type=click.Path(path_type=Path, dir_okay=False),
              help="A filled-in sample.csv to judge; nothing is drawn.")  # fmt: skip
@click.option("--out", type=_FOLDER, help="Folder to write to.  [default: sample-<as_of> beside RUN, with -by-register "
              "or -by-crew; with --results, the folder of that file]")  # fmt: skip
def sample_command(
    run: Path,
    plan: str | None,
    level: str | None,
    aql: str | None,
    limit: str | None,
    risk: str | None,
    accept: int | None,
    of: "Of | None",
    by: "LotsBy | None",
    seed: int | None,
    results: Path | None,
    out: Path | None,
) -> None:
    """Draw an inspection sample of RUN, the folder of a finished run, by district, register or crew.

    Writes sample.csv, to be filled in (result: pass or fail), and sample.json; the draw can be repeated by anyone. With
    --results, reports for each lot whether it is accepted, and writes results.csv and results.json.
    """
    from pipeline.commands.sample import draw_sample, judge_sample
    from pipeline.programme.sampling_schemes import scheme_of

    if results is None:
        scheme = scheme_of(plan, level, aql, limit, risk, accept)
        _print_sample(draw_sample(run, scheme, of or "reinstated", seed, out, by or "district"))
        return
    drawing = {
        "--plan": plan, "--level": level, "--aql": aql, "--limit": limit, "--risk": risk, "--accept": accept,
        "--of": of, "--by": by, "--seed": seed,
    }  # fmt: skip
    given = [name for name, value in drawing.items() if value is not None]
    if given:
        raise SettingsError(f"{given[0]}: not valid with --results, because the sample is already drawn. Leave it out.")
    _print_results(judge_sample(run, results, out))


def _print_sample(sample: "Sample") -> None:
    from rich.table import Table

    console = printer()
    record = sample.record
    console.print(
        f"{record['programme']}, as of {record['as_of']}: inspection sample of {record['of_in_words']}.",
        soft_wrap=True,
    )
    plan = record["plan"]
    console.print(
        f"Plan for a series of lots: level {plan['level']}, AQL {plan['aql']}%."
        if plan["plan"] == "series"
        else f"Plan for an isolated lot: a lot with more than {_share(plan['limit'])} bad cores is accepted with a "
        f"probability of at most {_share(plan['risk'])}."
    )
    table = Table(record["by"], "cores", "inspect", "accept up to", "reject from", "95 in 100", "10 in 100")
    for lot in record["lots"]:
        table.add_row(
            lot["lot"],
            f"{lot['cores']:,}",
            f"{lot['n']:,}{' (all)' if lot['every_core'] else ''}",
            f"{lot['accept']}",
            f"{lot['reject']}",
            _percent(lot["accepted_with_95_percent"]),
            _percent(lot["accepted_with_10_percent"]),
        )
    console.print(table)
    console.print(
        "Accept up to, reject from: number of failures. 95 in 100, 10 in 100: a lot with this share of bad cores still "
        "passes that often."
    )
    for reason, count in record["left_out"].items():
        console.print(f"Excluded: {counted(count, 'row')}, {reason}.")
    console.print(f"Seed {record['seed']}, {record['seed_from']}. The same seed draws the same cores.")
    for caution in record["cautions"]:
        console.print(f"Caution: {caution}")
    console.print(f"{counted(record['drawn'], 'core')} to inspect: {sample.folder / 'sample.csv'!s}", soft_wrap=True)


def _print_results(judged: "Judged") -> None:
    from rich.table import Table

    console = printer()
    record = judged.record
    console.print(f"{record['programme']}, as of {record['as_of']}: results of the inspection sample.", soft_wrap=True)
    table = Table(record["by"], "inspected", "failed", "decision", "bad cores in lot", "failure rate")
    for lot in record["lots"]:
        has_results = lot["inspected"] > 0
        table.add_row(
            lot["lot"],
            f"{lot['inspected']:,} of {lot['n']:,}",
            f"{lot['failed']:,}",
            f"{lot['decision']}{' early' if lot['decided_early'] else ''} ({lot['accept']}/{lot['reject']})",
            f"{lot['bad_low']:,} to {lot['bad_high']:,} of {lot['cores']:,}" if has_results else "",
            f"{_percent(lot['rate_low'])} to {_percent(lot['rate_high'])}" if has_results else "",
        )
    console.print(table)
    console.print(
        "In brackets: failures up to which a lot is accepted, and from which it is rejected. Early: the cores not yet "
        "inspected cannot change the decision. Bad cores in lot and failure rate are 95% intervals: for the cores of "
        "the lot, and for the work in general."
    )
    account = dict(record["account"])
    rows, absent = account.pop("rows in the file"), account.pop("drawn, but not in the file")
    counts = ", ".join(f"{count:,} {outcome}" for outcome, count in account.items() if count)
    console.print(f"Rows in the file: {rows:,} ({counts}). Drawn, but not in the file: {absent:,}.")
    for caution in record["cautions"]:
        console.print(f"Caution: {caution}")
    console.print(f"Outputs: {judged.folder / 'results.csv'!s}", soft_wrap=True)


def _percent(share: float | None) -> str:
    return "none" if share is None else f"{share:.1%}"


def _share(share: float) -> str:
    return f"{100 * share:.4g}%"
