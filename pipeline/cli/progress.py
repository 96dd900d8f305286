"""Progress of a long run: a bar in a terminal, plain lines in a log."""

import sys
import time
from typing import TYPE_CHECKING

import click

if TYPE_CHECKING:
    from pipeline.clock import Progress

__all__ = ["progress_of"]


class _Lines:
    """Progress as plain lines, for a log."""

    def __init__(self, *, quiet: bool) -> None:
        self._quiet = quiet
        self._start = time.perf_counter()

    def __enter__(self) -> "Progress":
        return self

    def __exit__(self, *_: object) -> None:
        pass

    def stage(self, name: str, number: int, count: int) -> None:
        if not self._quiet:
            click.echo(f"{time.perf_counter() - self._start:7.1f} s  {number}/{count} {name}", err=True)

    def detail(self, text: str) -> None:
        if not self._quiet:
            click.echo(f"{time.perf_counter() - self._start:7.1f} s      {text}", err=True)


class _Bar:
    """Progress as a bar by stages, for a terminal."""

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

    def stage(self, name: str, number: int, count: int) -> None:
        self._bar.update(self._task, description=name, completed=number - 1, total=count, detail="")

    def detail(self, text: str) -> None:
        self._bar.update(self._task, detail=text[-24:])


def progress_of(*, quiet: bool) -> "_Lines | _Bar":
    """Return the bar in a terminal, otherwise the lines; ``quiet`` prints nothing."""
    return _Bar() if sys.stderr.isatty() and not quiet else _Lines(quiet=quiet)
