"""Work on several things at the same time, a thread per processor, with the results in the order of the things."""

import os
import threading
from collections.abc import Callable, Iterable
from concurrent.futures import ThreadPoolExecutor
from typing import Final, TypeVar

from pipeline.clock import Told

__all__ = ["Count", "side_by_side"]

# the memory of so many things at work at the same time is about that of one stage
_MOST_AT_ONCE: Final = 4

_Thing = TypeVar("_Thing")
_Made = TypeVar("_Made")


class Count:
    """Tells how much is done of work whose parts are done at the same time."""

    def __init__(self, told: Told, text: str, total: int, unit: str) -> None:
        self._told, self._text, self._total, self._unit = told, text, total, unit
        self._done: dict[int, int] = {}
        self._lock = threading.Lock()

    def told(self, part: int, done: int) -> None:
        """Take how much of a part is done, and tell how much of all parts is."""
        with self._lock:
            self._done[part] = done
            self._told(self._text, sum(self._done.values()), self._total, self._unit)


def side_by_side(work: Callable[[_Thing], _Made], things: Iterable[_Thing], threads: int | None = None) -> list[_Made]:
    """Return what some work makes of each thing, in the order of the things.

    It pays where the work is done by libraries that let other threads run meanwhile. The work must not depend on what
    was done before it, and must change nothing that other work reads; no prepared geometry may be among it.

    Parameters
    ----------
    work, things
        What to do, and with what.
    threads
        How many at the same time: one per processor, but no more than 4, where nothing is given.

    Raises
    ------
    Exception
        Whatever the work raises; what has not begun by then is not done.
    """
    pool = ThreadPoolExecutor(threads or min(os.cpu_count() or 1, _MOST_AT_ONCE))
    try:
        return list(pool.map(work, things))
    finally:
        pool.shutdown(cancel_futures=True)
