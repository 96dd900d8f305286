"""From which scale cores are drawn in a GIS: where they would cover each other, the streets show what lies on them."""

from typing import Final, NamedTuple

import geopandas as gpd
import pandas as pd

from pipeline.publish.among import is_among

__all__ = ["ALWAYS", "Scales", "scales_of"]

# millimetres on the map that cores along a street are apart on average: about a symbol and a half; flagged ones lie in
# clusters, and has a badge
_APART_MM: Final = 4
_FLAGGED_APART_MM: Final = 15
_MM_PER_M: Final = 1000
_SCALES: Final = (1000, 2000, 5000, 7500, 10_000, 15_000, 25_000, 50_000, 100_000, 250_000)


class Scales(NamedTuple):
    """The smallest scales at which cores are drawn, such as 2500 for 1:2500; None for all.

    ``every``: all cores; ``flagged``: those that are flagged; ``hazard``: hazards.
    """

    every: int | None
    flagged: int | None
    hazard: int | None


ALWAYS: Final = Scales(None, None, None)


def scales_of(cores: pd.DataFrame, segments: gpd.GeoDataFrame) -> Scales:
    """Return from which scales the cores of a network are drawn, those that are urgent from farther out.

    Parameters
    ----------
    cores
        The table of cores; columns ``segment_id``, ``status`` and ``urgency`` are used where it has them.
    segments
        In a CRS in metres.
    """
    lengths = segments.geometry.length
    if "segment_id" in cores and "segment_id" in segments:
        lengths = lengths[is_among(segments["segment_id"], cores["segment_id"])]
    metres = float(lengths.sum())

    def scale(count: int, apart: int) -> int | None:
        if not count or not metres:
            return None
        closest = metres / count * _MM_PER_M / apart
        if closest >= _SCALES[-1]:
            return None
        return max((one for one in _SCALES if one <= closest), default=_SCALES[0])

    flagged = int(cores["status"].eq("flagged").sum()) if "status" in cores else 0
    hazards = int(cores["urgency"].eq("hazard").sum()) if "urgency" in cores else 0
    return Scales(scale(len(cores), _APART_MM), scale(flagged, _FLAGGED_APART_MM), scale(hazards, _FLAGGED_APART_MM))
