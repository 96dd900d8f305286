"""Small frames of cores with every column that the audit reads."""

import datetime as dt
from functools import cache

import pandas as pd

from pipeline.contracts import AUDIT_COLUMNS, LOCATED_COLUMNS, REGISTER_COLUMNS, SPECIFIED_COLUMNS

AS_OF = dt.date(2026, 9, 30)
_ZONE = "America/Toronto"
_KINDS = {
    column.name: column.kind for group in (REGISTER_COLUMNS, LOCATED_COLUMNS, SPECIFIED_COLUMNS) for column in group
}

_PLAIN_NUMBERS = {
    "bags", "bags_used", "water_l_needed", "name_match", "water_ratio", "slope_percent", "segment_area_m2", "reopened_after_min", "segment_cores",
    "bags_used_step", "water_ratio_low", "water_ratio_high", "reopened_within_min",
}  # fmt: skip
_WHOLE_NUMBERS = {"register_no", "file_no", "register_row", "same_core"}
_TRUTHS = {"reinstatable", "is_open", "is_copy", "surface_says_nothing", "is_rigid"}
# a core with nothing wrong: pending, on asphalt, cut three weeks before the audit
SOUND = {
    "core_id": "A-1", "diameter_mm": 457.2, "depth_mm": 200.0, "hole_mm": 457.2, "depth_believed_mm": 200.0,
    "diameter_mm_text": "18 in", "depth_mm_text": "200 mm", "opened_on_text": "2026-09-09",
    "opened_on": "2026-09-09", "x_m": 0.0, "y_m": 0.0, "x_text": "-82.2", "y_text": "44.8", "segment_id": "S1",
    "surface": "asphalt", "surface_from": "polygon", "surface_on_map": "asphalt", "surface_recorded": "asph",
    "surface_recorded_name": "asphalt", "district": "Mill Bank", "district_how": "inside", "shade": "dark",
    "segment_confidence": 1.0, "surface_confidence": 1.0, "district_confidence": 1.0, "name_match": 1.0,
    "street": "Quay", "street_matched": "Quay", "reinstatable": True, "is_open": True, "is_copy": False, "surface_says_nothing": False,
    "register": "north", "register_no": 0, "register_file": "north.csv", "file_no": 0, "register_row": 1,
    "is_rigid": False,
}  # fmt: skip
REINSTATED = {"reinstated_at": "2026-09-12", "is_open": False}
# a second core, 100 m away unless a case says otherwise
OTHER = {**SOUND, "core_id": "A-2", "x_m": 100.0}


def reinstated(**cells):
    """Return the cells of a core that was reinstated, and those given."""
    return {**REINSTATED, **cells}


def opened_days_ago(days):
    """Return the day that lies so many days before the audit, as it is written."""
    return (AS_OF - dt.timedelta(days=days)).isoformat()


@cache
def _sound():
    """One sound core, with every column that the audit reads."""
    names = sorted({*AUDIT_COLUMNS, "row", "same_row"})
    return pd.DataFrame({name: _column(name, [SOUND.get(name)]) for name in names})


def _column(name, cells):
    if _KINDS.get(name) == "instant":
        instants = pd.to_datetime(pd.Series(cells, dtype="str")).dt.tz_localize(_ZONE)
        return instants.astype(f"datetime64[us, {_ZONE}]")
    if name in _WHOLE_NUMBERS:
        return pd.Series(cells).fillna(0).astype("int64")
    if name == "copy_of":
        return pd.Series(cells, dtype="Int64")
    if name in _TRUTHS:
        return pd.Series(cells, dtype=bool)
    if name.endswith(("_mm", "_m", "_l", "_kg", "_c", "_confidence")) or name in _PLAIN_NUMBERS:
        return pd.Series(cells, dtype=float)
    return pd.Series(cells, dtype="str")


def frame(*cores):
    """Return one row per core; a column that a core does not name is empty.

    Positions are fine enough to judge spacing, unless a core says otherwise.
    """
    cores = [{"spacing_x_m": core.get("x_m"), **core} for core in cores]
    rows = _sound().iloc[[0] * len(cores)].reset_index(drop=True)
    named = sorted({*SOUND, *(name for core in cores for name in core)} - {"same_row", "same_core"})
    cells = {name: [core.get(name) for core in cores] for name in named}
    changed = {name: _column(name, new) for name, new in cells.items() if new != [SOUND.get(name)] * len(cores)}
    same = [core.get("same_row", place) for place, core in enumerate(cores)]
    same_core = [core.get("same_core", number) for core, number in zip(cores, same, strict=True)]
    return rows.assign(row=range(1, len(cores) + 1), same_row=same, same_core=same_core, **changed)
