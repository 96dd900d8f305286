"""Frames of a few cores as the audit is handed them, every column there."""

import datetime as dt

import pandas as pd

from pipeline.contracts import AUDIT_COLUMNS, LOCATED_COLUMNS, REGISTER_COLUMNS, SPECIFIED_COLUMNS

AS_OF = dt.date(2026, 9, 30)
_ZONE = "America/Toronto"
_KINDS = {
    column.name: column.kind for group in (REGISTER_COLUMNS, LOCATED_COLUMNS, SPECIFIED_COLUMNS) for column in group
}

_PLAIN_NUMBERS = {
    "bags", "bags_used", "water_l_needed", "name_match", "water_ratio", "slope_percent", "segment_area_m2", "reopened_after_min", "segment_cores",
}  # fmt: skip
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
    "is_rigid": False,
}  # fmt: skip
BACK = {"reinstated_at": "2026-09-12", "is_open": False}
# a second core, 100 m away unless a case says otherwise
OTHER = {**SOUND, "core_id": "A-2", "x_m": 100.0}


def frame(*cores):
    """One row a core; a column that a core does not name is empty."""
    rows = {"row": range(1, len(cores) + 1)}
    never = pd.Series(pd.NaT, range(len(cores)), dtype=f"datetime64[us, {_ZONE}]")
    for name in sorted(AUDIT_COLUMNS - {"row", "same_row"}):
        cells = [core.get(name) for core in cores]
        if _KINDS.get(name) == "instant" and not any(cells):
            column = never
        elif _KINDS.get(name) == "instant":
            column = (
                pd.to_datetime(pd.Series(cells, dtype="str")).dt.tz_localize(_ZONE).astype(f"datetime64[us, {_ZONE}]")
            )
        elif name in _TRUTHS:
            column = pd.Series(cells, dtype=bool)
        elif name.endswith(("_mm", "_m", "_l", "_kg", "_c", "_confidence")) or name in _PLAIN_NUMBERS:
            column = pd.Series(cells, dtype=float)
        else:
            column = pd.Series(cells, dtype="str")
        rows[name] = column
    rows["same_row"] = [core.get("same_row", place) for place, core in enumerate(cores)]
    return pd.DataFrame(rows)
