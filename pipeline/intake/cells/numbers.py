"""Numbers as people write them, with decimal points or commas and groups of three digits, as whole columns."""

import re
from typing import Final

import numpy as np
import pandas as pd

__all__ = ["NUMBER", "joined_groups", "plain_numbers", "read_numbers"]

# a written number: digits with points or commas between them
NUMBER = r"[+-]?(?:[0-9]+(?:[.,][0-9]+)*|[.,][0-9]+)"


# blanks and apostrophes that numbers alone have between groups of three digits
_GROUP_MARKS: Final = "\xa0\u2007\u2009\u202f'\u2019"
_START: Final = r"(?<![0-9.,/])([1-9][0-9]{0,2})"
# not in front of a fraction, a further group or the mark of inches: 1'100" is a foot and 100 inches
_END: Final = r"(?![0-9/]|[.,]?[0-9]*\s*(?:[\"″”]|in\b|[\xa0\u2007\u2009\u202f' \u2019][0-9]))"
_GROUPED: Final = rf"{_START}((?:([{_GROUP_MARKS}])[0-9]{{3}})(?:\3[0-9]{{3}})*){_END}"
# after a mere blank two numbers may have been written: "18 450" is joined only with decimals or more groups
_SPACED: Final = rf"{_START}((?: [0-9]{{3}})(?:(?: [0-9]{{3}})+(?:[.,][0-9]+)?|[.,][0-9]+)){_END}"


def joined_groups(text: pd.Series) -> pd.Series:
    """Return texts without the blanks and apostrophes that separate groups of three digits, as in 512 345,67."""
    if not text.str.contains(rf"[0-9][{_GROUP_MARKS} ][0-9]").any():
        return text

    def joined(match: re.Match[str]) -> str:
        return match[1] + re.sub(rf"[{_GROUP_MARKS} ]", "", match[2])

    return text.str.replace(_GROUPED, joined, regex=True).str.replace(_SPACED, joined, regex=True)


def read_numbers(text: pd.Series, decimal: str | None, *, lone_comma: bool = False) -> pd.Series:
    """Return written numbers as floats.

    Parameters
    ----------
    text
        N texts that match ``NUMBER``, or missing; groups may also be separated as :func:`joined_groups` describes.
    decimal
        ``"."`` or ``","`` where the programme sets it; None decides cell by cell and refuses what could be either, such
        as ``1,200``.
    lone_comma
        A single comma is always the decimal mark, as in degrees, where thousands cannot occur.

    Returns
    -------
    pandas.Series
        N floats; missing where the text is not a number or could be two.
    """
    number = pd.to_numeric(plain_numbers(text, decimal, lone_comma=lone_comma), errors="coerce").astype(float)
    return number.where(np.isfinite(number))


def plain_numbers(text: pd.Series, decimal: str | None, *, lone_comma: bool = False) -> pd.Series:
    """Return written numbers with a decimal point and no groups; the arguments are those of :func:`read_numbers`."""
    text = joined_groups(text.astype("str"))
    if decimal != "," and not text.str.contains(r",|\.[^.]*\.").any():
        # nothing but one point at most
        return text
    points, commas = text.str.count(r"\."), text.str.count(",")
    last_is_comma = text.str.rfind(",") > text.str.rfind(".")
    plain = text.where(commas.eq(0) & points.le(1))
    # "1.234,5" and "1,234.5": the last mark is the decimal mark, the others separate groups of three
    both = (points > 0) & (commas > 0)
    comma_decimal = text.where(both & last_is_comma & text.str.fullmatch(r"[+-]?[0-9]{1,3}(?:\.[0-9]{3})+,[0-9]+"))
    point_decimal = text.where(both & ~last_is_comma & text.str.fullmatch(r"[+-]?[0-9]{1,3}(?:,[0-9]{3})+\.[0-9]+"))
    # several marks of one kind can only separate groups
    grouped = text.where(text.str.fullmatch(r"[+-]?[0-9]{1,3}(?:,[0-9]{3}){2,}|[+-]?[0-9]{1,3}(?:\.[0-9]{3}){2,}"))
    lone = text.where(commas.eq(1) & points.eq(0))
    could_be_thousands = lone.str.fullmatch(r"[+-]?[1-9][0-9]{0,2},[0-9]{3}").eq(True)
    if decimal == ",":
        point_thousands = plain.str.fullmatch(r"[+-]?[1-9][0-9]{0,2}\.[0-9]{3}").eq(True)
        plain = plain.mask(point_thousands, plain.str.replace(".", "", regex=False))
    elif decimal == ".":
        grouped = grouped.fillna(lone.where(could_be_thousands))
        lone = lone.where(~could_be_thousands)
    elif not lone_comma:
        lone = lone.where(~could_be_thousands)
    settled: pd.Series = (
        plain.fillna(comma_decimal.str.replace(".", "", regex=False).str.replace(",", ".", regex=False))
        .fillna(point_decimal.str.replace(",", "", regex=False))
        .fillna(grouped.str.replace(r"[.,]", "", regex=True))
        .fillna(lone.str.replace(",", ".", regex=False))
    )
    return settled
