"""Work on several things at the same time, a thread per processor, with the results in the order of the things."""

import os
import threading
from collections.abc import Callable, Iterable, Iterator
from concurrent.futures import ThreadPoolExecutor
from typing import Final, TypeVar

__all__ = ["side_by_side"]

# the memory of so many things at work at the same time is about that of one stage
_MOST_AT_ONCE: Final = 4

_Thing = TypeVar("_Thing")
_Made = TypeVar("_Made")


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
    most = threads or min(os.cpu_count() or 1, _MOST_AT_ONCE)
    # things are made as they are asked for: besides those at work, only the next is held
    room, failed = threading.Semaphore(most), threading.Event()

    def done(thing: _Thing) -> _Made:
        try:
            return work(thing)
        except BaseException:
            failed.set()
            raise
        finally:
            room.release()

    def asked() -> Iterator[_Thing]:
        for thing in things:
            yield thing
            room.acquire()
            if failed.is_set():
                return

    pool = ThreadPoolExecutor(most)
    try:
        return list(pool.map(done, asked()))
    finally:
        pool.shutdown(cancel_futures=True)
