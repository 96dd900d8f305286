"""The engine of several processes or machines: the workers of a Dask cluster, to which pieces go as files.

The scheduler holds no more than the names of the pieces. A piece is a file in a folder that all workers read, and so is
what is made of it: whatever ends early, a worker, the scheduler or the connection to it, is asked for again, and what
is there already is not made twice.
"""

import shutil
import time
from collections.abc import Callable, Iterable, Sequence
from contextlib import suppress
from pathlib import Path
from typing import Any, Final, cast

from distributed import CancelledError, Client, Future, KilledWorker, wait

from pipeline.engines.cells import cells_of
from pipeline.engines.engine import Floats, Made, Places, Thing, Work
from pipeline.engines.pieces import save_piece, take_made, written
from pipeline.engines.worker import build_of, make
from pipeline.errors import KerfbookError, OutputError

__all__ = ["TRIES", "Cluster", "connect"]

# pieces that wait at each worker, so that none is idle
_AHEAD: Final = 2
# how long a lost scheduler, and a cluster without workers, is waited for, and how often it is asked after meanwhile
_PATIENCE_S: Final = 120.0
_PAUSE_S: Final = 1.0
# how often a piece is tried whose workers end while they work on it
TRIES: Final = 4
# what a client raises whose scheduler is gone
_LOST: Final = (OSError, TimeoutError, RuntimeError, ValueError, CancelledError)


class Cluster:
    """Sends the pieces of a stage to the workers of a cluster, and gathers what they make of them."""

    sends: Final = True

    def __init__(self, client: Client, folder: Path, cores_each: int, scheduler: str | None) -> None:
        """Work with the workers of a client.

        Parameters
        ----------
        client
            Connected to the scheduler.
        folder
            For the pieces; all workers read and write it.
        cores_each
            Cores in a cell at most.
        scheduler
            The address at which a lost scheduler is looked for; None for one of this process, which is not lost.
        """
        self._client, self._folder, self._batches, self._workers = client, folder, 0, 1
        self._cores_each, self._scheduler = cores_each, scheduler
        # when no worker was found for the first time since there was one
        self._idle_since: float | None = None
        # workers may join, or come back with another scheduler, after they were looked at
        self._build = build_of()

    def cells(self, x: Floats, y: Floats) -> list[Places]:
        """Return which of N cores are worked on together, as :class:`Engine` describes it."""
        return cells_of(x, y, self._cores_each)

    def each(
        self,
        work: Work[Thing, Made],
        things: Iterable[Thing],
        sizes: Sequence[int],
        told: Callable[[int, int], None],
    ) -> list[Made]:
        """Return what some work makes of each thing, as :class:`Engine` describes it."""
        self._batches, self._idle_since = self._batches + 1, None
        folder = self._folder / f"{self._batches:04}"
        written(folder, folder.mkdir)
        waiting, made = enumerate(things), cast("dict[int, Made]", {})
        running: dict[Future, int] = {}
        while True:
            most = self._most_at_once()
            while len(running) < most:
                number, thing = next(waiting, (-1, None))
                if number < 0:
                    break
                piece = folder / f"{number:06}.piece"
                save_piece(piece, thing)
                running[self._asked(work, piece)] = number
            if not running:
                break
            for number in self._ended(running, folder, work):
                made[number] = take_made(folder / f"{number:06}.made")
                told(number, sizes[number])
        shutil.rmtree(folder, ignore_errors=True)
        return [made[number] for number in range(len(made))]

    def close(self) -> None:
        """Leave the cluster."""
        with suppress(*_LOST):
            self._client.close(timeout=_PAUSE_S)

    def _most_at_once(self) -> int:
        """Return how many pieces the scheduler knows at a time; stop where there has been nobody to work on them."""
        # not scheduler_info(), which lists five workers at most
        workers: dict[str, int] | None = None
        with suppress(*_LOST):
            workers = self._client.nthreads()
        if workers:
            self._workers = len(workers)
        if workers is None or workers:
            self._idle_since = None
            return self._workers * _AHEAD
        now = time.monotonic()
        self._idle_since = self._idle_since or now
        if now - self._idle_since > _PATIENCE_S:
            start = f"Start workers (dask worker {self._scheduler} --nthreads 1), and run" if self._scheduler else "Run"
            raise OutputError(
                f"The cluster {f'at {self._scheduler}' if self._scheduler else 'of this machine'} has had no worker "
                f"for {_PATIENCE_S:g} seconds; no outputs were written. {start} the audit again."
            )
        return self._workers * _AHEAD

    def _asked(self, work: Work[Any, Any], piece: Path) -> Future:
        """Ask the scheduler for what some work makes of a piece, and wait for a lost scheduler to come back."""
        until = time.monotonic() + _PATIENCE_S
        while True:
            with suppress(*_LOST):
                if self._client.status == "running":
                    return self._client.submit(make, work, str(piece), self._build, pure=False, retries=0)
            self._wait_for_scheduler(until)

    def _wait_for_scheduler(self, until: float) -> None:
        if time.monotonic() > until:
            raise OutputError(
                f"The connection to the scheduler {self._scheduler or 'of this machine'} was lost, and not found "
                f"again within {_PATIENCE_S:g} seconds; no outputs were written. Start the scheduler and its workers, "
                "and run the audit again."
            )
        time.sleep(_PAUSE_S)
        if self._client.status != "running" and self._scheduler is not None:
            self.close()
            with suppress(*_LOST):
                self._client = connect(self._scheduler, _PAUSE_S * 5)

    def _ended(self, running: dict[Future, int], folder: Path, work: Work[Any, Any]) -> list[int]:
        """Wait until some work has ended; return the numbers of what was made, and ask again for what was lost."""
        with suppress(*_LOST):
            wait(list(running), timeout=_PAUSE_S * 5, return_when="FIRST_COMPLETED")
        done = []
        for future, number in list(running.items()):
            lost = future.status in {"cancelled", "lost"} or self._client.status != "running"
            if future.status == "pending" and not lost:
                continue
            del running[future]
            if (folder / f"{number:06}.made").exists():
                done.append(number)
                continue
            if future.status == "error":
                _raise(future)
            if future.status == "finished":
                # a shared folder may show a file a little later than another machine wrote it
                time.sleep(_PAUSE_S / 10)
            running[self._asked(work, folder / f"{number:06}.piece")] = number
        return done


def _raise(future: Future) -> None:
    """Raise what ended the work, as an error that says what to do."""
    error = future.exception()
    if isinstance(error, KilledWorker):
        raise OutputError(
            "Several workers ended one after the other while they worked on the same piece, most likely for lack of "
            "memory; no outputs were written. Give each worker more memory, or make the pieces smaller (--cores-each)."
        ) from error
    if isinstance(error, OSError):
        raise OutputError(
            f"A worker of the cluster cannot read or write its piece ({error}); no outputs were written. Make room in "
            "the folder for pieces, or choose another one (--scratch)."
        ) from error
    if isinstance(error, KerfbookError):
        raise error
    raise cast("BaseException", error)


def connect(address: Any, timeout_s: float) -> Client:  # noqa: ANN401 - an address, or a cluster of this machine
    """Return a client of a scheduler, through which small messages alone go."""
    return Client(address, timeout=timeout_s)
