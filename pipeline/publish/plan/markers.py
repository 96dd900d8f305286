"""Where the numbers of stops go on a small map, so that none covers another."""

import math
from typing import Final, NamedTuple

import numpy as np

from pipeline.publish.plan.streets import Floats

__all__ = ["Marker", "place_markers"]

# rings of places around a stop that its number may go to, in widths of the mark
_RINGS: Final = (0.0, 1.15, 1.7, 2.4, 3.2)
_DIRECTIONS: Final = 12
_TURNS: Final = tuple(
    (math.cos(turn), math.sin(turn)) for turn in np.linspace(0, 2 * math.pi, _DIRECTIONS, endpoint=False).tolist()
)
# how far apart the middles of two marks are, in widths of a mark
_APART: Final = 1.08


class Marker(NamedTuple):
    """The number of a stop: its middle, and the stop itself, in millimetres."""

    x: float
    y: float
    at_x: float
    at_y: float

    @property
    def is_apart(self) -> bool:
        """Whether it had to move from its stop."""
        return math.hypot(self.x - self.at_x, self.y - self.at_y) > 0.1


def place_markers(points: Floats, size: float, wide: float, high: float) -> list[Marker]:
    """Return a mark of a size per stop, each at its stop, or as near as it goes without covering another."""
    placed: list[Marker] = []
    for x, y in points.tolist():
        placed.append(Marker(*_place(x, y, size, (wide, high), placed), x, y))
    return placed


def _place(x: float, y: float, size: float, paper: tuple[float, float], placed: list[Marker]) -> tuple[float, float]:
    """Return the first place that is free; or else the first inside the map; or else the stop itself."""
    half, (wide, high) = size / 2, paper
    inside = None
    for ring in _RINGS:
        for cosine, sine in _TURNS if ring else _TURNS[:1]:
            at_x, at_y = x + ring * size * cosine, y + ring * size * sine
            if not (half <= at_x <= wide - half and half <= at_y <= high - half):
                continue
            if all(math.hypot(at_x - one.x, at_y - one.y) >= size * _APART for one in placed):
                return at_x, at_y
            inside = inside or (at_x, at_y)
    return inside or (x, y)
