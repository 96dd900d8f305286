"""What each street is coloured by, and how many such cores it has, in steps: the more, the wider it is drawn."""

from typing import Final, NamedTuple

import geopandas as gpd
import numpy as np
import pandas as pd

from pipeline.publish.looks import STREET_LEVELS
from pipeline.publish.map.cores import core_levels
from pipeline.publish.map.packing import Ints

__all__ = ["StreetCounts", "choose_limits", "count_streets"]

Limits = tuple[int, int, int]

# from how many cores on a street is drawn a step wider, and by what is counted together: hazards and overdue cores,
# those flagged for another reason, open ones
LADDERS: Final[tuple[Limits, ...]] = (
    (2, 5, 10),
    (5, 10, 20),
    (10, 20, 50),
    (20, 50, 100),
    (50, 100, 200),
    (100, 200, 500),
    (200, 500, 1000),
)
KIND_OF_LEVEL: Final = {"hazard": 0, "overdue": 0, "flagged": 1, "open": 2}
_KINDS: Final = max(KIND_OF_LEVEL.values()) + 1
# of the streets that have such cores, no more may be of the widest step, otherwise they look alike again
WIDEST_SHARE: Final = 0.2


class StreetCounts(NamedTuple):
    """By segment: ``level``, a position in ``STREET_LEVELS``, and ``step``, 0 to 3; and the limits of the steps."""

    level: Ints
    step: Ints
    limits: Limits


def choose_limits(counts: Ints) -> Limits:
    """Return the finest limits by which no more than a fifth of the streets are of the widest step.

    Parameters
    ----------
    counts
        Cores by street; zeros do not count.
    """
    present = counts[counts > 0]
    for limits in LADDERS[:-1]:
        if (present >= limits[-1]).sum() <= WIDEST_SHARE * present.size:
            return limits
    return LADDERS[-1]


def count_streets(segments: gpd.GeoDataFrame, cores: pd.DataFrame) -> StreetCounts:
    """Return the level of the most urgent core on each segment, and how many such cores its street has.

    A segment without a street's name is a street of its own. Hazards and overdue cores are counted together.
    """
    order, none = STREET_LEVELS.index("order"), STREET_LEVELS.index("none")
    if "segment_id" not in cores or cores.empty or segments.empty:
        nothing = np.zeros(len(segments), dtype=np.int64)
        return StreetCounts(nothing + none, nothing, LADDERS[0])
    segment, ids = pd.factorize(segments["segment_id"])
    _, first = np.unique(segment, return_index=True)
    names, known = pd.factorize(segments["street"].iloc[first])
    street = np.where(names < 0, len(known) + np.arange(len(ids)), names)
    on = pd.Index(ids).get_indexer(pd.Index(cores["segment_id"]))
    own, on = core_levels(cores)[on >= 0], on[on >= 0]
    level = np.full(len(ids), none, dtype=np.int64)
    np.minimum.at(level, on, own)
    is_counted = own < order
    kinds = np.array([KIND_OF_LEVEL.get(name, 0) for name in STREET_LEVELS])
    where = street[on[is_counted]] * _KINDS + kinds[own[is_counted]]
    counts = np.bincount(where, minlength=(len(known) + len(ids)) * _KINDS).reshape(-1, _KINDS)
    limits = choose_limits(_to_choose_by(counts, len(known)))
    step = np.where(level < order, np.searchsorted(limits, counts[street, kinds[level]], side="right"), 0)
    return StreetCounts(level[segment], step[segment], limits)


def _to_choose_by(counts: Ints, named: int) -> Ints:
    """Return the counts that have to be told apart: of the most urgent kind, of streets with a name if any has it."""
    for kind in range(_KINDS):
        for found in (counts[:named, kind], counts[:, kind]):
            if found.any():
                return found
    return counts[:, 0]
