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
    ("reinstated", "Reinstated: back in the road; no finding is a failure"),
)
STATE_WORDS: Final = (
    ("open", "Open: no plate and no interim reinstatement recorded"),
    ("plated", "Plated: the hole lies under a plate"),
    ("interim", "Interim: reinstated for the time being"),
    ("back", "Back: the core is back in the road"),
    ("unknown", "Unknown: the register does not say whether the core is back"),
)
SEVERITY_WORDS: Final = (
    ("fail", "Fail: do not rely on this core until someone acts"),
    ("check", "Check: someone should look"),
    ("note", "Note: for information"),
)
URGENCY_WORDS: Final = (
    ("hazard", "Hazard: someone can be hurt or the road damaged"),
    ("overdue", "Overdue: a legal or contractual time has passed"),
    ("quality", "Quality: put back, or to be put back, not as it should be"),
    ("record", "Record: the register cannot be true, or the core cannot be judged"),
)
