"""How a cluster is asked for."""

from pathlib import Path
from typing import Final, NamedTuple

__all__ = ["CORES_EACH", "Wanted"]

# cores in a cell
CORES_EACH: Final = 50_000


class Wanted(NamedTuple):
    """How a cluster is asked for.

    ``scheduler``: the address of one that is there; None starts one on this machine, with so many ``workers`` (None:
    one per processor). ``scratch``: a folder that all workers read and write; None takes one of this machine.
    ``cores_each``: cores in a cell at most.
    """

    scheduler: str | None = None
    workers: int | None = None
    scratch: Path | None = None
    cores_each: int = CORES_EACH
