"""What a stage costs: seconds, and the process's peak memory."""

import sys
from typing import NamedTuple

__all__ = ["StageCost", "peak_mb"]


class StageCost(NamedTuple):
    """Seconds a stage took, and the peak memory in MB when it ended; None where the system does not tell."""

    stage: str
    seconds: float
    peak_mb: float | None


def peak_mb() -> float | None:
    """Return the peak memory of this process so far, in MB."""
    try:
        import resource  # noqa: PLC0415 - not on every system
    except ImportError:
        return None
    peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
    # kilobytes everywhere but on macOS, where it is bytes
    return peak / 1024**2 if sys.platform == "darwin" else peak / 1024
