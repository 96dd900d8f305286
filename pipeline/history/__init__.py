"""History: two runs of a programme compared, and the trend over all its runs."""

from pipeline.history.changes import KINDS, Changes, Side, compare
from pipeline.history.comparable import caveats
from pipeline.history.differences import MOVED_M
from pipeline.history.trend import trend

__all__ = ["KINDS", "MOVED_M", "Changes", "Side", "caveats", "compare", "trend"]
