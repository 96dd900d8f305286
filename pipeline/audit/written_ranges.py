"""Written values as ranges: what a value may have been before it was rounded to the step it was written to.

A limit is breached only if every value of the range breaches it. If only some do, the core is at the limit: the record
cannot tell. A value that is written exactly as the limit itself is such a case, unless its step is unknown.
"""

from typing import NamedTuple

import numpy as np
import pandas as pd

from pipeline.audit.findings import Findings

__all__ = ["TOLERANCE", "Verdict", "WrittenRange", "above", "below", "both", "either", "outside", "size_shares"]

# values that differ by less count as the same: binary fractions are not exact
TOLERANCE = 1e-9


class WrittenRange(NamedTuple):
    """The least and the greatest that each of N values may have been."""

    low: pd.Series
    high: pd.Series

    @classmethod
    def of(cls, value: pd.Series, step: pd.Series) -> "WrittenRange":
        """Return N values with half the step that each was written to on either side; a missing step is none."""
        half = step.fillna(0.0) / 2
        return cls(value - half, value + half)

    @property
    def size(self) -> "WrittenRange":
        """The range of the absolute values."""
        nearest = self.low.where(self.low.gt(0), (-self.high).where(self.high.lt(0), 0.0))
        return WrittenRange(nearest, pd.concat([-self.low, self.high], axis="columns").max(axis="columns"))


class Verdict(NamedTuple):
    """For each of N cores: ``sure``, every value that the record may stand for breaches; ``possible``, some value does.

    What is sure is possible as well.
    """

    sure: pd.Series
    possible: pd.Series

    def on(self, findings: Findings) -> Findings:
        """Return the findings with the cores for which the rule cannot tell."""
        return findings.with_at_limit(self.possible & ~self.sure)


def above(value: WrittenRange, limit: float | pd.Series, least: float | pd.Series | None = None) -> Verdict:
    """Return whether values are above a limit.

    Parameters
    ----------
    value
        N ranges.
    limit
        The limit; its greatest value, where it is a range as well.
    least
        Its least value, where it is a range.
    """
    low = limit if least is None else least
    return Verdict(value.low.gt(limit + TOLERANCE), value.high.gt(low + TOLERANCE))


def below(value: WrittenRange, limit: float | pd.Series, most: float | pd.Series | None = None) -> Verdict:
    """Return whether values are below a limit; ``limit`` is its least value and ``most`` its greatest, if a range."""
    high = limit if most is None else most
    return Verdict(value.high.lt(limit - TOLERANCE), value.low.lt(high - TOLERANCE))


def outside(value: WrittenRange, least: float | pd.Series, most: float | pd.Series) -> Verdict:
    """Return whether values are outside a range of limits, both ends included in it."""
    return either(below(value, least), above(value, most))


def either(one: Verdict, other: Verdict) -> Verdict:
    """Return whether one or the other is breached."""
    return Verdict(one.sure | other.sure, one.possible | other.possible)


def both(one: Verdict, other: Verdict) -> Verdict:
    """Return whether both are breached."""
    return Verdict(one.sure & other.sure, one.possible & other.possible)


def size_shares(cores: pd.DataFrame) -> WrittenRange:
    """Return the least and the greatest share of the void worked out that the rounding of the sizes leaves possible.

    Parameters
    ----------
    cores
        N rows with ``hole_mm``, ``depth_believed_mm``, ``diameter_step_mm`` and ``depth_step_mm``. No part of a void
        grows faster than the square of the diameter times the depth.
    """
    wide, deep = (
        (cores[step].fillna(0.0) / 2 / cores[size]).clip(upper=1.0).fillna(0.0)
        for step, size in (("diameter_step_mm", "hole_mm"), ("depth_step_mm", "depth_believed_mm"))
    )
    return WrittenRange(np.square(1 - wide) * (1 - deep), np.square(1 + wide) * (1 + deep))
