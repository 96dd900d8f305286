"""Ranges: what a quantity, a number or a day that someone writes into the settings can be."""

import datetime as dt
import reprlib
from dataclasses import dataclass
from typing import Final

from pipeline.units import quantity

__all__ = ["FIRST_DAY", "LAST_DAY", "Range", "day_within", "number_within", "shortened"]

# nobody writes a longer quantity, and an error has to stay readable
_LONGEST: Final = 100
# further away, calendars and time zones know nothing
FIRST_DAY: Final = dt.date(1900, 1, 1)
LAST_DAY: Final = dt.date(2199, 12, 31)


@dataclass(frozen=True)
class Range:
    """The quantities that are possible: from one end to the other, each written with its unit.

    ``unit``: of what ``read`` returns. ``least`` and ``most`` belong to the range, ``above`` and ``below`` do not.
    """

    unit: str
    least: str | None = None
    above: str | None = None
    below: str | None = None
    most: str | None = None

    def __str__(self) -> str:
        """Return the range in words, such as "at least 0 m and at most 1 km"."""
        ends = {"at least": self.least, "above": self.above, "below": self.below, "at most": self.most}
        return " and ".join(f"{word} {end}" for word, end in ends.items() if end is not None)

    def read(self, written: object) -> float:
        """Return a written quantity as a number in ``unit``; a share as a fraction of one.

        Raises
        ------
        ValueError
            It is no quantity of this dimension with its unit, or lies outside the range.
        """
        if isinstance(written, str) and len(written) > _LONGEST:
            raise ValueError(f"found {shortened(written)}, expected {self}")
        number = quantity(written, self.unit)
        too_small = (self.least is not None and number < quantity(self.least, self.unit)) or (
            self.above is not None and number <= quantity(self.above, self.unit)
        )
        too_large = (self.most is not None and number > quantity(self.most, self.unit)) or (
            self.below is not None and number >= quantity(self.below, self.unit)
        )
        if too_small or too_large:
            raise ValueError(f"found {written!r}, expected {self}")
        return number


def number_within(written: object, least: float, most: float, *, is_whole: bool = False) -> float:
    """Return a bare number between two ends, both included.

    Raises
    ------
    ValueError
        It is no number, not finite, not whole where that is asked, or lies outside.
    """
    # in Python, true and false are numbers too; no comparison holds for "nan"
    is_number = isinstance(written, int | float) and not isinstance(written, bool)
    if is_number and isinstance(written, int if is_whole else int | float) and least <= written <= most:
        return written
    kind = "a whole number" if is_whole else "a number"
    raise ValueError(f"found {shortened(written)}, expected {kind} from {least:,g} to {most:,}")


def day_within(written: object) -> object:
    """Return a written day as it is, where it can be one of a works programme.

    Raises
    ------
    ValueError
        It is a day before 1900 or after 2199.
    """
    if isinstance(written, dt.date):
        day = written.date() if isinstance(written, dt.datetime) else written
        if not FIRST_DAY <= day <= LAST_DAY:
            raise ValueError(f"found {written.isoformat()}, expected a date from {FIRST_DAY} to {LAST_DAY}")
    return written


def shortened(value: object) -> str:
    """Return a value in quotation marks, as code writes it; the middle of a long one is left out."""
    short = reprlib.Repr()
    short.maxstring = short.maxother = short.maxlong = _LONGEST
    return short.repr(value)
