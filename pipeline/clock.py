"""The seconds and the peak memory of each stage, and progress updates as stages begin."""

import ctypes
import itertools
import sys
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from functools import partial
from typing import NamedTuple, Protocol

import pyarrow as pa

__all__ = [
    "Clock", "Counted", "Progress", "StageCost", "Told", "counted", "give_back_memory", "in_parts", "numbered",
    "peak_mb", "silent", "take_memory_from_system", "uncounted",
]  # fmt: skip


class Told(Protocol):
    """Is told what a stage is working on and, of long work, how much of it is done."""

    def __call__(self, text: str, done: int = 0, total: int = 0, unit: str = "") -> None:
        """Report the work by its name and, where it can be counted, that ``done`` of ``total`` are done.

        ``unit``: what is counted, in the plural, such as "cores".
        """


def silent(text: str, done: int = 0, total: int = 0, unit: str = "") -> None:
    """Tell nobody."""


class Counted(Protocol):
    """Is told how much of one piece of work is done."""

    def __call__(self, done: int, total: int, unit: str, /) -> None:
        """Report that ``done`` of ``total`` are done; ``unit``: what is counted, in the plural."""


def uncounted(done: int, /, *_: object) -> None:
    """Tell nobody how much is done."""


def in_parts(rows: int, most: int, tell: Counted, unit: str) -> Iterator[slice]:
    """Yield the slices of so many rows, of at most ``most`` each, and tell how many are done as each is asked for."""
    for start in range(0, rows, most):
        tell(start, rows, unit)
        yield slice(start, min(start + most, rows))
    tell(rows, rows, unit)


def numbered(told: Told, pieces: int, unit: str, each: int = 1) -> Callable[[str], Counted]:
    """Return what is called as each of some pieces of work begins, and tells how much is done by then.

    ``unit``: what is counted, in the plural; a piece is ``each`` of them. What it returns counts inside that piece.
    """
    begun = itertools.count()

    def begin(text: str) -> Counted:
        told(text, min(next(begun), pieces) * each, pieces * each, unit)
        return partial(told, text)

    return begin


def counted(told: Told, text: str, total: int, unit: str = "cores") -> Callable[[int], None]:
    """Report that counted work begins, and return what is called with how many are done; ``unit`` as for ``Told``."""
    told(text, 0, total, unit)
    return lambda done: told(text, done, total, unit)


class Progress(Protocol):
    """Receives progress updates."""

    def stage(self, name: str, number: int, count: int, /) -> None:
        """Report that stage ``number`` of ``count`` begins."""

    def detail(self, text: str, done: int = 0, total: int = 0, unit: str = "") -> None:
        """Report what the stage is working on, as ``Told`` describes it."""


class StageCost(NamedTuple):
    """Seconds a stage took, and the peak memory in MB when it ended; None where the system does not report it."""

    stage: str
    seconds: float
    peak_mb: float | None


@dataclass
class Clock:
    """Reports each stage as it begins, and records its time and memory."""

    progress: Progress | None
    stages: tuple[str, ...]
    costs: list[StageCost] = field(default_factory=list)

    @contextmanager
    def stage(self, name: str) -> Iterator[None]:
        """Time one stage."""
        if self.progress is not None:
            self.progress.stage(name, self.stages.index(name) + 1, len(self.stages))
        start = time.perf_counter()
        yield
        give_back_memory()
        self.costs.append(StageCost(name, time.perf_counter() - start, peak_mb()))

    def detail(self, text: str, done: int = 0, total: int = 0, unit: str = "") -> None:
        """Report what the stage is working on, as ``Told`` describes it."""
        if self.progress is not None:
            self.progress.detail(text, done, total, unit)


def take_memory_from_system() -> None:
    """Let Arrow take memory as everything else does: its own allocator keeps a third more than it uses."""
    pa.set_memory_pool(pa.system_memory_pool())


def give_back_memory() -> None:
    """Give the memory that is no longer used back to the system, where the system takes it.

    Otherwise the memory that one stage used for a short time adds to that of every later one.
    """
    pa.default_memory_pool().release_unused()
    if sys.platform == "linux":
        trim = getattr(ctypes.CDLL(None), "malloc_trim", None)
        if trim is not None:
            trim(0)


def peak_mb() -> float | None:
    """Return the peak memory of this process so far, in MB."""
    try:
        import resource  # noqa: PLC0415 - not on every system
    except ImportError:
        return None
    peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
    # kilobytes everywhere but on macOS, where it is bytes
    return peak / 1024**2 if sys.platform == "darwin" else peak / 1024
