"""Work done in forks of this process, which take along what is loaded and leave nothing behind."""

import json
import math
import os
import resource
import signal
import time
import traceback
from collections.abc import Callable, Iterator
from typing import NamedTuple

__all__ = ["Outcome", "each_told_by", "tried"]

# a change may take so many times as long as the tests do without it, and so many seconds more
_TIMES, _MORE_S = 5, 10
_MEMORY = 6 << 30


class Outcome(NamedTuple):
    """``found``: killed, survived, timed out or not reached. ``test``: which one failed. ``tests``: how many were to run."""

    found: str
    test: str
    tests: int
    seconds: float


def tried(run: Callable[[], str], tests: int, seconds: float) -> Outcome:
    """Run tests in a fork of this process; ``run`` returns which one failed, ``seconds``: how long they take otherwise."""
    if not tests:
        return Outcome("not reached", "", 0, 0.0)
    limit = math.ceil(_MORE_S + _TIMES * seconds)
    read, write = os.pipe()
    before = resource.getrusage(resource.RUSAGE_CHILDREN)
    child = os.fork()
    if child == 0:
        _leave(read, write, limit, run)
    os.close(write)
    ended = _waited(child, 10 * limit)
    with os.fdopen(read) as pipe:
        text = pipe.read()
    after = resource.getrusage(resource.RUSAGE_CHILDREN)
    spent = after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime
    if ended in {signal.SIGXCPU, signal.SIGKILL}:
        return Outcome("timed out", "", tests, spent)
    if text.startswith("!"):
        raise RuntimeError(text)
    # what ends the process is noticed as well
    test = text if text or not ended else f"signal {ended}"
    return Outcome("killed" if test else "survived", test, tests, spent)


def _leave(read: int, write: int, limit: int, run: Callable[[], str]) -> None:
    os.close(read)
    resource.setrlimit(resource.RLIMIT_CPU, (limit, limit + 1))
    resource.setrlimit(resource.RLIMIT_AS, (_MEMORY, _MEMORY))
    signal.signal(signal.SIGXCPU, signal.SIG_DFL)
    nothing = os.open(os.devnull, os.O_RDWR)
    os.dup2(nothing, 1)
    os.dup2(nothing, 2)
    try:
        text = run()
    except BaseException as error:  # noqa: BLE001 - told to the parent, which ends
        text = f"!{error!r}"
    os.write(write, text.encode()[:4000])
    os._exit(0)


def _waited(child: int, seconds: float) -> int:
    """Wait for a process to end, and end it if it takes too long; return the signal that ended it, or 0."""
    until = time.monotonic() + seconds
    while True:
        ended, status = os.waitpid(child, os.WNOHANG)
        if ended:
            return os.WTERMSIG(status) if os.WIFSIGNALED(status) else 0
        if time.monotonic() > until:
            os.kill(child, signal.SIGKILL)
        time.sleep(0.01)


def each_told_by(run: Callable[[Callable[[object], None]], None]) -> Iterator[list]:
    """Run something in a fork of this process and yield what it writes, as it does."""
    read, write = os.pipe()
    child = os.fork()
    if child == 0:
        os.close(read)
        os.dup2(os.open(os.devnull, os.O_RDWR), 1)
        try:
            with os.fdopen(write, "w") as pipe:
                run(lambda told: print(json.dumps(told), file=pipe, flush=True))
        except BaseException:  # noqa: BLE001 - nothing of it may go on in the code that follows the fork
            traceback.print_exc()
        finally:
            os._exit(0)
    os.close(write)
    with os.fdopen(read) as pipe:
        yield from map(json.loads, pipe)
    os.waitpid(child, 0)
