"""Lines of a text that do not fit its header: kept in their place, or refused for their delimiter."""

import csv
import io
from typing import Final

import numpy as np
import numpy.typing as npt
import pandas as pd

from pipeline.contracts import no_text
from pipeline.errors import InputError
from pipeline.wording import counted

__all__ = ["DELIMITERS", "refuse_other_delimiter", "with_odd_rows"]

DELIMITERS: Final = (",", ";", "\t", "|")


def refuse_other_delimiter(
    frame: pd.DataFrame, odd: list[tuple[int, str]], places: npt.NDArray[np.int64], mark: str, label: str
) -> None:
    """Stop where lines are complete rows by another delimiter."""
    width = len(frame.columns)
    if width < 3:
        return
    numbers = np.arange(len(places))
    if odd:
        numbers = np.delete(numbers, [number for number, _ in odd])
    for other in DELIMITERS:
        if other == mark:
            continue
        # a decimal comma may give such a line the number of fields of the header by chance
        has_other = frame.iloc[:, 0].str.contains(other, regex=False).eq(True).to_numpy()
        lines = odd
        if has_other.any():
            joined = frame[has_other].fillna("").agg(mark.join, axis="columns")
            lines = sorted([*odd, *zip(numbers[has_other].tolist(), joined, strict=True)])
        fitting = [number for number, text in lines if len(_fields(text, other)) == width]
        if len(fitting) > 1:
            raise InputError(
                f"{label}: line {places[fitting[0]]:,}: the fields are separated by {other!r}, those of the header "
                f"by {mark!r}; so are {len(fitting):,} lines in all. Export the file again with one delimiter, or "
                "give each part as a file of its own."
            )


def _fields(text: str, mark: str) -> list[str]:
    """Return the fields of a line; where a cell is too long to be read, the first quoted one takes in the rest."""
    try:
        return next(csv.reader(io.StringIO(text), delimiter=mark), [])
    except csv.Error:
        before, quote, rest = text.partition('"')
        *fields, begun = before.split(mark)
        return [*fields, begun + quote + rest]


def with_odd_rows(frame: pd.DataFrame, odd: list[tuple[int, str]], mark: str) -> tuple[pd.DataFrame, pd.Series]:
    """Return the table with the rows that do not fit the header back in order, and what is odd about each."""
    if not odd:
        return frame, no_text(frame.index)
    width = len(frame.columns)
    fields = [_fields(text, mark) for _, text in odd]
    fitted = [[cell or None for cell in [*row, *[""] * width][:width]] for row in fields]
    numbers = np.array([number for number, _ in odd])
    kept = np.setdiff1d(np.arange(len(frame) + len(odd)), numbers)
    odd_frame = pd.DataFrame(fitted, index=numbers, columns=frame.columns, dtype="str")
    # blank fields beyond the header are only trailing delimiters
    reasons = [
        f"{counted(len(row), 'field')} where the header has {width}"
        if row and (len(row) < width or any(row[width:]))
        else None
        for row in fields
    ]
    ragged = pd.concat([no_text(pd.Index(kept)), pd.Series(reasons, numbers, dtype="str")])
    return pd.concat([frame.set_axis(kept), odd_frame]).sort_index(), ragged.sort_index()
