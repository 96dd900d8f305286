"""Numbers as people write them: decimal points and commas, groups of three digits. Whole columns."""

import numpy as np
import pandas as pd

__all__ = ["NUMBER", "read_numbers"]

# one written number: digits with points or commas between them
NUMBER = r"[+-]?(?:[0-9]+(?:[.,][0-9]+)*|[.,][0-9]+)"


def read_numbers(text: pd.Series, decimal: str | None, *, lone_comma: bool = False) -> pd.Series:
    """Read written numbers.

    Parameters
    ----------
    text
        N texts that match ``NUMBER``, or missing.
    decimal
        ``"."`` or ``","`` where the register settles it; ``None`` works it out cell by cell and refuses
        what could be either, such as ``1,200``.
    lone_comma
        A single comma is always the decimal mark, as in degrees, where a thousand cannot occur.

    Returns
    -------
    pandas.Series
        N floats; missing where the text cannot be settled.
    """
    text = text.astype("str")
    points, commas = text.str.count(r"\."), text.str.count(",")
    last_is_comma = text.str.rfind(",") > text.str.rfind(".")
    plain = text.where(commas.eq(0) & points.le(1))
    # "1.234,5" and "1,234.5": the last mark is the decimal one, the others stand between groups of three
    both = (points > 0) & (commas > 0)
    comma_decimal = text.where(both & last_is_comma & text.str.fullmatch(r"[+-]?[0-9]{1,3}(?:\.[0-9]{3})+,[0-9]+"))
    point_decimal = text.where(both & ~last_is_comma & text.str.fullmatch(r"[+-]?[0-9]{1,3}(?:,[0-9]{3})+\.[0-9]+"))
    # several of one mark can only be groups
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
    settled = (
        plain.fillna(comma_decimal.str.replace(".", "", regex=False).str.replace(",", ".", regex=False))
        .fillna(point_decimal.str.replace(",", "", regex=False))
        .fillna(grouped.str.replace(r"[.,]", "", regex=True))
        .fillna(lone.str.replace(",", ".", regex=False))
    )
    number = pd.to_numeric(settled, errors="coerce").astype(float)
    return number.where(np.isfinite(number))
