"""Texts of our CSV files that a spreadsheet would run as formulas: how they are guarded and read back.

A spreadsheet takes a cell for a formula by its beginning. Where it splits lines at semicolons, tabs or bars, or a text
of several lines loses its quotation marks that way, a part of a text becomes a cell of its own: each part is guarded.
"""

import re
from typing import Final

import pandas as pd

__all__ = ["FORMULA", "PART", "PLAIN_NUMBER", "SEPARATORS", "as_written", "guarded"]

# how a formula begins in any spreadsheet program, full-width forms and white space included (OWASP, "CSV Injection");
# apostrophes before it are ours, or the register's own
FORMULA: Final = "^'*[=+\\-@\\t\\r\\n\uff1d\uff0b\uff0d\uff20]"
# a signed number is not a formula
PLAIN_NUMBER: Final = r"^[+-][0-9]+([.,][0-9]+)?$"
# between the cells of a line, or between lines, for some program or some country's settings
SEPARATORS: Final = ";|\t\r\n"
# a part of a text that would begin as a formula: blanks before it and a quotation mark that opens nothing do not count
PART: Final = f"[{SEPARATORS}]['\" \xa0]*[=+\\-@\uff1d\uff0b\uff0d\uff20]"
_PART: Final = re.compile(
    f"([{SEPARATORS}])(?=['\" \xa0]*[=+\\-@\uff1d\uff0b\uff0d\uff20])"
    f"(?![ \xa0]*[+-][0-9]+([.,][0-9]+)?[ \xa0]*(?:[{SEPARATORS}]|\\Z))"
)
_GUARDED_PART: Final = re.compile(f"([{SEPARATORS}])'(?=['\" \xa0]*[=+\\-@\uff1d\uff0b\uff0d\uff20])")


def guarded(text: str) -> str:
    """Return a text with an apostrophe before it, and before each part of it, that would run as a formula."""
    runs = re.search(FORMULA, text) and not re.search(PLAIN_NUMBER, text)
    return ("'" if runs else "") + _PART.sub(r"\1'", text)


def as_written(cells: pd.Series) -> pd.Series:
    """Return N texts of our CSV files without the apostrophes that protect them from being run as formulas."""
    # hardly any column has such a text, and what has no apostrophe needs no closer look
    quoted = cells.str.contains("'", regex=False).fillna(value=False).astype(bool)
    if not quoted.any():
        return cells
    few = cells[quoted]
    begins = few.str.match(f"'{FORMULA.removeprefix('^')}").astype(bool)
    plain = cells.copy()
    plain[quoted] = few.where(~begins, few.str.slice(1)).str.replace(_GUARDED_PART, r"\1", regex=True).array
    return plain
