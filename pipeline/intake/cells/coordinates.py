"""Written coordinates read as numbers, a whole column at a time, with the step that each was written to."""

from typing import Final, NamedTuple

import numpy as np
import numpy.typing as npt
import pandas as pd
import pyarrow as pa
import pyarrow.compute as pc

from pipeline.contracts import no_text
from pipeline.intake.cells.numbers import NUMBER, read_numbers

__all__ = ["FORMS", "Coordinates", "matched", "read_column", "tidied"]

# how a coordinate may be written other than as a plain decimal number
FORMS: Final = ("decimal comma", "grouped digits", "dms")

_HEMISPHERE: Final = "[NSEWnsew]"
_DMS: Final = (
    rf"(?P<before>{_HEMISPHERE})?\s*(?P<sign>[+-])?(?P<degrees>[0-9]{{1,3}}(?:[.,][0-9]+)?)\s*(?:°|d|deg|\s)?\s*"
    r"(?:(?P<minutes>[0-9]{1,2}(?:[.,][0-9]+)?)\s*(?:'|m|min|\s)?\s*"
    r"(?:(?P<seconds>[0-9]{1,2}(?:[.,][0-9]+)?)\s*(?:\"|''|s|sec)?)?)?\s*"
    rf"(?P<after>{_HEMISPHERE})?"
)
# signs that look like those of the keyboard, and blanks of every width
_LOOKALIKES: Final = {
    "−": "-", "–": "-", "º": "°", "˚": "°", "′": "'", "’": "'", "‘": "'", "ʹ": "'", "″": '"', "”": '"', "“": '"',
    "\u00a0": " ", "\u2007": " ", "\u2009": " ", "\u202f": " ",
}  # fmt: skip
_GROUPED: Final = r"[+-]?[0-9]{1,3}(?:(?: [0-9]{3})+|(?:'[0-9]{3})+)(?:[.,][0-9]+)?"
_LONE_COMMA: Final = r"[+-]?[0-9]+,[0-9]+"


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
    plain = text.str.isascii().ne(False)
    out = text
    if not plain.all():
        odd = text[~plain]
        for lookalike, sign in _LOOKALIKES.items():
            odd = odd.str.replace(lookalike, sign, regex=False)
        out = text.copy()
        out[~plain] = odd
    return out.str.strip()


def matched(text: pd.Series, pattern: str) -> pd.DataFrame:
    """Return the named groups of the texts that a pattern matches whole; a group without content is missing.

    The pattern may use what RE2 knows: no looking ahead or behind, and no reference back.
    """
    found = pc.extract_regex(pa.array(text, pa.string()), pattern=f"^(?:{pattern})$")
    hit = pc.is_valid(found).to_numpy(zero_copy_only=False)
    rows = text.index[hit]
    groups = found.filter(pc.is_valid(found)).flatten()
    names = [field.name for field in found.type]
    return pd.DataFrame(
        {
            name: pd.Series(group.to_pandas(), dtype="str").set_axis(rows).mask(lambda cell: cell.eq(""))
            for name, group in zip(names, groups, strict=True)
        },
        index=rows,
    )


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
    plain = text
    odd = text[value.isna() & text.notna()]
    if len(odd):
        bare = odd.mask(odd.str.fullmatch(_GROUPED).eq(True), odd.str.replace(r"[ ']", "", regex=True))
        numbers = _numbers(bare, decimal, is_degrees=is_degrees)
        decimals = _decimals_of_odd(bare, numbers)
        has_comma = bare.str.contains(r",[0-9]*$") & decimals.gt(0)
        form[numbers.index[numbers.notna() & numbers.ne(direct[numbers.index])]] = "grouped digits"
        form[numbers.index[has_comma]] = "decimal comma"
        value = value.fillna(numbers)
        if is_degrees:
            angles = _angles(odd[numbers.isna()])
            form[angles.index] = "dms"
            value, step = value.fillna(angles["value"]), step.fillna(angles["step"])
        plain = text.copy()
        plain[odd.index] = None
    value = value.where(np.isfinite(value))
    decimals_written = _decimals_of_plain(plain)
    if len(odd):
        decimals_written = decimals_written.fillna(decimals).mask(form.eq("dms"))
    decimals_written = decimals_written.where(value.notna())
    step = step.fillna(_power_of_ten(-decimals_written)).where(value.notna())
    digits = text.str.replace(r"[^0-9]", "", regex=True)
    zeros = (digits.str.len() - digits.str.rstrip("0").str.len()).fillna(0)
    written = (np.asarray(column, dtype=np.float64) for column in (value, step, decimals_written, zeros))
    values, steps, places, final_zeros = written
    return Coordinates(values, form, steps, places, final_zeros)


def _numbers(text: pd.Series, decimal: str | None, *, is_degrees: bool) -> pd.Series:
    """Return N written numbers as floats; missing where a text is not a number, or could be two."""
    if decimal == "," or (decimal is None and is_degrees):
        # the common form, without weighing what else a comma could be
        common = text.str.fullmatch(_LONE_COMMA).eq(True)
        if common.all():
            return pd.to_numeric(text.str.replace(",", ".", regex=False)).astype(float)
    return read_numbers(text.where(text.str.fullmatch(NUMBER).eq(True)), decimal, lone_comma=is_degrees)


def _power_of_ten(exponent: pd.Series) -> pd.Series:
    return pd.Series(np.power(10.0, exponent.to_numpy(dtype=float)), exponent.index)


def _decimals_of_plain(text: pd.Series) -> pd.Series:
    """Return the decimal places of N plain numbers; missing for one with an exponent."""
    mark = text.str.find(".")
    places = (text.str.len() - mark - 1).where(mark.ge(0), 0.0)
    return places.where(text.notna() & ~text.str.contains("[eE]").eq(True)).astype(float)


def _decimals_of_odd(text: pd.Series, value: pd.Series) -> pd.Series:
    """Return the decimal places of N numbers with commas or groups, read as ``value``; missing where not known."""
    parts = matched(text, r"[+-]?(?P<before>[0-9.,]*)[.,](?P<after>[0-9]*)").reindex(text.index)
    digits = pd.to_numeric(parts["before"].str.replace(r"[.,]", "", regex=True).fillna("0"), errors="coerce")
    after = parts["after"].str.len().fillna(0)
    # a last mark that separates thousands leaves a whole number
    has_decimals = np.floor(value.abs()).eq(digits)
    return after.where(has_decimals, 0.0).where(value.notna()).astype(float)


def _angles(text: pd.Series) -> pd.DataFrame:
    """Return angles written in degrees, minutes and seconds as decimal degrees, with the step of their last digit.

    ``value`` and ``step``: in degrees, for the rows that can be read.
    """
    parts = matched(text, _DMS)
    written = {name: parts[name].str.replace(",", ".", regex=False) for name in ("degrees", "minutes", "seconds")}
    number = {name: pd.to_numeric(part) for name, part in written.items()}
    letter = parts["before"].fillna(parts["after"]).str.upper()
    degrees = number["degrees"] + number["minutes"].fillna(0) / 60 + number["seconds"].fillna(0) / 3600
    sane = number["minutes"].fillna(0).lt(60) & number["seconds"].fillna(0).lt(60)
    # a letter with a sign, or two letters, may contradict each other
    sane &= ~(letter.notna() & parts["sign"].notna()) & ~(parts["before"].notna() & parts["after"].notna())
    negative = letter.isin(["S", "W"]) | parts["sign"].eq("-")
    step = pd.Series(np.nan, parts.index)
    for name, share in (("seconds", 3600), ("minutes", 60), ("degrees", 1)):
        places = _decimals_of_plain(written[name]).fillna(0)
        step = step.fillna((_power_of_ten(-places) / share).where(number[name].notna()))
    return pd.DataFrame({"value": degrees.mask(negative, -degrees), "step": step})[sane]
