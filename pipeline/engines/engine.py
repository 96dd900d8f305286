"""What the stages know of an engine, and how they count the work that it does in pieces."""

import threading
from collections.abc import Callable, Iterable, Sequence
from typing import Protocol, TypeVar

import numpy as np
import numpy.typing as npt

from pipeline.clock import Told

__all__ = ["Count", "Done", "Engine", "Work"]

Floats = npt.NDArray[np.float64]
Places = npt.NDArray[np.intp]
Thing = TypeVar("Thing")
Made = TypeVar("Made")

# is told how much of a thing is done
Done = Callable[[int], None]
# makes something of a thing
Work = Callable[[Thing, Done], Made]


class Engine(Protocol):
    """Does work on several things that do not depend on each other.

    The answers of a stage may not depend on the engine, on how many workers it has, or on how cores are cut into cells.
    """

    @property
    def sends(self) -> bool:
        """Whether things are sent to other processes: they should then hold no more than the work reads."""

    def cells(self, x: Floats, y: Floats) -> list[Places]:
        """Return which of N cores are worked on together: every core is in one cell, in the order of the cores."""

    def each(
        self,
        work: Work[Thing, Made],
        things: Iterable[Thing],
        sizes: Sequence[int],
        told: Callable[[int, int], None],
    ) -> list[Made]:
        """Return what some work makes of each thing, in the order of the things.

        Parameters
        ----------
        work
            A function of a module, which is given a thing and is to tell how much of it is done. It must not depend on
            work that was done before, and must change nothing that other work reads; no prepared geometry may be among
            it. It may be done more than once.
        things
            Asked for one at a time. They hold no geometries that are not in a frame.
        sizes
            How much each is, in what ``told`` counts.
        told
            Is told the number of a thing, and how much of it is done.

        Raises
        ------
        Exception
            Whatever the work raises; what has not begun by then is not done.
        """


class Count:
    """Tells how much is done of work whose parts are done at the same time."""

    def __init__(self, told: Told, text: str, total: int, unit: str = "cores") -> None:
        self._told, self._text, self._total, self._unit = told, text, total, unit
        self._done: dict[int, int] = {}
        self._lock = threading.Lock()
        told(text, 0, total, unit)

    def told(self, part: int, done: int) -> None:
        """Take how much of a part is done, and tell how much of all parts is."""
        with self._lock:
            self._done[part] = done
            self._told(self._text, sum(self._done.values()), self._total, self._unit)
