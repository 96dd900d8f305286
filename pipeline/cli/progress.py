"""Progress of a long run: a bar in a terminal, plain lines in a log."""

import sys
import time
from typing import TYPE_CHECKING

from pipeline.cli.terminal import printer, say
from pipeline.visible_text import in_line

if TYPE_CHECKING:
    from pipeline.clock import Progress

__all__ = ["progress_of"]

# seconds; work that is done sooner is named and not counted, and a log has no more lines than this
_SLOW_S = 2.0
# characters that a line of a terminal needs for all of it, and for all but the bar
_WIDE, _NARROW = 120, 100


class _Work:
    """What is worked on, and how fast what is counted goes on: it may be the same for several names.

    What is counted inside one of them, as rows inside one output, leaves the count of these as it is.
    """

    def __init__(self) -> None:
        self._text: str | None = None
        # by what is counted: when that began, what was done by then, and what is done now
        self._counts: dict[tuple[int, str], tuple[float, int, int]] = {}

    def told(self, text: str, done: int, total: int, unit: str) -> bool:
        """Take an update; return whether the work has another name than before."""
        start, first, last = self._counts.get((total, unit), (0.0, 0, done + 1))
        if done < last:
            start, first = time.perf_counter(), done
        self._counts[total, unit] = start, first, done
        is_new, self._text = text != self._text, text
        return is_new

    def count(self, done: int, total: int, unit: str, *, is_short: bool = False) -> str:
        """Return how much is done, how fast it goes and how long it will take; empty while that cannot be told.

        ``is_short``: how fast it goes is left out.
        """
        start, first, _ = self._counts[total, unit]
        seconds = time.perf_counter() - start
        if seconds < _SLOW_S or not total or done <= first:
            return ""
        speed = (done - first) / seconds
        written = "" if is_short else f", {speed:,.0f} per second" if speed >= 1 else f", {speed:.2g} per second"
        return f"{done:,} of {total:,} {unit}{written}, {_duration((total - done) / speed)} left"


def _duration(seconds: float) -> str:
    whole = round(seconds)
    if whole < 3600:
        return f"{whole} s" if whole < 60 else f"{whole // 60} min {whole % 60} s"
    return f"{whole // 3600} h {whole % 3600 // 60} min"


class _Lines:
    """Progress as plain lines, for a log."""

    def __init__(self, *, quiet: bool) -> None:
        self._quiet = quiet
        self._start = self._said = time.perf_counter()
        self._work = _Work()

    def __enter__(self) -> "Progress":
        return self

    def __exit__(self, *_: object) -> None:
        pass

    def stage(self, name: str, number: int, count: int) -> None:
        self._work = _Work()
        self._say(f"{number}/{count} {name}")

    def detail(self, text: str, done: int = 0, total: int = 0, unit: str = "") -> None:
        is_new = self._work.told(text, done, total, unit)
        count = self._work.count(done, total, unit)
        if is_new or (count and time.perf_counter() - self._said >= _SLOW_S):
            self._say(f"    {text}: {count}" if count else f"    {text}")

    def _say(self, line: str) -> None:
        self._said = time.perf_counter()
        if not self._quiet:
            say(f"{self._said - self._start:7.1f} s  {line}", err=True)


class _Bar:
    """Progress as a bar by stages, for a terminal."""

    def __init__(self) -> None:
        from rich.progress import BarColumn, TextColumn, TimeElapsedColumn
        from rich.progress import Progress as RichProgress

        console = printer(err=True)
        self._is_narrow = console.width < _NARROW
        columns = (
            TextColumn("{task.description:<9}", markup=False),
            *([BarColumn(bar_width=20)] if console.width >= _WIDE else []),
            TextColumn("{task.fields[detail]:<20}" if self._is_narrow else "{task.fields[detail]:<24}", markup=False),
            TimeElapsedColumn(),
            TextColumn("{task.fields[count]}", markup=False),
        )
        self._bar = RichProgress(
            *columns, console=console, transient=True, redirect_stdout=False, redirect_stderr=False
        )
        self._task = self._bar.add_task("", detail="", count="", total=None)
        self._work = _Work()

    def __enter__(self) -> "Progress":
        self._bar.start()
        return self

    def __exit__(self, *_: object) -> None:
        self._bar.stop()

    def stage(self, name: str, number: int, count: int) -> None:
        self._work = _Work()
        self._bar.update(self._task, description=name, completed=number - 1, total=count, detail="", count="")

    def detail(self, text: str, done: int = 0, total: int = 0, unit: str = "") -> None:
        self._work.told(text, done, total, unit)
        # the end of a long name tells files apart
        text = in_line(text)
        count = self._work.count(done, total, unit, is_short=self._is_narrow)
        self._bar.update(self._task, detail=text[-20 if self._is_narrow else -24 :], count=count)


def progress_of(*, quiet: bool) -> "_Lines | _Bar":
    """Return the bar in a terminal, otherwise the lines; ``quiet`` prints nothing."""
    return _Bar() if sys.stderr.isatty() and not quiet else _Lines(quiet=quiet)
