"""Quantities of items in the units of the reader."""

from typing import Final

import pandas as pd

from pipeline.units import convert

__all__ = ["in_units"]

_US: Final = {"kg": "lb", "L": "us gal"}
_QUANTITIES: Final = ("needed", "order", "reserve", "carry")
_SHOWN_UNIT: Final = {"us gal": "US gal"}


def in_units(table: pd.DataFrame, units: str) -> pd.DataFrame:
    """Return a table of items with quantities and ``unit`` in the reader's units, by exact factors and not rounded."""
    if units == "metric":
        return table
    out = table.copy()
    for have, want in _US.items():
        here = table["unit"].eq(have)
        for name in (name for name in _QUANTITIES if name in table):
            out.loc[here, name] = convert(table.loc[here, name], have, want)
        out.loc[here, "unit"] = _SHOWN_UNIT.get(want, want)
    return out
