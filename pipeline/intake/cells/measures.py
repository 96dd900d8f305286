"""Measures as people write them, such as ``18 in``, ``17 1/2"``, ``1'8"`` or ``0,59 m``, as whole columns."""

import re
from typing import Final, NamedTuple

import numpy as np
import pandas as pd

from pipeline.contracts import is_missing, no_text
from pipeline.intake.cells.numbers import NUMBER, read_numbers
from pipeline.units import DIMENSION_OF_UNIT, SPELLINGS, convert

__all__ = ["Reading", "header_unit", "read_measures"]

_MARKS: Final = {
    "″": '"',
    "”": '"',
    "“": '"',
    "''": '"',
    "′": "'",
    "’": "'",
    "‘": "'",
    "⁄": "/",
    "−": "-",
    "\xa0": " ",
}
_VULGAR: Final = {"½": "1/2", "¼": "1/4", "¾": "3/4", "⅛": "1/8", "⅜": "3/8", "⅝": "5/8", "⅞": "7/8"}
_PREFIX: Final = r"^(?:ø|⌀|∅|dia(?:m(?:eter)?)?\.?)\s*[:=]?\s*"
_FEET: Final = rf"(?P<feet>{NUMBER})\s*(?:'|ft\.?|foot|feet)\s*-?\s*"
_INCHES: Final = (
    rf"(?:(?P<inches>{NUMBER})(?:[\s-]+(?P<top>[0-9]+)/(?P<low>[0-9]+))?|(?P<only_top>[0-9]+)/(?P<only_low>[0-9]+))"
)
_FEET_AND_INCHES: Final = rf"^{_FEET}{_INCHES}\s*(?:\"|in\.?|ins\.?|inch|inches)?$"
_MIXED: Final = r"^(?:(?P<whole>[0-9]+)[\s-]+)?(?P<top>[0-9]+)/(?P<low>[0-9]+)\s*(?P<unit>(?:[^\W\d_]|[°\"']).*)?$"
_PLAIN: Final = rf"^(?P<number>{NUMBER})\s*(?P<unit>(?:[^\W\d_]|[°\"']).*)?$"


class Reading(NamedTuple):
    """One column of measures as read.

    ``values``: N floats in the unit asked for, missing where not read. ``problem``: N texts, missing where the cell was
    read or is empty; else ``unreadable``, ``no unit`` or ``thousands or decimals``.
    """

    values: pd.Series
    problem: pd.Series


def header_unit(header: str, unit: str) -> str | None:
    """Return the unit that a column's header ends in, as in ``dia_mm`` or ``Depth (in)``; None without one."""
    spellings = SPELLINGS[DIMENSION_OF_UNIT[unit.lower()]]
    match = re.search(r"(?:_|\s*\(|\s*\[|\s+)([^\W\d_]+)[)\]]?$", header.strip())
    found = match.group(1).lower() if match else ""
    # after a mere blank a unit is not certain: "put in" ends in a word
    sure = bool(match) and (header.strip()[-1] in ")]" or "_" in header)
    return found if sure and found in spellings else None


def read_measures(text: pd.Series, unit: str, bare_unit: str | None, decimal: str | None) -> Reading:
    """Return one column of measures as read.

    Parameters
    ----------
    text
        N texts, or missing.
    unit
        The unit to return, a key of ``pipeline.units.DIMENSION_OF_UNIT``; its dimension decides which spellings are
        read.
    bare_unit
        The unit of a number without one; None refuses bare numbers, unless what is measured is a count.
    decimal
        See :func:`pipeline.intake.cells.numbers.read_numbers`.

    Returns
    -------
    Reading
        On the index of ``text``.
    """
    codes, uniques = pd.factorize(text.where(~is_missing(text)))
    # each distinct text is read once; a missing cell has code -1, which is the row added at the end
    read = _read_uniques(pd.Series([*uniques, None], dtype="str"), unit, bare_unit, decimal)
    values, problem = (column.iloc[codes].set_axis(text.index) for column in read)
    return Reading(values, problem)


def _read_uniques(text: pd.Series, unit: str, bare_unit: str | None, decimal: str | None) -> Reading:
    """Return distinct texts as read."""
    spellings = SPELLINGS[DIMENSION_OF_UNIT[unit.lower()]]
    bare = "" if "" in spellings else bare_unit
    clean = text.str.strip()
    for sign, fraction in _VULGAR.items():
        clean = clean.str.replace(sign, f" {fraction}", regex=False)
    for mark, plain in _MARKS.items():
        clean = clean.str.replace(mark, plain, regex=False)
    clean = clean.str.casefold().str.replace(_PREFIX, "", regex=True).str.strip()
    clean = clean.str.replace(r"\s*(?:ø|dia\.?)$", "", regex=True).str.replace(r"\s+", " ", regex=True)

    plain_parts = clean.str.extract(_PLAIN)
    mixed_parts = clean.str.extract(_MIXED)
    number = read_numbers(plain_parts["number"], decimal)
    number = number.fillna(
        _ratio(mixed_parts["top"], mixed_parts["low"]) + pd.to_numeric(mixed_parts["whole"]).fillna(0)
    )
    written_unit = plain_parts["unit"].fillna(mixed_parts["unit"]).str.rstrip(". ")

    is_number = plain_parts["number"].notna() | mixed_parts["top"].notna()
    has_unit = written_unit.notna()
    spelling = written_unit.where(has_unit, bare if bare is not None else np.nan)
    values = pd.Series(np.nan, text.index)
    for written in spelling.dropna().unique():
        if written.lower() in spellings:
            here = spelling.eq(written) & number.notna()
            values[here] = convert(number[here], written, unit)

    is_feet = pd.Series(data=False, index=text.index)
    if "ft" in spellings:
        feet = clean.str.extract(_FEET_AND_INCHES)
        is_feet = feet["feet"].notna()
        inches = read_numbers(feet["inches"], decimal).where(feet["inches"].notna(), 0.0)
        for top, low in (("top", "low"), ("only_top", "only_low")):
            inches += _ratio(feet[top], feet[low]).where(feet[top].notna(), 0.0)
        total = convert(read_numbers(feet["feet"], decimal), "ft", unit) + convert(inches, "in", unit)
        values = values.mask(is_feet, pd.Series(total, text.index))

    problem = no_text(text.index)
    unread = values.isna() & text.notna()
    problem[unread] = "unreadable"
    problem[unread & is_number & ~has_unit & (bare is None)] = "no unit"
    lone_group = plain_parts["number"].str.fullmatch(r"[+-]?[1-9][0-9]{0,2},[0-9]{3}").eq(True)
    problem[unread & lone_group & (decimal is None)] = "thousands or decimals"
    return Reading(values, problem)


def _ratio(top: pd.Series, low: pd.Series) -> pd.Series:
    """Return the value of a written fraction; missing where the denominator is zero."""
    return pd.to_numeric(top) / pd.to_numeric(low).where(lambda number: number > 0)
