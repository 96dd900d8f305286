"""Remedies that rules of several families give."""

from typing import Final

from pipeline.audit.findings import Remedies
from pipeline.audit.for_authority import for_authority

__all__ = ["AGREE_OR_RESET", "ASK_WHETHER_IT_MAY_STAY", "MEASURE_AND_ASK", "NO_ACTION", "UNSURE_WHETHER_REUSED"]

NO_ACTION: Final = for_authority("No action needed.", "No action needed.")
AGREE_OR_RESET: Final = for_authority(
    "Agree the remedy with the road authority. If the core is to be reset, lift it by machine.",
    "The utility must agree the remedy with you.",
)
ASK_WHETHER_IT_MAY_STAY: Final = for_authority(
    "Measure on site, and ask the road authority whether the core may stay.",
    "The utility must measure on site, and you can then decide whether the core may stay.",
)
MEASURE_AND_ASK: Final = Remedies(
    if_open=for_authority(
        "Measure on site, and ask the road authority before reinstating.",
        "The utility must measure on site, and needs your consent before it reinstates the core.",
    ),
    if_reinstated=ASK_WHETHER_IT_MAY_STAY,
    if_unknown=for_authority(
        "Measure on site, and ask the road authority.",
        "The utility must measure on site and report the result to you.",
    ),
)
UNSURE_WHETHER_REUSED: Final = for_authority(
    "Find out whether the core has been reinstated; if it has not, do not reuse it.",
    "The utility must find out whether the core has been reinstated. If it has not, the core must not be reused.",
)
