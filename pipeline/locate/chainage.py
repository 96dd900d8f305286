"""How far along its line each core lies, and on which side of it."""

from typing import Final

import numpy as np
import numpy.typing as npt
import pandas as pd
import shapely

__all__ = ["chainage_and_side"]

Floats = npt.NDArray[np.float64]

# the direction of a line at a point is taken over a step this long to either side
_STEP_M: Final = 1e-3
# a core nearer to the line than this has no side
_ON_LINE_M: Final = 5e-4


def chainage_and_side(
    points: npt.NDArray[np.object_], lines: npt.NDArray[np.object_], offset_m: pd.Series
) -> tuple[Floats, pd.Series]:
    """Return the distance of each point along its own line, in metres, and the side of the line it lies on.

    At a vertex the direction is the mean of the two legs', so that a core in the outer angle lies on the outer
    side. Beyond an end of the line its last leg is continued. No side on the line, or straight beyond its end.
    """
    along: Floats = shapely.line_locate_point(lines, points)
    back_x, back_y, ahead_x, ahead_y = _step_from(points, lines, along)
    # the point itself is at 0, 0
    across = back_x * (ahead_y - back_y) - back_y * (ahead_x - back_x)
    step = np.hypot(ahead_x - back_x, ahead_y - back_y)
    sideways = across / np.where(step > 0, step, 1)
    side = pd.Series(np.where(sideways > 0, "left", "right"), offset_m.index, dtype="str")
    return along, side.mask((np.abs(sideways) < _ON_LINE_M) | offset_m.lt(_ON_LINE_M))


def _step_from(
    points: npt.NDArray[np.object_], lines: npt.NDArray[np.object_], along: Floats
) -> tuple[Floats, Floats, Floats, Floats]:
    """Return where each line is a step before and after so far along it: x and y from the point, twice."""
    ends = []
    for at in (np.maximum(along - _STEP_M, 0.0), np.minimum(along + _STEP_M, shapely.length(lines))):
        there = shapely.line_interpolate_point(lines, at)
        ends += [of(there) - of(points) for of in (shapely.get_x, shapely.get_y)]
    back_x, back_y, ahead_x, ahead_y = ends
    return back_x, back_y, ahead_x, ahead_y
