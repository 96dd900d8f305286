"""What a sentence about a core gives away: which columns of the register can be read out of a value in it.

What leaves the house is decided by column; a finding that could give away one that stays is told by its title alone.
"""

from typing import Final

from pipeline.contracts import (
    CORE_COLUMNS,
    LOCATED_COLUMNS,
    MADE_FROM,
    REGISTER_COLUMNS,
    SPECIFIED_COLUMNS,
    STREET_RECORDED,
)
from pipeline.errors import ContractError

__all__ = ["AS_WRITTEN", "revealed_by"]

# a cell that could not be read may hold anything, and is no column that could be handed over
AS_WRITTEN: Final = "cells as they were written"
# what is called otherwise in the table of cores
_TABLED: Final = {
    "street": (STREET_RECORDED,),
    "street_matched": ("street",),
    "x_m": ("lon",),
    "y_m": ("lat",),
    "x": ("lon",),
    "y": ("lat",),
    "position": ("lon", "lat"),
}
# litres used follow from both; the void from the sizes
_MADE: Final = {
    "grout_used_l": ("bags_used", "water_l"),
    "grout_net_l": ("diameter_mm", "depth_mm"),
    "name_match": (STREET_RECORDED,),
}
# words and truths of the program's own, in which no cell can be read
_HARMLESS: Final = frozenset(
    {"same_row", "is_copy", "ragged", "is_open", "surface_says_nothing", "position_problem", "position_repair"}
)
_TABLE: Final = frozenset({*CORE_COLUMNS, *(column.name for column in REGISTER_COLUMNS)} - {"street"})
# of the map layers, or found from them and the position
_OF_LAYERS: Final = frozenset(column.name for column in (*LOCATED_COLUMNS, *SPECIFIED_COLUMNS)) - _TABLE


def revealed_by(name: str, *, is_number: bool = False) -> frozenset[str]:
    """Return the columns, by their names in a handover, that a column of the audit gives away.

    Parameters
    ----------
    name
        One of ``AUDIT_COLUMNS``.
    is_number
        A cell as it was written, ``<name>_text``, is known to be a number, and gives away no more than that.

    Raises
    ------
    ContractError
        Nobody has said what it gives away.
    """
    if name.endswith("_text"):
        return revealed_by(name.removesuffix("_text")) if is_number else frozenset({AS_WRITTEN})
    if name in _HARMLESS or name.endswith("_problem"):
        return frozenset()
    if name in _TABLED or name in _MADE:
        return frozenset(_TABLED.get(name) or _MADE[name])
    if name in MADE_FROM:
        return frozenset().union(*(revealed_by(source) for source in MADE_FROM[name]))
    if name in _TABLE:
        return frozenset({name})
    if name in _OF_LAYERS:
        return frozenset()
    raise ContractError(f"column {name}: nobody has said which columns it gives away: say it in audit/disclosure.py")
