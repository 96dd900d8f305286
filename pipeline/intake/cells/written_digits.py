"""The digits of written measures: each cell in the unit it was written in, and the step of its last digit."""

from typing import Final, NamedTuple

import numpy as np
import numpy.typing as npt
import pandas as pd

from pipeline.intake.cells.numbers import plain_numbers

__all__ = ["Written", "decimals_of", "written_numbers"]

# the binary form of a number is exact to 15 digits and more: this many digits were not all written by a person
_NOISY: Final = 13
# digits that a number keeps once its binary noise is rounded off
_KEPT: Final = 12


class Written(NamedTuple):
    """The cells of a column as numbers in the units that they were written in.

    ``codes``: N positions in ``distinct``. ``distinct``: one row per distinct text, ``number``, ``unit`` (as
    ``pipeline.units.SPELLINGS`` names it; empty for a count), ``digit_step`` (the step of the last digit written, in
    that unit) and ``decimals`` (places after the point, missing for a fraction); all missing where a cell was not read.
    """

    codes: npt.NDArray[np.int32]
    distinct: pd.DataFrame


def written_numbers(
    digits: pd.Series, denominator: pd.Series, number: pd.Series, unit: pd.Series, decimal: str | None
) -> pd.DataFrame:
    """Return distinct cells as :class:`Written` describes them.

    Parameters
    ----------
    digits
        N numbers as they were written, missing where a cell is not one number.
    denominator
        N denominators of written fractions, missing where there is none.
    number
        The N values, in the unit written.
    unit
        The N units.
    decimal
        See :func:`pipeline.intake.cells.numbers.read_numbers`.
    """
    decimals = decimals_of(plain_numbers(digits, decimal))
    low = pd.to_numeric(denominator, errors="coerce").astype(float)
    is_fraction = low.gt(0)
    step = pd.Series(10.0 ** -decimals.to_numpy(), number.index).mask(is_fraction, 1 / low.where(is_fraction))
    return pd.DataFrame(
        {"number": number, "unit": unit, "digit_step": step, "decimals": decimals.mask(is_fraction)}, index=number.index
    )


def decimals_of(text: pd.Series) -> pd.Series:
    """Return how many decimal places N plain numbers were written with, binary noise rounded off.

    A number that was stored as the nearest binary fraction may come back as 2.1000000000000001, or as
    2.0999999046325684 where half the bits were kept. A figure with many digits of its own, such as the 7.570823568 L of
    two gallons, keeps them.
    """
    digits = text.str.replace(r"[^0-9]", "", regex=True).str.lstrip("0").str.len()
    is_noisy = digits.ge(_NOISY).eq(True)
    if is_noisy.any():
        value = pd.to_numeric(text[is_noisy], errors="coerce").to_numpy(float)
        with np.errstate(over="ignore"):
            half = value.astype(np.float32)
        short = np.char.mod(f"%.{_KEPT}g", value)
        # every number of half the bits has an exact form of up to 53 digits; its shortest form is what was written
        rounded = np.where(half.astype(float) == value, half.astype(str), short)
        text = text.where(~is_noisy, pd.Series(rounded, text.index[is_noisy]).reindex(text.index))
    plain = text.str.extract(r"^[+-]?[0-9]*(?:\.([0-9]*))?(?:[eE]([+-]?[0-9]+))?$")
    places = plain[0].str.len().fillna(0.0) - pd.to_numeric(plain[1], errors="coerce").fillna(0.0)
    return places.clip(lower=0.0).where(text.notna()).astype(float)
