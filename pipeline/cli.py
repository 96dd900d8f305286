"""The command line: arguments in, exit code out. Nothing else in the program knows there is a terminal."""

import datetime as dt
import io
import logging
import shutil
import signal
import sys
import time
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from pipeline import __version__
from pipeline.errors import KerfbookError

if TYPE_CHECKING:
    from pipeline.run import Progress, RunResult

__all__ = ["main"]

_WIDTH = 100
_INTERRUPTED = 130
_PROGRAMME = click.Path(path_type=Path, dir_okay=False)


class _Day(click.ParamType[dt.date]):
    name = "date"

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> dt.date:  # noqa: ANN401
        if isinstance(value, dt.date):
            return value
        try:
            return dt.date.fromisoformat(value)
        except ValueError:
            self.fail(f"found {value!r}, expected a date such as 2026-09-30.", param, ctx)


@click.group(context_settings={"help_option_names": ["-h", "--help"], "max_content_width": _WIDTH})
@click.version_option(__version__, prog_name="kerfbook")
def commands() -> None:
    """Audit every pavement core of a programme: where it lies, what it needs, what is wrong with it."""


@commands.command("audit")
@click.argument("programme", type=_PROGRAMME)
@click.option("--out", type=click.Path(path_type=Path, file_okay=False), default=Path("outputs"), show_default=True,
              help="Folder that takes <programme>/<as_of>/.")  # fmt: skip
@click.option("--as-of", type=_Day(), help="Day of the audit, in place of the programme's own.")
@click.option("--strict", is_flag=True, help="End with exit code 1 if a core is flagged.")
@click.option("--quiet", is_flag=True, help="Say nothing but errors.")
def audit_command(programme: Path, out: Path, as_of: dt.date | None, strict: bool, quiet: bool) -> None:  # noqa: FBT001
    """Audit PROGRAMME, a TOML file, and leave a finished run folder behind."""
    from pipeline.run import run_programme

    with _progress(quiet=quiet) as progress:
        result = run_programme(programme, out, as_of, progress)
    if not quiet:
        _summary(result)
    if strict and result.account["flagged"]:
        sys.exit(1)


@commands.command("check")
@click.argument("programme", type=_PROGRAMME)
def check_command(programme: Path) -> None:
    """Read and validate the inputs of PROGRAMME only; nothing is written."""
    from pipeline.run import read_programme

    with _progress(quiet=False) as progress:
        progress.stage("intake", 1, 1)
        _, _, _, inputs = read_programme(programme, progress)
    _inputs_table(inputs)


@commands.command("start")
@click.argument("folder", type=click.Path(path_type=Path, file_okay=False))
def start_command(folder: Path) -> None:
    """Write a starter programme into FOLDER: the demo town, and a programme file to edit."""
    from pipeline.start import start

    for file in start(folder):
        click.echo(f"wrote {file}")
    click.echo(f"Now run: kerfbook audit {folder / 'programme.toml'}")


def main() -> None:
    """Run the command line, and end with its exit code."""
    # a letter that the terminal cannot show is no reason to fail
    for stream in (sys.stdout, sys.stderr):
        if isinstance(stream, io.TextIOWrapper):
            stream.reconfigure(errors="replace")
    # a scheduler's stop ends a run as cleanly as a person's
    signal.signal(signal.SIGTERM, signal.default_int_handler)
    # what the map libraries log, our errors say better
    logging.getLogger("pyogrio").addHandler(logging.NullHandler())
    logging.getLogger("pyogrio").propagate = False
    try:
        commands(standalone_mode=False)
    except click.exceptions.Exit as done:
        sys.exit(done.exit_code)
    except click.ClickException as error:
        error.show()
        sys.exit(error.exit_code)
    except KerfbookError as error:
        click.echo(f"Error: {error}", err=True)
        sys.exit(error.exit_code)
    except (KeyboardInterrupt, click.Abort):
        click.echo("Interrupted; nothing was written.", err=True)
        sys.exit(_INTERRUPTED)


class _Lines:
    """Plain lines, for a log."""

    def __init__(self, *, quiet: bool) -> None:
        self._quiet = quiet
        self._start = time.perf_counter()

    def __enter__(self) -> "Progress":
        return self

    def __exit__(self, *_: object) -> None:
        pass

    def stage(self, name: str, place: int, count: int) -> None:
        if not self._quiet:
            click.echo(f"{time.perf_counter() - self._start:7.1f} s  {place}/{count} {name}", err=True)

    def detail(self, text: str) -> None:
        if not self._quiet:
            click.echo(f"{time.perf_counter() - self._start:7.1f} s      {text}", err=True)


class _Bar:
    """A bar in a terminal, by stages."""

    def __init__(self) -> None:
        from rich.console import Console
        from rich.progress import BarColumn, TextColumn, TimeElapsedColumn
        from rich.progress import Progress as RichProgress

        columns = (
            TextColumn("{task.description:<9}"),
            BarColumn(),
            TextColumn("{task.fields[detail]:<24}"),
            TimeElapsedColumn(),
        )
        self._bar = RichProgress(*columns, console=Console(stderr=True), transient=True)
        self._task = self._bar.add_task("", detail="", total=None)

    def __enter__(self) -> "Progress":
        self._bar.start()
        return self

    def __exit__(self, *_: object) -> None:
        self._bar.stop()

    def stage(self, name: str, place: int, count: int) -> None:
        self._bar.update(self._task, description=name, completed=place - 1, total=count, detail="")

    def detail(self, text: str) -> None:
        self._bar.update(self._task, detail=text[-24:])


def _progress(*, quiet: bool) -> "_Lines | _Bar":
    return _Bar() if sys.stderr.isatty() and not quiet else _Lines(quiet=quiet)


def _width() -> int:
    return min(_WIDTH, shutil.get_terminal_size((_WIDTH, 24)).columns)


def _summary(result: "RunResult") -> None:
    from rich.console import Console
    from rich.markup import escape
    from rich.table import Table

    console = Console(width=_width(), highlight=False)
    account = result.account
    console.print(f"{escape(result.settings.programme.name)}, as of {result.as_of.isoformat()}", soft_wrap=True)
    counts = Table("cores read", "flagged", "pending", "reinstated", "unplaced", "left out by where")
    keys = ("rows_read", "flagged", "pending", "reinstated", "unplaced", "left_out_by_where")
    counts.add_row(*(f"{account[key]:,}" for key in keys))
    console.print(counts)

    found = result.audit.rules[result.audit.rules["found"].gt(0)]
    rules = Table("finding", "severity", "cores", "what it means")
    for one in found.sort_values(["found", "rule"], ascending=[False, True]).to_dict("records"):
        rules.add_row(one["rule"], one["severity"], f"{one['found']:,}", one["title"])
    if len(found):
        console.print(rules)
    unasked = result.audit.rules[result.audit.rules["assessed"].eq(0)]["rule"]
    if len(unasked):
        console.print(f"Not assessed for any core, for want of inputs: {', '.join(unasked)}.")

    orders = result.orders
    lines = orders.lines[orders.lines["packs"].notna()]
    packs = lines.groupby(["item", "unit"])[["needed", "packs"]].sum()
    needs = "; ".join(
        f"{one['item']} {one['needed']:,.0f} {one['unit']} = {one['packs']:,} packs"
        for one in packs.reset_index().to_dict("records")
    )
    left = int(orders.left_out["cores"].sum())
    console.print(
        f"To order for {orders.cores:,} open cores: {needs or 'nothing'}. Left out, need not known: {left:,}."
    )
    for notice in result.inputs.notices[:10]:
        console.print(f"Note: {escape(notice)}")
    console.print(f"Outputs: {escape(str(result.folder))}", soft_wrap=True)


def _inputs_table(inputs: Any) -> None:  # noqa: ANN401 - kept out of the import of this module
    from rich.console import Console
    from rich.markup import escape
    from rich.table import Table

    console = Console(width=_width(), highlight=False)
    table = Table("input", "file", "rows", "CRS")
    for file in inputs.files:
        table.add_row(file.section, escape(file.path), f"{file.rows:,}", file.crs)
    console.print(table)
    for notice in inputs.notices:
        console.print(f"Note: {escape(notice)}")
    console.print(f"The inputs can be used. Measured in {inputs.crs.name}.")
