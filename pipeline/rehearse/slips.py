"""Slips of the pen and of the keyboard: N cells as written, and as somebody could have written them by mistake.

Each function takes a column of texts and returns one on the same index. A cell in which the slip cannot be made comes
back as it was.
"""

from typing import Final

import numpy as np
import numpy.typing as npt
import pandas as pd

from pipeline.intake.files.tables import as_text

__all__ = [
    "cut_decimals", "drop_point", "exchange_day_and_month", "exchange_digits", "flip_sign", "letter_for_digit",
    "other_of", "points_to_commas", "scale", "shift_year", "written_dms", "wrong_digit",
]  # fmt: skip

_NUMBER: Final = r"^(\s*[-+]?)(\d+(?:[.,]\d+)?)(\s*)$"
_ISO: Final = r"^(\s*\d{4}-)(\d\d)(-)(\d\d)(?!\d)(.*)$"
_LOCAL: Final = r"^(\s*)(\d{1,2})([./-])(\d{1,2})([./-]\d{2,4}(?!\d).*)$"
_YEAR: Final = r"^(.*?)(?<!\d)((?:19|20)\d\d)(?!\d)(.*)$"
_SHORT_YEAR: Final = r"^(\s*\d{1,2}[./-]\d{1,2}[./-])(\d\d)(?!\d)(.*)$"
# significant digits that a number keeps when its unit changes
_DIGITS: Final = 5
_MONTHS: Final = 12


def exchange_digits(texts: pd.Series, rng: np.random.Generator) -> pd.Series:
    """Exchange two neighbouring digits that differ, at a random place of each cell: 4805 becomes 4085."""
    letters = _letters(texts)
    digits = (letters >= "0") & (letters <= "9")
    able = digits[:, :-1] & digits[:, 1:] & (letters[:, :-1] != letters[:, 1:])
    rows, at = _random_places(able, rng)
    letters[rows, at], letters[rows, at + 1] = letters[rows, at + 1], letters[rows, at]
    return _together(letters, texts)


def wrong_digit(texts: pd.Series, rng: np.random.Generator) -> pd.Series:
    """Replace one digit, at a random place of each cell, by another one."""
    letters = _letters(texts)
    rows, at = _random_places((letters >= "0") & (letters <= "9"), rng)
    digits = (letters[rows, at].astype(np.int64) + rng.integers(1, 10, len(rows))) % 10
    letters[rows, at] = digits.astype(letters.dtype)
    return _together(letters, texts)


def letter_for_digit(texts: pd.Series) -> pd.Series:
    """Write the letter O in place of the last nought."""
    return texts.str.replace(r"0(?=[^0]*$)", "O", regex=True)


def scale(texts: pd.Series, factor: float, offset: float = 0.0) -> pd.Series:
    """Return bare numbers as they are in another unit: times a factor, plus an offset; others stay as they are."""
    parts = texts.str.extract(_NUMBER)
    has_comma = parts[1].str.contains(",", regex=False).eq(True)
    number = pd.to_numeric((parts[0].str.strip() + parts[1]).str.replace(",", ".", regex=False), errors="coerce")
    value = number * factor + offset
    with np.errstate(divide="ignore", invalid="ignore"):
        size = np.floor(np.log10(value.abs().where(value.ne(0), 1.0)))
    step = 10.0 ** (size - _DIGITS + 1)
    # the division by a whole number of steps leaves no binary remainder
    rounded = pd.Series(np.where(step < 1, np.round(value / step) / np.round(1 / step), np.round(value)), texts.index)
    written = as_text(rounded)
    written = written.mask(has_comma, written.str.replace(".", ",", regex=False))
    return written.where(number.notna(), texts)


def flip_sign(texts: pd.Series) -> pd.Series:
    """Take the minus sign from a number, or put one before it."""
    is_number = texts.str.match(_NUMBER).eq(True)
    bare = texts.str.strip()
    flipped = bare.str.removeprefix("-").where(bare.str.startswith("-"), "-" + bare.str.removeprefix("+"))
    return flipped.where(is_number, texts)


def cut_decimals(texts: pd.Series, kept: int) -> pd.Series:
    """Cut the decimals of a number after the first few; a negative count makes noughts of its last whole digits."""
    if kept > 0:
        return texts.str.replace(rf"^(\s*[-+]?\d+[.,]\d{{{kept}}})\d+(\s*)$", r"\1\2", regex=True)
    number = pd.to_numeric(texts.str.replace(",", ".", regex=False), errors="coerce")
    step = 10.0**-kept
    return as_text(np.trunc(number / step) * step).where(number.notna(), texts)


def drop_point(texts: pd.Series) -> pd.Series:
    """Leave out the decimal point of a number."""
    return texts.str.replace(r"^(\s*[-+]?\d+)[.,](\d+\s*)$", r"\1\2", regex=True)


def points_to_commas(texts: pd.Series) -> pd.Series:
    """Write a decimal comma in place of the decimal point."""
    return texts.str.replace(r"^(\s*[-+]?\d+)\.(\d+\s*)$", r"\1,\2", regex=True)


def written_dms(texts: pd.Series) -> pd.Series:
    """Write decimal degrees as degrees, minutes and seconds to a hundredth."""
    number = pd.Series(pd.to_numeric(texts, errors="coerce"), texts.index)
    hundredths = (number.abs() * 360_000).round().fillna(0).astype("int64")
    degrees, rest = hundredths // 360_000, hundredths % 360_000
    minutes, seconds = rest // 6000, rest % 6000
    sign = pd.Series("", texts.index).mask(number.lt(0), "-")
    whole = (seconds // 100).astype("str").str.zfill(2) + "." + (seconds % 100).astype("str").str.zfill(2)
    written = sign + degrees.astype("str") + "°" + minutes.astype("str").str.zfill(2) + "'" + whole + '"'
    return written.where(number.notna(), texts)


def exchange_day_and_month(texts: pd.Series) -> pd.Series:
    """Exchange day and month of a date where both could be a month and they differ."""
    changed = texts
    for pattern in (_ISO, _LOCAL):
        parts = texts.str.extract(pattern)
        first, second = (pd.to_numeric(parts[place], errors="coerce") for place in (1, 3))
        able = first.le(_MONTHS) & second.le(_MONTHS) & first.ne(second)
        changed = changed.mask(able, parts[0] + parts[3] + parts[2] + parts[1] + parts[4])
    return changed


def shift_year(texts: pd.Series, years: int) -> pd.Series:
    """Write a date with another year."""
    changed = texts
    for pattern, width in ((_YEAR, 4), (_SHORT_YEAR, 2)):
        parts = texts.str.extract(pattern)
        year = pd.to_numeric(parts[1], errors="coerce") + years
        shown = year.mask(year.lt(0)).astype("Int64").astype("str").str.zfill(width)
        changed = changed.mask(year.ge(0) & changed.eq(texts), parts[0] + shown + parts[2])
    return changed


def other_of(texts: pd.Series, among: pd.Series, rng: np.random.Generator) -> pd.Series:
    """Return for each cell another text of a whole column, whatever its case, at random; as it was if there is none.

    Parameters
    ----------
    texts
        N cells.
    among
        The column; a text that is there more often is no likelier.
    rng
        Source of the random numbers.
    """
    pool = among.dropna()
    pool = pool[~pool.str.strip().str.casefold().duplicated()].reset_index(drop=True)
    if not len(pool):
        return texts
    at = rng.integers(0, len(pool), len(texts))
    is_own = pool.take(at).str.strip().str.casefold().to_numpy() == texts.str.strip().str.casefold().to_numpy()
    other = pool.take(np.where(is_own, (at + 1) % len(pool), at)).set_axis(texts.index)
    return other.where(texts.notna() & (len(pool) > 1), texts)


def _letters(texts: pd.Series) -> npt.NDArray[np.str_]:
    """Return N texts as a table of single letters, those that are missing as blanks."""
    array = texts.fillna("").to_numpy(dtype=str)
    # one letter more, so that a table of nothing still has columns
    width = max(array.dtype.itemsize // 4, 1) + 1
    return array.astype(f"<U{width}").view("<U1").reshape(len(array), width).copy()


def _together(letters: npt.NDArray[np.str_], texts: pd.Series) -> pd.Series:
    if not len(texts):
        return texts
    whole = np.ascontiguousarray(letters).view(f"<U{letters.shape[1]}").ravel()
    return pd.Series(whole, texts.index, dtype="str").where(texts.notna(), texts)


def _random_places(able: npt.NDArray[np.bool_], rng: np.random.Generator) -> tuple[npt.NDArray[np.intp], ...]:
    """Return the rows in which any place will do, and a random one of its places for each."""
    at = np.where(able, rng.random(able.shape), -1.0).argmax(axis=1)
    rows = np.flatnonzero(able.any(axis=1))
    return rows, at[rows]
