"""What people call a column of the register, for the sentences of rules."""

from typing import Final

__all__ = ["LABELS"]

LABELS: Final[dict[str, str]] = {
    "diameter_mm": "Diameter",
    "depth_mm": "Depth",
    "position_accuracy_m": "Position accuracy",
    "surface_recorded": "Surface",
    "opened_on": "Opened",
    "plated_on": "Plated",
    "backfilled_on": "Backfilled",
    "interim_on": "Interim reinstatement",
    "reinstated_at": "Reinstated",
    "reopened_at": "Reopened",
    "bags_used": "Bags used",
    "water_l": "Water used",
    "air_temperature_c": "Air temperature",
    "bedding_mm": "Bedding",
    "flush_mm": "Step at the edge",
    "depression_mm": "Depression",
    "cover_m": "Depth of cover",
    "permit_expires_on": "Permit expiry",
    "planned_on": "Planned",
    "notice_sent_on": "Notice sent",
    "inspected_on": "Inspected",
}
