"""The engine of one machine: this process, with a thread per processor where there are several things to do."""

from collections.abc import Callable, Iterable, Sequence
from functools import partial
from typing import Final

import numpy as np

from pipeline.engines.engine import Floats, Made, Places, Thing, Work
from pipeline.engines.side_by_side import side_by_side

__all__ = ["HERE", "Here"]


class Here:
    """Does all work in this process, and looks at all cores together."""

    sends: Final = False

    def cells(self, x: Floats, y: Floats) -> list[Places]:  # noqa: ARG002 - an engine asks by position
        """Return all of N cores as one cell."""
        return [np.arange(len(x))]

    def each(
        self,
        work: Work[Thing, Made],
        things: Iterable[Thing],
        sizes: Sequence[int],
        told: Callable[[int, int], None],
    ) -> list[Made]:
        """Return what some work makes of each thing, as :class:`Engine` describes it."""
        numbered = enumerate(things)

        def done(one: tuple[int, Thing]) -> Made:
            return work(one[1], partial(told, one[0]))

        # a single thing needs no thread, and can be interrupted
        return [done(one) for one in numbered] if len(sizes) == 1 else side_by_side(done, numbered)


HERE: Final = Here()
