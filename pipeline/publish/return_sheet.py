"""The sheet to fill in where the work is done, and the register of what came back."""

import shutil
from pathlib import Path
from typing import Final

import numpy as np
import pandas as pd

from pipeline.contracts import RETURN_FIELDS, no_text
from pipeline.intake.returns import Returned
from pipeline.publish.tables import as_cells, iso_texts

__all__ = ["RETURN_SHEET", "keep_filled_in", "kept_sheets", "return_register", "return_sheet"]

RETURN_SHEET: Final = "return-sheet.csv"
_KEPT: Final = "return-sheet-kept-{}.csv"
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


def keep_filled_in(folder: Path, draft: Path) -> None:
    """Copy a return sheet that somebody has filled in out of a folder into the one that is to replace it."""
    sheet = folder / RETURN_SHEET
    if not sheet.is_file() or not _is_filled_in(sheet):
        return
    number = 1
    while (folder / _KEPT.format(number)).exists():
        number += 1
    shutil.copy2(sheet, draft / _KEPT.format(number))


def kept_sheets(folder: Path) -> list[str]:
    """Return a notice for each return sheet that was kept in a folder."""
    names = sorted(file.name for file in folder.glob(_KEPT.format("*")))
    return [
        f"{name}: somebody had filled in {RETURN_SHEET} in {folder} before it was written again; this is what it held. "
        "Take it back with `kerfbook return`, and fill in a copy outside that folder."
        for name in names
    ]


def _is_filled_in(sheet: Path) -> bool:
    """Return whether a box of a return sheet holds anything, or the file is no longer as it was written."""
    heads = {head for field in RETURN_FIELDS for head in (field.head, field.us_head)}
    try:
        boxes = pd.read_csv(sheet, usecols=lambda name: name in heads, dtype="str", keep_default_na=False)
    except ValueError:
        # another encoding, or rows that do not fit: a spreadsheet has saved it
        return True
    return len(boxes.columns) == 0 or bool((boxes != "").to_numpy().any())
