"""The command that audits a programme."""

import datetime as dt
import sys
from pathlib import Path
from typing import TYPE_CHECKING

import click

from pipeline.cli.group import ALLOW_REMOTE, Command, Day, commands
from pipeline.cli.many import audit_many, junit_of
from pipeline.cli.progress import progress_of
from pipeline.cli.summary import summary

if TYPE_CHECKING:
    from pipeline.engines.asked import EngineName
    from pipeline.publish.report.pdf import Paper
    from pipeline.results import RunResult


class _Audit(Command):
    """The command, whose ``--strict`` takes the word "new" or nothing: what else follows it is another argument."""

    def parse_args(self, ctx: click.Context, args: list[str]) -> list[str]:
        given, before = [], ""
        for word in args:
            if word == "--strict":
                given.append("--strict=flagged")
            elif word == "new" and before == "--strict":
                given[-1] = "--strict=new"
            else:
                given.append(word)
            before = word
        return super().parse_args(ctx, given)


@commands.command("audit", cls=_Audit, short_help="Audit programmes, and write a finished run folder for each.")
@click.argument("programmes", metavar="PROGRAMME...", type=click.Path(path_type=Path), nargs=-1, required=True)
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
              "district. Of several programmes each has its own, named with programme and day.")  # fmt: skip
@ALLOW_REMOTE
@click.option("--engine", type=click.Choice(["local", "dask"]), default="local", show_default=True,
              help="Where the long stages are worked on: in this process, or in pieces by the workers of a Dask "
              "cluster, which needs .venv/bin/pip install '.[cluster]'. The answers are the same.")  # fmt: skip
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
    programmes: tuple[Path, ...],
    out: Path,
    as_of: dt.date | None,
    pdf: bool,  # noqa: FBT001 - click fills flags by name
    paper: "Paper",
    strict: str | None,
    junit: Path | None,
    allow_remote: bool,  # noqa: FBT001
    engine: "EngineName",
    scheduler: str | None,
    workers: int | None,
    cores_each: int | None,
    scratch: Path | None,
    quiet: bool,  # noqa: FBT001 - click fills flags by name
) -> None:
    """Audit each PROGRAMME, a TOML file or a folder of them, and write a finished run folder for each.

    The folder holds the map, the report, the tables, the orders and the handover for the road authority. It appears
    complete or not at all.

    Of a folder, the programme files in it and one folder down are audited. Several programmes are audited one after
    the other; one that fails stops no other. A summary over all is printed at the end and written to summary.html, and
    the exit code is the highest of all.
    """
    from pipeline.engines.asked import engine_of, refuse_options_without_cluster
    from pipeline.engines.wanted import CORES_EACH, Wanted
    from pipeline.intake.files.remote import remote_inputs
    from pipeline.publish.junit import refuse_junit_place
    from pipeline.publish.report.pdf import require_pdf
    from pipeline.run import run_programme

    if junit is not None:
        # before the long work, not after it
        refuse_junit_place(junit)

    def audit(programme: Path, day: dt.date | None) -> "RunResult":
        with progress_of(quiet=quiet) as progress:
            remote.told = progress.detail
            return run_programme(programme, out, day, progress, paper if pdf else None, working)

    def finish(result: "RunResult", run: str = "") -> int:
        return _finish(result, None if junit is None else junit_of(junit, run), strict, quiet=quiet)

    wanted = Wanted(scheduler, workers, scratch, cores_each or CORES_EACH)
    refuse_options_without_cluster(engine, wanted, cores_each)
    with remote_inputs(allowed=allow_remote) as remote, engine_of(engine, wanted) as working:
        if len(programmes) == 1 and not programmes[0].is_dir():
            code = finish(audit(programmes[0], as_of))
        else:
            if pdf:
                require_pdf()
            code = audit_many(programmes, out, as_of, audit, finish, pdf=pdf, quiet=quiet)
    if code:
        sys.exit(code)


def _finish(result: "RunResult", junit: Path | None, strict: str | None, *, quiet: bool) -> int:
    """Print what a run found, write the JUnit file if one is asked for, and return the exit code."""
    from pipeline.decide import is_accepted
    from pipeline.ledger import cores_failing
    from pipeline.publish.junit import write_junit

    if not quiet:
        summary(result)
    if junit is not None:
        write_junit(result, junit)
    if not strict:
        return 0
    findings = result.counted_findings
    return int(cores_failing(findings, is_accepted(findings), only_new=strict == "new") > 0)
