"""Texts of our CSV files that a spreadsheet would run as formulas: how to recognise them and read them back."""

from typing import Final

import pandas as pd

__all__ = ["FORMULA", "PLAIN_NUMBER", "as_written"]

# how a formula begins in any spreadsheet program, full-width forms and white space included (OWASP, "CSV Injection");
# apostrophes before it are ours, or the register's own
FORMULA: Final = "^'*[=+\\-@\\t\\r\\n\uff1d\uff0b\uff0d\uff20]"
# a signed number is not a formula
PLAIN_NUMBER: Final = r"^[+-][0-9]+([.,][0-9]+)?$"


def as_written(cells: pd.Series) -> pd.Series:
    """Return N texts of our CSV files without the apostrophe that protects them from being run as formulas."""
    # hardly any column has such a text, and what begins with no apostrophe needs no closer look
    if not cells.str.startswith("'").any():
        return cells
    guarded = cells.str.match(f"'{FORMULA.removeprefix('^')}").fillna(value=False).astype(bool)
    plain: pd.Series = cells.where(~guarded, cells.str.slice(1))
    return plain
