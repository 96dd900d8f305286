"""How bent lines are: one that bends less than simplifying may move is drawn as the chord between its ends."""

from typing import NamedTuple

import numpy as np
import numpy.typing as npt
import shapely

__all__ = ["Chords", "chords_of"]

Floats = npt.NDArray[np.float64]


class Chords(NamedTuple):
    """The chords of N lines: how far a line is from its chord at most, in its unit, and the ends, N x 2 x 2.

    What has no single chord, a ring or several lines, has an endless distance.
    """

    bend: Floats
    ends: Floats


def chords_of(lines: npt.NDArray[np.object_]) -> Chords:
    """Return the chords of N lines or multilines, none of them empty."""
    xy, line_of = shapely.get_coordinates(lines, return_index=True)
    first = np.searchsorted(line_of, np.arange(len(lines)))
    last = np.searchsorted(line_of, np.arange(len(lines)), side="right") - 1
    start, stop = xy[first], xy[last]
    along = stop - start
    squared = (along**2).sum(axis=1)
    is_single = (shapely.get_type_id(lines) == shapely.GeometryType.LINESTRING) & (squared > 0)
    from_start = xy - start[line_of]
    share = (from_start * along[line_of]).sum(axis=1) / np.where(is_single, squared, 1.0)[line_of]
    apart = from_start - np.clip(share, 0, 1)[:, np.newaxis] * along[line_of]
    farthest = np.maximum.reduceat(np.hypot(*apart.T), first) if len(lines) else np.zeros(0)
    return Chords(np.where(is_single, farthest, np.inf), np.stack([start, stop], axis=1))
