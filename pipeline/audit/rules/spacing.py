"""Rules on neighbouring cores: one core recorded twice, or too little pavement left between two.

A core whose position is written too coarsely is not assessed, and is no neighbour of another.
"""

from dataclasses import dataclass
from typing import Final

import numpy as np
import pandas as pd
from scipy.sparse import coo_array
from scipy.sparse.csgraph import connected_components

from pipeline.audit.findings import Findings, Remedies, choose_by, find
from pipeline.audit.limits import Count, Millimetres, PositiveMillimetres
from pipeline.audit.near_pairs import near_pairs
from pipeline.audit.registry import rule
from pipeline.audit.shared_remedies import ASK_WHETHER_IT_MAY_STAY, MEASURE_AND_ASK

_MM_PER_M: Final = 1000.0
_SHOWN: Final = ("core_id", "hole_mm", "same_core", "is_copy", "y_m")


@dataclass(frozen=True)
class OverlapLimits:
    """Diameter used where none is known."""

    nominal_diameter_mm: PositiveMillimetres


@dataclass(frozen=True)
class ClearanceLimits:
    """Least pavement between two cores; diameter used where none is known."""

    min_clear_mm: Millimetres
    nominal_diameter_mm: PositiveMillimetres


@dataclass(frozen=True)
class ClusterLimits:
    """Most cores that may be reinstated less than ``min_clear_mm`` apart; diameter used where none is known."""

    max_cores: Count
    min_clear_mm: Millimetres
    nominal_diameter_mm: PositiveMillimetres


def _neighbours(cores: pd.DataFrame, clear_mm: Millimetres, nominal_mm: Millimetres) -> pd.DataFrame:
    """Every pair of cores with less than ``clear_mm`` between their perimeters, once for each of the two.

    One row per core of a pair: ``core`` and ``other`` (positions in ``cores``), ``other_id``, ``apart_mm`` between the
    centres and ``clear_mm`` between the perimeters, negative where they overlap.
    """
    wanted = np.broadcast_to(np.asarray(clear_mm, dtype=float), len(cores))
    diameter = cores["hole_mm"].fillna(nominal_mm).to_numpy()
    x, y = cores["spacing_x_m"].to_numpy(), cores["y_m"].to_numpy()
    reach = (diameter.max(initial=0.0) + wanted.max(initial=0.0)) / _MM_PER_M
    pairs_once = near_pairs(x, y, reach)
    one, other = np.concatenate(pairs_once), np.concatenate(pairs_once[::-1])
    same, is_copy = cores["same_core"].to_numpy(), cores["is_copy"].to_numpy()
    # a core recorded twice is a finding of its own, and is a neighbour only where it is counted
    apart = (same[one] != same[other]) & ~is_copy[other]
    one, other = one[apart], other[apart]
    centres = np.sqrt(np.square(x[one] - x[other]) + np.square(y[one] - y[other])) * _MM_PER_M
    # coordinates of this size hold no more than a hundredth of a millimetre
    clear = (centres - (diameter[one] + diameter[other]) / 2).round(2)
    pairs = pd.DataFrame(
        {
            "core": one,
            "other": other,
            "other_id": cores["core_id"].iloc[other].array,
            "apart_mm": centres,
            "clear_mm": clear,
        }
    )
    return pairs[pairs["clear_mm"].lt(wanted[one])].sort_values(["core", "clear_mm", "other_id"])


def _nearest_of(cores: pd.DataFrame, pairs: pd.DataFrame) -> pd.DataFrame:
    """The cores that have a neighbour, with the nearest one and the number of ``others``."""
    count = pairs.groupby("core").size()
    first = pairs.drop_duplicates("core").set_index("core")
    shown = {name: first[name].to_numpy() for name in ("other_id", "apart_mm", "clear_mm")}
    return cores.iloc[first.index].assign(**shown, others=count.to_numpy() - 1)


# by whether the nearest core has an id, and whether it is the only one
_OVERLAPS: Final[dict[tuple[bool, ...], str]] = {
    (True, True): 'Overlaps core "{other_id}": the centres are {apart_mm:.0f} mm apart.',
    (True, False): 'Overlaps core "{other_id}" (and {others} more): the centres are {apart_mm:.0f} mm apart.',
    (False, True): "Overlaps a core without an id: the centres are {apart_mm:.0f} mm apart.",
    (False, False): "Overlaps a core without an id (and {others} more): the centres are {apart_mm:.0f} mm apart.",
}
_TOO_CLOSE: Final[dict[tuple[bool, ...], str]] = {
    (True, True): '{clear_mm:.0f vs min_clear_mm} mm clear of core "{other_id}" by the recorded positions '
    "(minimum {min_clear_mm:g} mm).",
    (True, False): '{clear_mm:.0f vs min_clear_mm} mm clear of core "{other_id}" (and {others} more) by the recorded '
    "positions (minimum {min_clear_mm:g} mm).",
    (False, True): "{clear_mm:.0f vs min_clear_mm} mm clear of a core without an id by the recorded positions "
    "(minimum {min_clear_mm:g} mm).",
    (False, False): "{clear_mm:.0f vs min_clear_mm} mm clear of a core without an id (and {others} more) by the "
    "recorded positions (minimum {min_clear_mm:g} mm).",
}


@rule("cores-overlap", needs=["spacing_x_m"], shows=_SHOWN, partner="other_id")
def cores_overlap(cores: pd.DataFrame, limits: OverlapLimits) -> Findings:
    """Two cores overlap by their recorded positions."""
    near = _nearest_of(cores, _neighbours(cores, 0.0, limits.nominal_diameter_mm))
    return find(
        near,
        choose_by(_OVERLAPS, near["other_id"].notna(), near["others"].eq(0)),
        "Check on site whether this is one core recorded twice, or two cores that overlap.",
        keeps=["other_id"],
    )


@rule("cores-too-close", needs=["spacing_x_m"], shows=_SHOWN, partner="other_id")
def cores_too_close(cores: pd.DataFrame, limits: ClearanceLimits) -> Findings:
    """Too little pavement is left between two cores."""
    pairs = _neighbours(cores, limits.min_clear_mm, limits.nominal_diameter_mm)
    near = _nearest_of(cores, pairs[pairs["clear_mm"].ge(0)])
    return find(
        near,
        choose_by(_TOO_CLOSE, near["other_id"].notna(), near["others"].eq(0)),
        Remedies(
            if_open="Measure on site before reinstating.",
            if_reinstated=ASK_WHETHER_IT_MAY_STAY,
            if_unknown="Measure on site.",
        ),
        keeps=["other_id"],
        min_clear_mm=limits.min_clear_mm,
    )


@rule("cores-clustered", needs=["spacing_x_m"], shows=_SHOWN)
def cores_clustered(cores: pd.DataFrame, limits: ClusterLimits) -> Findings:
    """More cores lie close together, each near the next, than may be reinstated."""
    pairs = _neighbours(cores, limits.min_clear_mm, limits.nominal_diameter_mm)
    # a core recorded twice is one core
    _, core_of = np.unique(cores["same_core"].to_numpy(), return_inverse=True)
    ends = (core_of[pairs["core"].to_numpy()], core_of[pairs["other"].to_numpy()])
    links = coo_array((np.ones(len(pairs), dtype=bool), ends), shape=(len(cores), len(cores)))
    _, group = connected_components(links, directed=False)
    size = pd.Series(np.bincount(group), dtype=float)
    together = cores.assign(together=size.to_numpy()[group[core_of]])
    return find(
        together[together["together"].gt(limits.max_cores)],
        "One of {together:.0f} cores that lie less than {min_clear_mm:g} mm from the next by the recorded positions; "
        "at most {max_cores:g} may be reinstated.",
        MEASURE_AND_ASK,
        min_clear_mm=limits.min_clear_mm,
        max_cores=limits.max_cores,
    )
