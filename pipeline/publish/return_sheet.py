"""The sheet to fill in where the work is done, and the register of what came back."""

from typing import Final

import numpy as np
import pandas as pd

from pipeline.contracts import RETURN_FIELDS, no_text
from pipeline.intake.returns import Returned
from pipeline.publish.tables import as_cells, iso_texts

__all__ = ["RETURN_SHEET", "return_register", "return_sheet"]

RETURN_SHEET: Final = "return-sheet.csv"
_STOP: Final = ("crew", "day", "stop", "core_id", "register", "street", "district", "task", "shade", "mix", "bags")


def return_sheet(stops: pd.DataFrame, cores: pd.DataFrame, units: str) -> pd.DataFrame:
    """Return a row per stop of the plan, and an empty box for each field that a crew fills in.

    Parameters
    ----------
    stops
        The plan's stops, on the index of the cores.
    cores
        The cores, with ``register`` and ``street_matched``.
    units
        "metric" or "us": the units that the heads of the boxes name.
    """
    own = cores[["register", "street_matched"]].rename(columns={"street_matched": "street"})
    sheet = stops.join(own)[list(_STOP)].reset_index(drop=True)
    boxes = {field.us_head if units == "us" else field.head: no_text(sheet.index) for field in RETURN_FIELDS}
    return as_cells(sheet.assign(**boxes))


def return_register(returned: Returned) -> pd.DataFrame:
    """Return what came back as a register of returns, in metric units: a row per core, texts as they are read again."""
    frame = returned.frame
    texts = {
        field.head: iso_texts(frame[field.column]) if field.kind == "instant" else frame[field.column]
        for field in RETURN_FIELDS
    }
    table = pd.DataFrame({name: frame[name] for name in ("core_id", "register", "crew")} | texts)
    numbers = [field.head for field in RETURN_FIELDS if field.kind == "number"]
    return table.assign(**{name: table[name].astype(float).round(6).replace({-0.0: 0.0}) for name in numbers}).replace(
        {np.nan: None}
    )
