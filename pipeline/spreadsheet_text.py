"""What a text in our CSV files looks like, so that no spreadsheet runs it; and how it is read back."""

from typing import Final

import pandas as pd

__all__ = ["FORMULA", "PLAIN_NUMBER", "as_written"]

# how a formula begins in one spreadsheet program or another, wide forms and white space included
# (OWASP, "CSV Injection"); apostrophes before it are ours, or those that a register had itself
FORMULA: Final = "^'*[=+\\-@\\t\\r\\n\uff1d\uff0b\uff0d\uff20]"
# a number with its sign is none
PLAIN_NUMBER: Final = r"^[+-][0-9]+([.,][0-9]+)?$"


def as_written(cells: pd.Series) -> pd.Series:
    """Return N texts of our CSV files without the apostrophe that keeps a spreadsheet from running them."""
    guarded = cells.str.match(f"'{FORMULA.removeprefix('^')}").fillna(value=False).astype(bool)
    plain: pd.Series = cells.where(~guarded, cells.str.slice(1))
    return plain
