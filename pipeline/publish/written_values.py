"""Numbers, dates, lists and sentences as a locale writes them; what comes again is worked out once.

A page has the same few sentences, numbers and days thousands of times.
"""

import copy
import datetime as dt
import re
from decimal import Decimal
from functools import lru_cache
from typing import Final, Literal

from babel import Locale
from babel.dates import format_date
from babel.lists import format_list
from markupsafe import escape

__all__ = ["BRACES", "listed_parts", "sentence_parts", "written_day", "written_number"]

BRACES: Final = re.compile(r"\{(\w+)\}")
_MOST_DIGITS: Final = 20
_MARK: Final = re.compile("\x00(\\d+)\x00")


@lru_cache(maxsize=65_536)
def written_number(locale: Locale, kind: Literal["decimal", "percent"], plain: str, decimals: tuple[int, int]) -> str:
    """Return a number, given as Python writes it, with the least and the most decimals."""
    pattern = (locale.decimal_formats if kind == "decimal" else locale.percent_formats)[None]
    own = copy.copy(pattern)
    own.frac_prec = decimals
    number = Decimal(plain)
    if number.is_finite() and number.adjusted() > _MOST_DIGITS:
        # no page has room for it, and the library no digits
        return f"{number:.5E}"
    return str(own.apply(number, locale))


@lru_cache(maxsize=16_384)
def written_day(locale: Locale, day: dt.date, length: Literal["medium", "full"]) -> str:
    """Return a date, with its day of the week where it is ``full``."""
    return str(format_date(day, length, locale=locale))


@lru_cache(maxsize=4096)
def sentence_parts(sentence: str, *, is_markup: bool) -> tuple[str, ...]:
    """Return a sentence in pieces: its text, escaped for markup, and at the odd places the names in braces."""
    pieces = BRACES.split(sentence)
    return tuple(str(escape(piece)) if is_markup and not place % 2 else piece for place, piece in enumerate(pieces))


@lru_cache(maxsize=1024)
def listed_parts(locale: Locale, count: int) -> tuple[str, ...]:
    """Return a list of so many in pieces: what is between them, escaped, and at the odd places their numbers."""
    # babel joins plain text: it gets a mark per part
    marks = [f"\x00{position}\x00" for position in range(count)]
    return tuple(_MARK.split(str(escape(format_list(marks, locale=locale))))) if count else ("",)
