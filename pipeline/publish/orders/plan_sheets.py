"""The sheets of the plan in the workbook: each stop by crew and day, and what is not planned."""

from typing import Final

import pandas as pd

from pipeline.publish.plan.sheet_units import in_us_unit
from pipeline.publish.plan.table import not_planned_table, plan_table
from pipeline.results import RunResult

__all__ = ["not_planned_sheet", "plan_sheet"]

# what a person wants of a stop, and what the sheet calls it
_STOP_HEADS: Final = {
    "crew": "crew", "day": "day", "stop": "stop", "core_id": "core id", "task": "task", "arrival": "arrival",
    "street": "street", "chainage_m": "chainage (m)", "district": "district", "surface": "surface", "shade": "shade",
    "bags": "bags to mix", "mix": "mix", "water_l": "water (L)", "gravel_kg": "gravel (kg)",
    "earliest_traffic": "earliest traffic", "urgency": "urgency", "due_on": "due", "late_days": "days late",
}  # fmt: skip
_NOT_PLANNED_HEADS: Final = {
    "core_id": "core id", "district": "district", "task": "task", "reason": "reason", "remedy": "what it would need",
    "net_bags": "net grout (bags)",
}  # fmt: skip
_US: Final = {
    "water_l": ("L", "gal", "water (US gal)", 2), "gravel_kg": ("kg", "lb", "gravel (lb)", 0),
    "chainage_m": ("m", "ft", "chainage (ft)", 0),
}  # fmt: skip


def plan_sheet(result: RunResult) -> pd.DataFrame:
    """Return the stops by crew, day and stop, in the units of the orders."""
    table = plan_table(result)
    table, heads = table[list(_STOP_HEADS)].reset_index(drop=True), dict(_STOP_HEADS)
    if result.settings.orders.units == "us":
        for name, (have, want, head, digits) in _US.items():
            table[name] = (table[name] * in_us_unit(1.0, have, want)).round(digits)
            heads[name] = head
    return table.rename(columns=heads)


def not_planned_sheet(result: RunResult) -> pd.DataFrame:
    """Return the work that is not planned, with its ids, the reason, and what would be needed."""
    table = not_planned_table(result).rename(columns=_NOT_PLANNED_HEADS)
    return table[list(_NOT_PLANNED_HEADS.values())].round({"net grout (bags)": 2})
