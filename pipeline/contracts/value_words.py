"""What the values of coded columns mean, in words, for every output that lists them."""

from typing import Final

__all__ = ["SEVERITY_WORDS", "SIDE_WORDS", "STATE_WORDS", "STATUS_WORDS", "SURFACE_SOURCE_WORDS", "URGENCY_WORDS"]

SIDE_WORDS: Final = (
    ("left", "Left of the segment's direction"),
    ("right", "Right of the segment's direction"),
)
SURFACE_SOURCE_WORDS: Final = (
    ("polygon", "Surface polygon that the core lies in"),
    ("segment", "Road segment"),
    ("register", "Register alone"),
    ("none", "Unknown: no source gives it"),
)
STATUS_WORDS: Final = (
    ("flagged", "Flagged: do not rely on this core until someone acts"),
    ("pending", "Pending: open, not yet reinstated"),
    ("reinstated", "Reinstated: a reinstatement is recorded; no finding is a failure"),
)
STATE_WORDS: Final = (
    ("open", "Open: no plate and no interim reinstatement recorded"),
    ("plated", "Plated: a plate covers the hole"),
    ("interim", "Interim: reinstated temporarily"),
    ("back", "Back: a reinstatement is recorded"),
    ("unknown", "Unknown: the register does not show whether the core has been reinstated"),
)
SEVERITY_WORDS: Final = (
    ("fail", "Fail: do not rely on this core until someone acts"),
    ("check", "Check: someone should look"),
    ("note", "Note: for information"),
)
URGENCY_WORDS: Final = (
    ("hazard", "Hazard: someone can be hurt or the road damaged"),
    ("overdue", "Overdue: a legal or contractual time has passed"),
    ("quality", "Quality: the reinstatement is, or would be, below standard"),
    ("record", "Record: the register cannot be right, or the core cannot be assessed"),
)
