"""The rules, one module per family; importing them registers them, and this order is the order of the rule book."""

from pipeline.audit.rules import (
    confidence,
    dates,
    identity,
    network,
    placement,
    position,
    sizes,
    spacing,
    surface,
    timing,
)

__all__ = [
    "confidence", "dates", "identity", "network", "placement", "position", "sizes", "spacing", "surface", "timing",
]  # fmt: skip
