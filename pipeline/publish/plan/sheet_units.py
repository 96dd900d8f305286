"""Quantities on the sheets of crews, in metric units, or those of the United States where a programme asks for them."""

from functools import lru_cache
from typing import Final

from pipeline.publish.words import Words
from pipeline.units import convert

__all__ = ["SheetUnits", "in_us_unit"]

# what people write, and the name of the unit in the words file
_SPELLED: Final = {"gal": "us gal"}
# decimal places; the others have none
_DIGITS: Final = {"in": 1, "gal": 1}


def in_us_unit(value: float, unit: str, us: str) -> float:
    """Return a number of one unit in a unit of the United States: "in", "ft", "gal", "lb" or "degF"."""
    zero, one = _line_between(unit, us)
    return float((value - zero) / (one - zero))


@lru_cache
def _line_between(unit: str, us: str) -> tuple[float, float]:
    """Return zero and one of the United States' unit in the other: degrees have another zero."""
    zero, one = convert([0.0, 1.0], _SPELLED.get(us, us), unit)
    return float(zero), float(one)


class SheetUnits:
    """Puts quantities into words; ``units``: those of the programme, "us" or "metric"."""

    def __init__(self, words: Words, units: str) -> None:
        self._words, self.is_us = words, units == "us"

    def one(self, value: float, unit: str, us: str, digits: int = 0) -> str:
        """Return a quantity: "450 mm", or "17.7 in"."""
        words = self._words
        if not self.is_us:
            return words.plainly(f"unit.{unit}", v=words.number(value, digits))
        return words.plainly(f"unit.{us}", v=words.number(in_us_unit(value, unit, us), _DIGITS.get(us, 0)))

    def air(self, value: float) -> str:
        """Return a temperature."""
        words = self._words
        if not self.is_us:
            return words.plainly("sheet.degrees", v=words.number(value))
        return words.plainly("sheet.degrees_us", v=words.number(in_us_unit(value, "degC", "degF")))
