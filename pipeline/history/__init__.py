"""History: two runs of a programme compared, and how its runs went over time."""

from pipeline.history.changes import KINDS, Changes, Side, compare
from pipeline.history.comparable import doubts
from pipeline.history.trend import trend

__all__ = ["KINDS", "Changes", "Side", "compare", "doubts", "trend"]
