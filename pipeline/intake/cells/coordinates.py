"""Written coordinates read as numbers, a whole column at a time, with the step that each was written to."""

from typing import Final, NamedTuple

import numpy as np
import numpy.typing as npt
import pandas as pd

from pipeline.contracts import no_text
from pipeline.intake.cells.numbers import NUMBER, read_numbers

__all__ = ["FORMS", "Coordinates", "decimals_of", "read_column", "tidied"]

# how a coordinate may be written other than as a plain decimal number
FORMS: Final = ("decimal comma", "grouped digits", "dms")

_HEMISPHERE: Final = "[NSEWnsew]"
_DMS: Final = (
    rf"^(?P<before>{_HEMISPHERE})?\s*(?P<sign>[+-])?(?P<degrees>[0-9]{{1,3}}(?:[.,][0-9]+)?)\s*(?:°|d|deg|\s)?\s*"
    r"(?:(?P<minutes>[0-9]{1,2}(?:[.,][0-9]+)?)\s*(?:'|m|min|\s)?\s*"
    r"(?:(?P<seconds>[0-9]{1,2}(?:[.,][0-9]+)?)\s*(?:\"|''|s|sec)?)?)?\s*"
    rf"(?P<after>{_HEMISPHERE})?$"
)
# signs that look like those of the keyboard, and blanks of every width
_LOOKALIKES: Final = str.maketrans(
    {"−": "-", "–": "-", "º": "°", "˚": "°", "′": "'", "’": "'", "‘": "'", "ʹ": "'", "″": '"', "”": '"', "“": '"'}
    | dict.fromkeys("\u00a0\u2007\u2009\u202f", " ")
)  # fmt: skip
_GROUPED: Final = r"[+-]?[0-9]{1,3}(?:([ '])[0-9]{3})(?:\1[0-9]{3})*(?:[.,][0-9]+)?"


class Coordinates(NamedTuple):
    """N coordinates along one axis.

    ``value``: missing where the text cannot be read. ``form``: one of ``FORMS``, missing for a plain number. ``step``:
    of the last digit written, in the unit of the coordinate; missing where it is not known. ``decimals``: decimal
    places as written; missing for angles in minutes or seconds, and where there is no number. ``zeros``: zeros that
    the written number ends in.
    """

    value: npt.NDArray[np.float64]
    form: pd.Series
    step: npt.NDArray[np.float64]
    decimals: npt.NDArray[np.float64]
    zeros: npt.NDArray[np.float64]


def tidied(text: pd.Series) -> pd.Series:
    """Return texts without blanks at their ends, and with one sign each for minus, degree, minute and second."""
    return text.str.translate(_LOOKALIKES).str.strip()


def read_column(text: pd.Series, decimal: str | None, *, is_degrees: bool) -> Coordinates:
    """Return one column of written coordinates as numbers.

    Reads decimal numbers with a point or a comma and with groups of three digits; in degrees also minutes and
    seconds, and letters for the hemisphere.

    Parameters
    ----------
    text
        N cells; missing where there is nothing to read.
    decimal
        The decimal mark that the programme sets, if any. In degrees, where thousands cannot occur, a single comma is
        the decimal mark in any case.
    is_degrees
        The coordinates are angles; otherwise lengths.
    """
    text = tidied(text)
    form = no_text(text.index)
    step = pd.Series(np.nan, text.index)
    direct = pd.to_numeric(text, errors="coerce").astype(float)
    # with a decimal comma, "512.345" has thousands and no decimals
    value = direct.mask(text.str.contains(".", regex=False).eq(True)) if decimal == "," and not is_degrees else direct
    odd = text[value.isna() & text.notna()]
    if len(odd):
        plain = odd.mask(odd.str.fullmatch(_GROUPED).eq(True), odd.str.replace(r"[ ']", "", regex=True))
        numbers = read_numbers(plain.where(plain.str.fullmatch(NUMBER)), decimal, lone_comma=is_degrees)
        has_comma = plain.str.contains(r",[0-9]*$") & decimals_of(plain, numbers).gt(0)
        form[numbers.index[numbers.notna() & numbers.ne(direct[numbers.index])]] = "grouped digits"
        form[numbers.index[has_comma]] = "decimal comma"
        value = value.fillna(numbers)
        if is_degrees:
            angles = _angles(odd.where(numbers.isna()))
            form[angles.index[angles["value"].notna()]] = "dms"
            value, step = value.fillna(angles["value"]), step.fillna(angles["step"])
    value = value.where(np.isfinite(value))
    decimals = decimals_of(text, value).mask(form.eq("dms"))
    step = step.fillna(_power_of_ten(-decimals)).where(value.notna())
    zeros = text.str.replace(r"[ '.,]", "", regex=True).str.extract(r"(0*)$")[0].str.len().fillna(0)
    written = (np.asarray(column, dtype=np.float64) for column in (value, step, decimals, zeros))
    values, steps, places, final_zeros = written
    return Coordinates(values, form, steps, places, final_zeros)


def _power_of_ten(exponent: pd.Series) -> pd.Series:
    return pd.Series(np.power(10.0, exponent.to_numpy(dtype=float)), exponent.index)


def decimals_of(text: pd.Series, value: pd.Series) -> pd.Series:
    """Return the decimal places of N written numbers that were read as ``value``; missing where that is not known."""
    parts = text.astype("str").str.extract(r"^[+-]?(?P<before>[0-9][0-9 '.,]*?|)(?:[.,](?P<after>[0-9]+)?)?$")
    digits = pd.to_numeric(parts["before"].str.replace(r"[ '.,]", "", regex=True).mask(lambda cell: cell.eq(""), "0"))
    after = parts["after"].str.len().fillna(0)
    # a last mark that separates thousands leaves a whole number
    has_decimals = np.isclose(np.floor(value.abs()), digits, rtol=0, atol=0.5)
    return after.where(has_decimals, 0.0).where(digits.notna() & value.notna()).astype(float)


def _angles(text: pd.Series) -> pd.DataFrame:
    """Return angles written in degrees, minutes and seconds as decimal degrees, with the step of their last digit.

    ``value`` and ``step``: N rows, in degrees; missing where they cannot be read.
    """
    parts = text.str.extract(_DMS)
    written = {name: parts[name].str.replace(",", ".", regex=False) for name in ("degrees", "minutes", "seconds")}
    number = {name: pd.to_numeric(part) for name, part in written.items()}
    letter = parts["before"].fillna(parts["after"]).str.upper()
    degrees = number["degrees"] + number["minutes"].fillna(0) / 60 + number["seconds"].fillna(0) / 3600
    sane = number["minutes"].fillna(0).lt(60) & number["seconds"].fillna(0).lt(60)
    # a letter with a sign, or two letters, may contradict each other
    sane &= ~(letter.notna() & parts["sign"].notna()) & ~(parts["before"].notna() & parts["after"].notna())
    negative = letter.isin(["S", "W"]) | parts["sign"].eq("-")
    step = pd.Series(np.nan, text.index)
    for name, share in (("seconds", 3600), ("minutes", 60), ("degrees", 1)):
        places = written[name].str.extract(r"\.([0-9]+)$")[0].str.len().fillna(0)
        step = step.fillna((_power_of_ten(-places) / share).where(number[name].notna()))
    return pd.DataFrame({"value": degrees.mask(negative, -degrees).where(sane), "step": step.where(sane)})
