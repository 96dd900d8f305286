"""The lines of the road layer, made ready once for everything that looks for the segments of cores."""

from typing import NamedTuple

import geopandas as gpd
import numpy as np
import numpy.typing as npt
import pandas as pd
import shapely

from pipeline.locate.posterior import Pieces, pieces_of

__all__ = ["Lines", "lines_of"]


class Lines(NamedTuple):
    """M lines of a layer.

    ``shapes`` and the ``tree`` that holds them; ``segment``: the number of each line's segment, in the order of their
    ids; ``pieces``: their straight pieces, None where nothing is weighed.
    """

    shapes: npt.NDArray[np.object_]
    tree: shapely.STRtree
    segment: npt.NDArray[np.intp]
    pieces: Pieces | None


def lines_of(segments: gpd.GeoDataFrame, *, are_weighed: bool) -> Lines:
    """Return the lines of a layer with ``segment_id`` and geometry; ``are_weighed``: with their straight pieces."""
    shapes = np.asarray(segments.geometry.array)
    number, _ = pd.factorize(segments["segment_id"].astype("str"), sort=True)
    return Lines(shapes, shapely.STRtree(shapes), number, pieces_of(shapes) if are_weighed else None)
