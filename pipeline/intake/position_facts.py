"""What was understood of the positions of a register: their CRS, their digits, and how far from a road they lie."""

from dataclasses import dataclass, field
from itertools import pairwise
from typing import Final

import numpy as np
import numpy.typing as npt
import pandas as pd
import shapely

from pipeline.intake.column_facts import Cell, cell_at

__all__ = ["DISTANCE_BANDS_M", "STEP_BANDS_M", "PositionFacts", "RoadTree", "position_facts"]

# edges of the histogram of distances to the nearest road
DISTANCE_BANDS_M: Final = (0.0, 2.0, 5.0, 10.0, 15.0, 50.0, 500.0)
# edges of what positions are rounded to
STEP_BANDS_M: Final = (0.0, 0.1, 1.0, 10.0, 100.0)


@dataclass(frozen=True)
class RoadTree:
    """The road lines in the run's CRS, indexed once for all registers.

    ``half_width_m``: of each line, from its middle to the edge of the road; None where it is not known.
    ``accuracy_m``: of positions whose own is not known.
    """

    tree: shapely.STRtree
    half_width_m: npt.NDArray[np.float64] | None = None
    accuracy_m: float = 0.0

    def distances_m(self, x_m: npt.NDArray[np.float64], y_m: npt.NDArray[np.float64]) -> npt.NDArray[np.float64]:
        """Return the distance of N positions to the nearest road in metres.

        It is NaN without a position, and infinite beyond the last band of the histogram.
        """
        return self.nearest(x_m, y_m)[0]

    def nearest(
        self, x_m: npt.NDArray[np.float64], y_m: npt.NDArray[np.float64]
    ) -> tuple[npt.NDArray[np.float64], npt.NDArray[np.float64]]:
        """Return the distances, and the half width of the nearest road, which is NaN where it is not known."""
        found, half_m = np.full(len(x_m), np.nan), np.full(len(x_m), np.nan)
        placed = np.flatnonzero(np.isfinite(x_m) & np.isfinite(y_m))
        # neighbours one after another find the same branches of the tree in the cache
        order = placed[np.lexsort((y_m[placed], np.round(x_m[placed], -2)))]
        found[order] = np.inf
        (core, road), distance = self.tree.query_nearest(
            shapely.points(x_m[order], y_m[order]),
            max_distance=DISTANCE_BANDS_M[-1],
            return_distance=True,
            all_matches=False,
        )
        found[order[core]] = distance
        if self.half_width_m is not None:
            half_m[order[core]] = self.half_width_m[road]
        return found, half_m


@dataclass(frozen=True)
class PositionFacts:
    """What was understood of the positions of a register.

    ``headers``: the columns that they were read from; none for the points of a layer. ``crs``: its code or name.
    ``placed``: rows with a position. ``unplaced``, ``repaired``: rows by reason. ``distances``: counts of the bands of
    ``DISTANCE_BANDS_M``, the last without end; None without roads. ``steps``: counts of the bands of ``STEP_BANDS_M``;
    None where it is not known. ``median_m``: distance to the nearest road. ``farthest``: the distance of the row
    farthest from any road, infinite beyond the last band, with that row. ``off_road``: positions farther from
    the nearest road than its edge and their accuracy; None where no width is known. ``extent``: west, south, east and
    north, in degrees.
    """

    headers: tuple[str, ...]
    crs: str
    rows: int
    placed: int
    unplaced: dict[str, int] = field(default_factory=dict)
    repaired: dict[str, int] = field(default_factory=dict)
    distances: tuple[int, ...] | None = None
    median_m: float | None = None
    farthest: tuple[float, Cell] | None = None
    steps: tuple[int, ...] | None = None
    extent: tuple[float, float, float, float] | None = None
    off_road: int | None = None

    def beyond(self, distance_m: float) -> int:
        """Return how many positions lie in the bands from a distance on, which is one of the edges."""
        return sum((self.distances or ())[DISTANCE_BANDS_M.index(distance_m) :])


def position_facts(frame: pd.DataFrame, headers: tuple[str, ...], crs: str, roads: RoadTree | None) -> PositionFacts:
    """Return what was understood of the positions of a register.

    Parameters
    ----------
    frame
        N rows: ``lon``, ``lat``, ``x_m``, ``y_m`` (if there are roads), ``position_problem``, ``position_repair``,
        ``core_id``, ``file``, ``register_row``; ``position_step_m`` and ``position_accuracy_m`` where known.
    headers
        The columns of the files that they were read from; none for the points of a layer.
    crs
        Code or name of the register's CRS.
    roads
        The roads in the CRS of ``x_m`` and ``y_m``; None without them.
    """
    placed = frame["lon"].notna()
    distances = median = farthest = steps = extent = off_road = None
    if placed.any():
        lon, lat = frame.loc[placed, "lon"], frame.loc[placed, "lat"]
        extent = (float(lon.min()), float(lat.min()), float(lon.max()), float(lat.max()))
        if roads is not None:
            found, half_m = roads.nearest(frame["x_m"].to_numpy(), frame["y_m"].to_numpy())
            away = pd.Series(found, frame.index)
            if roads.half_width_m is not None:
                off_road = int((away > half_m + _accuracy_m(frame, roads.accuracy_m)).sum() + np.isinf(found).sum())
            distances, median = _in_bands(away, DISTANCE_BANDS_M), float(away.median())
            last = away.idxmax()
            farthest = (float(away.max()), cell_at(frame, last, "core_id"))
        if "position_step_m" in frame:
            steps = _in_bands(frame.loc[placed, "position_step_m"], STEP_BANDS_M)
    return PositionFacts(
        headers, crs, len(frame), int(placed.sum()), _counts(frame["position_problem"]),
        _counts(frame["position_repair"]), distances, median, farthest, steps, extent, off_road,
    )  # fmt: skip


def _accuracy_m(frame: pd.DataFrame, usual_m: float) -> pd.Series:
    """Return the accuracy of each position: its own, else the usual one."""
    if "position_accuracy_m" not in frame:
        return pd.Series(usual_m, frame.index)
    return frame["position_accuracy_m"].fillna(usual_m)


def _in_bands(values: pd.Series, edges: tuple[float, ...]) -> tuple[int, ...]:
    """Return how many values lie in each band; a value on an edge belongs to the lower band."""
    above = [int(values.gt(edge).sum()) for edge in edges[1:]]
    totals = (int(values.notna().sum()), *above)
    return (*(here - next_one for here, next_one in pairwise(totals)), totals[-1])


def _counts(reasons: pd.Series) -> dict[str, int]:
    return {str(reason): int(count) for reason, count in reasons.value_counts().items()}
