"""Measures as people write them, such as ``18 in``, ``17 1/2"``, ``1'8"`` or ``0,59 m``, as whole columns."""

import re
from typing import Final, NamedTuple

import numpy as np
import pandas as pd

from pipeline.contracts import is_missing, no_text
from pipeline.intake.cells.numbers import NUMBER, joined_groups, read_numbers
from pipeline.intake.cells.written_digits import Written, written_numbers
from pipeline.units import DIMENSION_OF_UNIT, MARKS, SPELLINGS, ambiguous_units, convert, plain_spelling

__all__ = ["Reading", "read_measures"]

_VULGAR: Final = {"½": "1/2", "¼": "1/4", "¾": "3/4", "⅛": "1/8", "⅜": "3/8", "⅝": "5/8", "⅞": "7/8"}
_PREFIX: Final = r"^(?:ø|⌀|∅|dia(?:m(?:eter)?)?\.?)\s*[:=]?\s*"
_FEET: Final = rf"(?P<feet>{NUMBER})\s*(?:'|ft\.?|foot|feet)\s*-?\s*"
_INCHES: Final = (
    rf"(?:(?P<inches>{NUMBER})(?:[\s-]+(?P<top>[0-9]+)/(?P<low>[0-9]+))?|(?P<only_top>[0-9]+)/(?P<only_low>[0-9]+))"
)
_FEET_AND_INCHES: Final = rf"^{_FEET}{_INCHES}\s*(?:\"|in\.?|ins\.?|inch|inches)?$"
_MIXED: Final = r"^(?:(?P<whole>[0-9]+)[\s-]+)?(?P<top>[0-9]+)/(?P<low>[0-9]+)\s*(?P<unit>(?:[^\W\d_]|[°\"']).*)?$"
_BARE: Final = r"[+-]?[0-9]+(?:\.[0-9]+)?"
_ANY_MARK: Final = "|".join(map(re.escape, MARKS))
# as programs write what is very small or large: with a sign, which a number of a job has not
_EXPONENT: Final = r"[+-]?(?:[0-9]+(?:\.[0-9]*)?|\.[0-9]+)e[+-][0-9]{1,3}"
# more than any length, mass, volume or count of this trade, in any unit of a register; still exact in a browser
_MOST: Final = 1e12
_PLAIN: Final = rf"^(?P<number>{_EXPONENT}|{NUMBER})\s*(?P<unit>(?:[^\W\d_]|[°\"']).*)?$"


class Reading(NamedTuple):
    """One column of measures as read.

    ``values``: N floats in the unit asked for, missing where not read. ``problem``: N texts, missing where the cell was
    read or is empty; else ``unreadable``, ``no unit``, ``thousands or decimals`` or ``which gallon``. ``written``: the
    numbers in the units that they were written in, with the step of their last digit.
    """

    values: pd.Series
    problem: pd.Series
    written: Written


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
    texts = pd.Series(uniques, dtype="str").reindex(range(len(uniques) + 1))
    values, problem, distinct = _read_uniques(texts, unit, bare_unit, decimal)
    values, problem = (column.iloc[codes].set_axis(text.index) for column in (values, problem))
    return Reading(values, problem, Written(np.where(codes < 0, len(uniques), codes).astype(np.int32), distinct))


def _read_uniques(
    text: pd.Series, unit: str, bare_unit: str | None, decimal: str | None
) -> tuple[pd.Series, pd.Series, pd.DataFrame]:
    """Return distinct texts as read: values, problems, and the numbers as :class:`Written` describes them."""
    dimension = DIMENSION_OF_UNIT[unit.lower()]
    spellings = SPELLINGS[dimension]
    bare = "" if "" in spellings else bare_unit and bare_unit.lower()
    clean = text.str.strip()
    # most columns hold bare numbers alone, which need no cleaning and have no parts
    are_bare = not (clean.str.fullmatch(_BARE) | clean.isna()).eq(False).any()
    if not are_bare:
        clean = _cleaned(clean)
    plain_parts = _bare_parts(clean) if are_bare else clean.str.extract(_PLAIN)
    mixed_parts = _no_parts(clean) if are_bare else clean.str.extract(_MIXED)
    number = read_numbers(plain_parts["number"], decimal)
    number = number.fillna(
        _ratio(mixed_parts["top"], mixed_parts["low"])
        + _whole(mixed_parts["whole"]).where(mixed_parts["whole"].notna(), 0.0)
    )
    written_unit = plain_parts["unit"].fillna(mixed_parts["unit"])
    meant, is_open = _units_meant(written_unit, dimension, bare)

    is_number = plain_parts["number"].notna() | mixed_parts["top"].notna()
    values = pd.Series(np.nan, text.index)
    for spelling in meant.dropna().unique():
        if spelling in spellings:
            here = meant.eq(spelling) & number.notna()
            # what overflows is unreadable
            with np.errstate(over="ignore"):
                values[here] = convert(number[here], spelling, unit)

    written = written_numbers(plain_parts["number"], mixed_parts["low"], number, meant.map(spellings), decimal)
    if "ft" in spellings and not are_bare:
        total, in_inches = _feet_and_inches(clean, unit, decimal)
        values, written = values.mask(total.notna(), total), written.mask(total.notna(), in_inches)

    values = values.where(values.abs().le(_MOST))
    problem = no_text(text.index)
    unread = values.isna() & text.notna()
    problem[unread] = "unreadable"
    problem[unread & is_number & meant.isna()] = "no unit"
    problem[unread & is_number & is_open] = "which gallon"
    lone_group = plain_parts["number"].str.fullmatch(r"[+-]?[1-9][0-9]{0,2},[0-9]{3}").eq(True)
    problem[unread & lone_group & (decimal is None)] = "thousands or decimals"
    return values, problem, written.where(values.notna())


def _cleaned(text: pd.Series) -> pd.Series:
    """Return texts in lower case with plain marks, without the sign of a diameter and without blanks in groups."""
    if text.str.contains("[½¼¾⅛⅜⅝⅞]").any():
        for sign, fraction in _VULGAR.items():
            text = text.str.replace(sign, f" {fraction}", regex=False)
    text = joined_groups(text)
    if text.str.contains(_ANY_MARK).any():
        for mark, plain in MARKS.items():
            text = text.str.replace(mark, plain, regex=False)
    text = text.str.casefold().str.replace(_PREFIX, "", regex=True).str.strip()
    return text.str.replace(r"\s*(?:ø|dia\.?)$", "", regex=True).str.replace(r"\s+", " ", regex=True)


def _bare_parts(text: pd.Series) -> pd.DataFrame:
    """Return bare numbers as the parts of ``_PLAIN``."""
    return pd.DataFrame({"number": text, "unit": no_text(text.index)})


def _no_parts(text: pd.Series) -> pd.DataFrame:
    """Return the parts of ``_MIXED``, all missing."""
    return pd.DataFrame({part: no_text(text.index) for part in ("whole", "top", "low", "unit")})


def _feet_and_inches(text: pd.Series, unit: str, decimal: str | None) -> tuple[pd.Series, pd.DataFrame]:
    """Return lengths written in feet and inches, and their inches as :class:`Written` describes them; else missing."""
    parts = text.str.extract(_FEET_AND_INCHES)
    is_feet = parts["feet"].notna()
    inches = read_numbers(parts["inches"], decimal).where(parts["inches"].notna(), 0.0)
    for top, low in (("top", "low"), ("only_top", "only_low")):
        inches += _ratio(parts[top], parts[low]).where(parts[top].notna(), 0.0)
    feet = read_numbers(parts["feet"], decimal)
    # the sign before the feet is that of the inches too
    inches = inches.mask(parts["feet"].str.startswith("-").eq(True), -inches)
    with np.errstate(over="ignore"):
        total = pd.Series(convert(feet, "ft", unit) + convert(inches, "in", unit), text.index)
    written = written_numbers(
        parts["inches"].fillna("0").where(is_feet),
        parts["low"].fillna(parts["only_low"]),
        12 * feet + inches,
        pd.Series(SPELLINGS["length"]["in"], text.index),
        decimal,
    )
    return total, written.where(is_feet)


def _units_meant(written: pd.Series, dimension: str, bare: str | None) -> tuple[pd.Series, pd.Series]:
    """Return the unit that each cell means, in the spelling of ``SPELLINGS``, and whether it says gallon and not which.

    A bare number, and a degree sign without its scale, mean the unit of the column: missing where it has none.
    """
    known = SPELLINGS[dimension]
    meant, is_open = {}, {}
    for spelling in written.dropna().unique():
        plain = plain_spelling(spelling)
        could_be = ambiguous_units(plain, dimension)
        fits = bare is not None and any(known[unit.lower()] == known[bare] for unit in could_be)
        is_degree = dimension == "temperature" and bool(could_be)
        meant[spelling] = bare if fits else None if is_degree else plain
        is_open[spelling] = bool(could_be) and not fits and not is_degree
    of_cells = written.map(meant).where(written.notna(), bare if bare is not None else np.nan)
    return of_cells.astype("str"), written.map(is_open).eq(True)


def _ratio(top: pd.Series, low: pd.Series) -> pd.Series:
    """Return the value of a written fraction; missing where the denominator is zero."""
    return _whole(top) / _whole(low).where(lambda number: number > 0)


def _whole(digits: pd.Series) -> pd.Series:
    """Return written whole numbers; missing where there are more digits than a number can have."""
    return pd.to_numeric(digits, errors="coerce").astype(float)
