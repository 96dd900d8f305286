"""Rules on cores beside each other: one core written twice, or pavement left too narrow between two."""

import numpy as np
import pandas as pd
import shapely
from scipy.sparse import coo_array
from scipy.sparse.csgraph import connected_components

from pipeline.audit.findings import find
from pipeline.audit.registry import Limits, rule

_MM_PER_M = 1000.0


def _neighbours(cores: pd.DataFrame, clear_mm: float | pd.Series, nominal_mm: float | pd.Series) -> pd.DataFrame:
    """Both halves of every pair of cores with less than so much clear between their perimeters.

    Returns one row a half: ``core`` and ``other`` (places in ``cores``), ``other_id``, ``apart_mm`` between the
    centres and ``clear_mm`` between the perimeters, negative where they overlap.
    """
    wanted = np.broadcast_to(np.asarray(clear_mm, dtype=float), len(cores))
    diameter = cores["hole_mm"].fillna(nominal_mm).to_numpy()
    x, y = cores["x_m"].to_numpy(), cores["y_m"].to_numpy()
    points = shapely.points(x, y)
    reach = (diameter.max(initial=0.0) + wanted.max(initial=0.0)) / _MM_PER_M
    one, other = shapely.STRtree(points).query(shapely.box(x - reach, y - reach, x + reach, y + reach))
    same = cores["same_row"].to_numpy()
    # a row written twice is its own finding
    apart = same[one] != same[other]
    one, other = one[apart], other[apart]
    centres = shapely.distance(points[one], points[other]) * _MM_PER_M
    # a hundredth of a millimetre is more than coordinates of this size hold
    clear = (centres - (diameter[one] + diameter[other]) / 2).round(2)
    pairs = pd.DataFrame(
        {
            "core": one,
            "other": other,
            "other_id": cores["core_id"].fillna("without id").to_numpy()[other],
            "apart_mm": centres,
            "clear_mm": clear,
        }
    )
    return pairs[pairs["clear_mm"].lt(wanted[one])].sort_values(["core", "clear_mm", "other_id"])


def _nearest_of(cores: pd.DataFrame, pairs: pd.DataFrame) -> pd.DataFrame:
    count = pairs.groupby("core").size()
    first = pairs.drop_duplicates("core").set_index("core")
    found = cores.iloc[first.index]
    return found.assign(
        **{name: first[name].to_numpy() for name in ("other_id", "apart_mm", "clear_mm")},
        others=np.where(count.to_numpy() > 1, " (and " + (count - 1).astype("str") + " more)", ""),
    )


@rule(
    "cores-overlap",
    family="spacing",
    needs=["x_m"],
    limits={"nominal": "mm"},
    shows=["core_id", "hole_mm", "same_row", "y_m"],
)
def cores_overlap(cores: pd.DataFrame, limits: Limits) -> pd.DataFrame:
    """Two cores lie within a core's own diameter of each other."""
    pairs = _neighbours(cores, 0.0, limits.nominal)
    return find(
        _nearest_of(cores, pairs),
        "Overlaps core {other_id}{others}, whose centre is {apart_mm:.0f} mm away: "
        "one core written twice, or two cut into each other? Look.",
    )


@rule(
    "cores-too-close",
    family="spacing",
    needs=["x_m"],
    limits={"limit": "mm", "nominal": "mm"},
    shows=["core_id", "hole_mm", "same_row", "y_m"],
)
def cores_too_close(cores: pd.DataFrame, limits: Limits) -> pd.DataFrame:
    """Too little pavement is left between two cores."""
    pairs = _neighbours(cores, limits.limit, limits.nominal)
    return find(
        _nearest_of(cores, pairs[pairs["clear_mm"].ge(0)]),
        "Only {clear_mm:.0f} mm clear to core {other_id}{others}, {limit:.0f} mm is the least, "
        "as far as the positions tell: measure on site.",
        limit=limits.limit,
    )


@rule(
    "cores-clustered",
    family="spacing",
    needs=["x_m"],
    limits={"most": "", "within": "mm", "nominal": "mm"},
    shows=["core_id", "hole_mm", "same_row", "y_m"],
)
def cores_clustered(cores: pd.DataFrame, limits: Limits) -> pd.DataFrame:
    """More cores lie close to each other, as in a chain, than may go back."""
    pairs = _neighbours(cores, limits.within, limits.nominal)
    # a row written twice is one core
    _, core_of = np.unique(cores["same_row"].to_numpy(), return_inverse=True)
    ends = (core_of[pairs["core"].to_numpy()], core_of[pairs["other"].to_numpy()])
    links = coo_array((np.ones(len(pairs), dtype=bool), ends), shape=(len(cores), len(cores)))
    _, group = connected_components(links, directed=False)
    size = pd.Series(np.bincount(group), dtype=float)
    together = cores.assign(together=size.to_numpy()[group[core_of]])
    return find(
        together[together["together"].gt(limits.most)],
        "One of {together:.0f} cores less than {within:.0f} mm from the next, as far as the positions tell; "
        "{most:.0f} may go back. Measure on site and ask the road authority.",
        within=limits.within,
        most=limits.most,
    )
