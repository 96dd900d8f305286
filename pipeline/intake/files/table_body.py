"""The rows under a header, laid out as a raw table: cores kept, other rows set aside."""

from dataclasses import dataclass, field

import numpy as np
import numpy.typing as npt
import pandas as pd

from pipeline.errors import InputError, NoCoresError
from pipeline.intake.files.header_rows import Wanted, units_in
from pipeline.intake.files.set_aside import LONGEST_TEXT, joined_cells, reasons_to_set_aside
from pipeline.intake.files.tables import SET_ASIDE, RawTable

__all__ = ["Body", "as_raw_table", "no_cores"]


@dataclass
class Body:
    """The rows under a header.

    ``frame``: N rows, as text. ``places``: N numbers of the row of the sheet or the line of the text. ``above``: place
    and text of each filled row above the header. ``blank``: places of the blank rows, which ``frame`` is without.
    ``head``: every text of the header, folded. ``ragged``, ``stored_as_number``: as in a raw table, or None.
    ``is_known``: whether the header holds every name that was wanted.
    """

    frame: pd.DataFrame
    places: npt.NDArray[np.int64]
    above: list[tuple[int, str]] = field(default_factory=list)
    blank: list[int] = field(default_factory=list)
    head: frozenset[str] = frozenset()
    ragged: pd.Series | None = None
    stored_as_number: pd.DataFrame | None = None
    is_known: bool = True


def as_raw_table(body: Body, label: str, wanted: Wanted, notices: list[str]) -> RawTable:
    """Return the rows under a header as a raw table.

    Raises
    ------
    InputError
        No row holds a core.
    """
    frame, places = body.frame, body.places
    units = units_in(frame.iloc[0].fillna("").tolist()) if wanted.sets_aside and len(frame) else None
    if wanted.sets_aside:
        reasons = reasons_to_set_aside(frame, wanted, body.head)
        if units is not None:
            reasons.iloc[0] = "units"
    else:
        reasons = pd.Series(pd.NA, frame.index, dtype="str").mask(frame.isna().all(axis="columns"), "blank")
    kept = reasons.isna().to_numpy()
    if not kept.any():
        what = f"none of its {len(frame):,} rows holds a core" if len(frame) else "a header and no rows"
        remedy = f", or correct {wanted.section}.header_row." if wanted.header_row else "."
        raise no_cores(label, what, f"Export it again with the data{remedy}", is_known=body.is_known)
    table = RawTable(
        frame=frame if kept.all() else frame[kept].reset_index(drop=True),
        # elsewhere a row number leads to the row in the file, blank rows counted
        rows=np.arange(1, kept.sum() + 1) if wanted.sets_aside else np.flatnonzero(kept) + 1,
        rows_in_file=int(kept.sum()),
        label=label,
        ragged=None if body.ragged is None else body.ragged[kept].reset_index(drop=True),
        notices=notices,
        places=places[kept],
        stored_as_number=None if body.stored_as_number is None else _rows_of(body.stored_as_number, kept),
    )
    if wanted.sets_aside:
        table.set_aside = _set_aside(body, reasons)
    if units is not None:
        table.header_units = {name: unit for name, unit in zip(frame.columns, units, strict=True) if unit}
    return table


def no_cores(label: str, what: str, remedy: str, *, is_known: bool) -> InputError:
    """Return the error for a table without rows; one whose header is known may be a part of a register all the same."""
    error = NoCoresError(label, what, remedy)
    return error if is_known else InputError(str(error))


def _rows_of(frame: pd.DataFrame, kept: npt.NDArray[np.bool_]) -> pd.DataFrame:
    return frame if kept.all() else frame[kept].reset_index(drop=True)


def _set_aside(body: Body, reasons: pd.Series) -> pd.DataFrame:
    """Return the rows that hold no core, in the order of the file."""
    rows = reasons.notna().to_numpy()
    parts = [
        pd.DataFrame(
            {
                "place": [place for place, _ in body.above],
                "reason": "title",
                "text": [text[:LONGEST_TEXT] for _, text in body.above],
            }
        ),
        pd.DataFrame(
            {
                "place": body.places[rows],
                "reason": reasons[rows].to_numpy(),
                "text": joined_cells(body.frame[rows]),
            }
        ),
        pd.DataFrame({"place": body.blank, "reason": "blank", "text": ""}),
    ]
    filled = [part for part in parts if len(part)]
    if not filled:
        return pd.DataFrame(columns=list(SET_ASIDE), dtype="str")
    table = pd.concat(filled, ignore_index=True).astype({"place": "int64", "reason": "str", "text": "str"})
    return table.sort_values("place", kind="stable", ignore_index=True)
