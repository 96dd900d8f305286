"""The command that audits a programme."""

import datetime as dt
import sys
from pathlib import Path
from typing import TYPE_CHECKING

import click

from pipeline.cli.group import PROGRAMME, Day, commands
from pipeline.cli.progress import progress_of
from pipeline.cli.summary import summary

if TYPE_CHECKING:
    from pipeline.engines.asked import EngineName
    from pipeline.publish.report.pdf import Paper


class _Audit(click.Command):
    """The command, whose ``--strict`` takes the word "new" or nothing: what else follows it is another argument."""

    def parse_args(self, ctx: click.Context, args: list[str]) -> list[str]:
        words = iter([*args, ""])
        given, word = [], next(words)
        for following in words:
            if word == "--strict":
                given.append(f"--strict={'new' if following == 'new' else 'flagged'}")
            elif not (word == "new" and given[-1:] == ["--strict=new"]):
                given.append(word)
            word = following
        return super().parse_args(ctx, given)


@commands.command("audit", cls=_Audit, short_help="Audit a programme and write a finished run folder.")
@click.argument("programme", type=PROGRAMME)
@click.option("--out", type=click.Path(path_type=Path, file_okay=False), default=Path("outputs"), show_default=True,
              help="Folder for the run, which is written to <programme>/<as_of>/ in it.")  # fmt: skip
@click.option("--as-of", type=Day(), help="Day of the audit, instead of the programme's own.")
@click.option("--pdf", is_flag=True, help="Also write the report as report.pdf; needs .venv/bin/pip install '.[pdf]'.")
@click.option(
    "--paper", type=click.Choice(["A4", "Letter"]), default="A4", show_default=True, help="Paper size for --pdf."
)
@click.option("--strict", type=click.Choice(["flagged", "new"]), metavar="[new]",
              help="End with exit code 1 if a core is flagged whose failures are not all accepted. With `new`, only if "
              "a failure is new since the latest earlier run; without one all are new, and those of cores without an "
              "id always are.")  # fmt: skip
@click.option("--junit", type=click.Path(path_type=Path),
              help="Also write the audit as JUnit XML to a file that ends in .xml: a suite per rule, a case per "
              "district.")  # fmt: skip
@click.option("--engine", type=click.Choice(["local", "dask"]), default="local", show_default=True,
              help="What works on the pieces of the long stages: this process, or the workers of a Dask cluster, which "
              "needs .venv/bin/pip install '.[cluster]'. The answers are the same.")  # fmt: skip
@click.option("--scheduler", metavar="ADDRESS",
              help="With --engine dask, the scheduler of a cluster, such as tcp://10.0.0.5:8786. Without it a cluster "
              "of this machine starts and ends with the run.")  # fmt: skip
@click.option("--workers", type=click.IntRange(min=1), show_default="one per processor",
              help="With --engine dask and no --scheduler, how many processes work.")  # fmt: skip
@click.option("--cores-each", type=click.IntRange(min=1), show_default="50000",
              help="With --engine dask, cores in a piece at most: fewer take less memory.")  # fmt: skip
@click.option("--scratch", type=click.Path(path_type=Path, file_okay=False, exists=True),
              help="With --engine dask, a folder for pieces that all machines read and write.")  # fmt: skip
@click.option("--quiet", is_flag=True, help="Print errors only.")
def audit_command(
    programme: Path,
    out: Path,
    as_of: dt.date | None,
    pdf: bool,  # noqa: FBT001 - click fills flags by name
    paper: "Paper",
    strict: str | None,
    junit: Path | None,
    engine: "EngineName",
    scheduler: str | None,
    workers: int | None,
    cores_each: int | None,
    scratch: Path | None,
    quiet: bool,  # noqa: FBT001 - click fills flags by name
) -> None:
    """Audit PROGRAMME, a TOML file, and write a finished run folder.

    The folder holds the map, the report, the tables, the orders and the handover for the road authority. It appears
    complete or not at all.
    """
    from pipeline.decide import is_accepted
    from pipeline.engines.asked import CORES_EACH, Wanted, engine_of, refuse_options_without_cluster
    from pipeline.ledger import cores_failing
    from pipeline.publish.junit import refuse_junit_place, write_junit
    from pipeline.run import run_programme

    if junit is not None:
        # before the long work, not after it
        refuse_junit_place(junit)
    wanted = Wanted(scheduler, workers, scratch, cores_each or CORES_EACH)
    refuse_options_without_cluster(engine, wanted, cores_each)
    with engine_of(engine, wanted) as working, progress_of(quiet=quiet) as progress:
        result = run_programme(programme, out, as_of, progress, paper if pdf else None, working)
    try:
        if not quiet:
            summary(result)
        if junit is not None:
            write_junit(result, junit)
    except KeyboardInterrupt as stop:
        stop.add_note(f"The outputs are complete: {result.folder}")
        raise
    if strict:
        findings = result.counted_findings
        if cores_failing(findings, is_accepted(findings), only_new=strict == "new"):
            sys.exit(1)
