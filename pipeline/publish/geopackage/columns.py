"""What the columns of the map layers are called, mean and may hold: for every program that opens them."""

from typing import Final, NamedTuple

import pandas as pd

from pipeline.contracts import (
    CORE_COLUMNS,
    LOCATED_COLUMNS,
    QUANTIFIED_COLUMNS,
    REGISTER_COLUMNS,
    SPECIFIED_COLUMNS,
    Column,
)
from pipeline.publish.words import load_words

__all__ = ["LAYERS", "Told", "tell_columns"]

_SIDES: Final = {"left": "Left of the segment's direction", "right": "Right of the segment's direction"}
_STATUSES: Final = {
    "flagged": "Flagged: not to be relied on until someone acts",
    "pending": "Pending: still to be reinstated",
    "reinstated": "Reinstated: the core is back",
}
_SEVERITIES: Final = {
    "fail": "Fail: do not rely on this core until someone acts",
    "check": "Check: someone should look",
    "note": "Note: to be known, nothing to do",
}
_SURFACE_SOURCES: Final = {
    "polygon": "The surface polygon it lies in",
    "segment": "Its road segment",
    "register": "The register alone",
    "none": "No source tells it",
}
_LISTS: Final = {
    ("cores", "status"): _STATUSES,
    ("cores", "side"): _SIDES,
    ("cores", "surface_from"): _SURFACE_SOURCES,
    ("findings", "severity"): _SEVERITIES,
}

# the layers, those on top first, and what each is called and holds
LAYERS: Final = {
    "cores": ("Cores", "one a row of the register; those without a usable position have no point"),
    "segments": ("Road segments", "centrelines, with the number of their cores by status"),
    "districts": ("Districts", "outlines, with the number of their cores by status"),
    "findings": ("Findings", "what is wrong or doubtful about a core; row is the row of the core"),
    "orders": ("Orders", "what to order, by district, period and item"),
}

_COUNTS: Final = tuple(
    Column(f"cores_{status}", "whole", meaning=f"number of its cores that are {status}") for status in _STATUSES
)
_OWN: Final[dict[str, tuple[Column, ...]]] = {
    "cores": (
        Column("row", "whole"),
        Column("status", "text"),
        Column("findings", "text"),
        Column("street", "text"),
        Column("street_recorded", "text"),
        Column("lon", "number", "°"),
        Column("lat", "number", "°"),
    ),
    "segments": (
        Column("segment_id", "text", meaning="the segment's own id"),
        Column("street", "text", meaning="street, as the layer writes it"),
        Column("surface", "text", meaning="catalogue name of the surface"),
        Column("road_class", "text", meaning="class of road, as the layer writes it"),
        Column("class_name", "text", meaning="catalogue name of the class of road"),
        Column("road_authority", "text", meaning="whose road it is, as the layer writes it"),
        Column("slope_percent", "number", "%", "slope along the segment"),
        Column("half_width_m", "number", "m", "half of the width from kerb to kerb"),
        Column("is_underground", "truth", meaning="in a tunnel or under another road"),
        *_COUNTS,
    ),
    "districts": (Column("district", "text", meaning="name of the district"), *_COUNTS),
    "findings": (
        Column("row", "whole", meaning="row of the core: data row of the register, counted from 1"),
        Column("core_id", "text", meaning="id of the core"),
        Column("rule", "text", meaning="rule that found it"),
        Column("severity", "text", meaning="fail, check or note"),
        Column("message", "text", meaning="what was found, and what to do"),
        Column("evidence", "text", meaning="what the rule compared"),
    ),
    "orders": (
        Column("district", "text", meaning="district that it goes to"),
        Column("period", "text", meaning="when it is needed: a week, a month or all"),
        Column("item", "text", meaning="what to order"),
        Column("unit", "text", meaning="unit of the three amounts"),
        Column("needed", "number", meaning="exact sum of the needs"),
        Column("order", "number", meaning="amount in whole packs"),
        Column("reserve", "number", meaning="part of the order beyond the need"),
        Column("packs", "whole", meaning="number of packs"),
    ),
}  # fmt: skip
_OF_CORES: Final = (*REGISTER_COLUMNS, *LOCATED_COLUMNS, *SPECIFIED_COLUMNS, *QUANTIFIED_COLUMNS)

# where a name in plain words is not the title
_TITLES: Final = {
    "lon": "Longitude (°)",
    "lat": "Latitude (°)",
    "row": "Row of the register",
    "runner_up_id": "Next segment within reach",
    "segment_id": "Road segment",
    "surface_from": "Surface known from",
    "water_l": "Water used (L)",
    "water_l_needed": "Water needed (L)",
    "grout_l": "Wet grout needed (L)",
    "grout_kg": "Dry grout needed (kg)",
    "gravel_kg": "Gravel needed (kg)",
    "bags": "Bags needed",
    "packs": "Whole packs",
    "class_name": "Class of road",
    "road_class": "Class of road, as written",
    "segment_confidence": "Confidence in the segment (0 to 1)",
    "surface_confidence": "Confidence in the surface (0 to 1)",
    "district_confidence": "Confidence in the district (0 to 1)",
    "slope_percent": "Slope (%)",
    "is_underground": "Underground",
    **{f"cores_{status}": f"Cores {status}" for status in _STATUSES},
}
_UNITS: Final = {"degC": "°C"}


class Told(NamedTuple):
    """A column's title and meaning; ``values`` says what each value means where there is a fixed list of them."""

    title: str
    meaning: str
    values: dict[str, str]


def tell_columns(layer: str, frame: pd.DataFrame) -> dict[str, Told]:
    """Describe the columns of a layer that are ours; a register's own columns are left to speak for themselves.

    Parameters
    ----------
    layer
        A key of ``LAYERS``.
    frame
        The layer's columns, all of them or some.

    Returns
    -------
    dict
        By column, in the frame's order.
    """
    known = {column.name: column for column in _OWN[layer]}
    meanings = {name: column.meaning for name, column in known.items()}
    if layer == "cores":
        known = {column.name: column for column in _OF_CORES if _is_ours(column, frame)} | known
        # the same words as on the page that goes with a handover
        words = load_words()
        meanings = {name: words.get(f"column.{name}", column.meaning) for name, column in known.items()}
    return {
        name: Told(_title(known[name]), _sentence(meanings[name]), _LISTS.get((layer, name), {}))
        for name in map(str, frame.columns)
        if name in known
    }


def _is_ours(column: Column, frame: pd.DataFrame) -> bool:
    """Tell a column of the contract from one that a register happens to call the same."""
    if column.name in CORE_COLUMNS:
        return True
    if column.kind in {"number", "whole"}:
        # a register's own are text as it was written, in a unit that is its own
        return column.name in frame and pd.api.types.is_numeric_dtype(frame[column.name])
    return column in REGISTER_COLUMNS


def _title(column: Column) -> str:
    if column.name in _TITLES:
        return _TITLES[column.name]
    words = _sentence(column.short.replace("_", " "))
    return f"{words} ({_UNITS.get(column.unit, column.unit)})" if column.unit else words


def _sentence(words: str) -> str:
    return words[:1].upper() + words[1:]
