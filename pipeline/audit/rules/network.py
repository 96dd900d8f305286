"""Rules on the road around a core: how much of it has been cut, joints, protected streets, planned works, slope."""

from dataclasses import dataclass
from math import pi
from typing import Final

import pandas as pd

from pipeline.audit.figures import days_of
from pipeline.audit.findings import Findings, choose, find
from pipeline.audit.for_authority import for_authority
from pipeline.audit.limits import Count, Millimetres, Months, PositiveMillimetres, Share, months_after
from pipeline.audit.registry import rule
from pipeline.audit.shared_remedies import MEASURE_AND_ASK
from pipeline.audit.written_ranges import TOLERANCE

_MM_PER_M: Final = 1000.0
_LENGTH_M: Final = 100.0
_RESURFACE: Final = for_authority(
    "Consider resurfacing the whole segment.", "You can consider having the whole segment resurfaced."
)


@dataclass(frozen=True)
class JointLimits:
    """Least pavement between a core and a slab joint or edge; diameter used where none is known."""

    min_clear_mm: Millimetres
    nominal_diameter_mm: PositiveMillimetres


@dataclass(frozen=True)
class CrowdingLimits:
    """Most cores per 100 m of a segment."""

    max_cores_per_100_m: Count


@dataclass(frozen=True)
class CutAreaLimits:
    """Largest share of a segment's area that may be cut; diameter used where none is known."""

    max_share: Share
    nominal_diameter_mm: PositiveMillimetres


@dataclass(frozen=True)
class ProtectionLimits:
    """How long a street is protected after its resurfacing."""

    protection_months: Months


@dataclass(frozen=True)
class ResurfacingLimits:
    """How soon after the planned reinstatement a resurfacing is worth knowing about."""

    within_months: Months


@dataclass(frozen=True)
class SlopeLimits:
    """Steepest slope on which grout stays level."""

    max_slope: Share


@rule("joint-near", needs=["joint_m", "is_rigid"], shows=["hole_mm"])
def joint_near(cores: pd.DataFrame, limits: JointLimits) -> Findings:
    """The core is too near a joint or edge of its concrete slab."""
    clear = cores["joint_m"] * _MM_PER_M - cores["hole_mm"].fillna(limits.nominal_diameter_mm) / 2
    near = cores["is_rigid"] & clear.round(2).lt(limits.min_clear_mm)
    return find(
        cores.assign(clear_mm=clear)[near],
        "{clear_mm:.0f vs min_clear_mm} mm from the nearest slab joint or edge by the recorded position (minimum "
        "{min_clear_mm:g} mm).",
        MEASURE_AND_ASK,
        min_clear_mm=limits.min_clear_mm,
    )


@rule("segment-crowded", needs=["segment_cores", "segment_length_m"], shows=["segment_id"])
def segment_crowded(cores: pd.DataFrame, limits: CrowdingLimits) -> Findings:
    """The segment has many cores for its length."""
    # a stub of ten metres with one core is not crowded
    length = cores["segment_length_m"].clip(lower=_LENGTH_M)
    density = (cores["segment_cores"] / length * _LENGTH_M).round(6)
    return find(
        cores.assign(density=density)[density.gt(limits.max_cores_per_100_m)],
        "{density:.1f vs max_cores_per_100_m} cores per 100 m (limit {max_cores_per_100_m:g}) on segment {segment_id}: "
        "{segment_cores:.0f} on {segment_length_m:.0f} m.",
        _RESURFACE,
        max_cores_per_100_m=limits.max_cores_per_100_m,
    )


@rule("segment-cut-up", needs=["segment_cores", "segment_area_m2"], shows=["hole_mm", "is_copy", "segment_id"])
def segment_cut_up(cores: pd.DataFrame, limits: CutAreaLimits) -> Findings:
    """The cores take up a large share of the segment's area."""
    hole = cores["hole_mm"].fillna(limits.nominal_diameter_mm) / _MM_PER_M
    area = (pi / 4 * hole**2).where(~cores["is_copy"], 0.0).groupby(cores["segment_id"]).transform("sum")
    share = (area / cores["segment_area_m2"]).round(9)
    return find(
        cores.assign(cut_m2=area, share=share)[share.gt(limits.max_share)],
        "{share:.2% vs max_share} of segment {segment_id} has been cut (limit {max_share:.2% vs share}): "
        "{cut_m2:.1f} m² of {segment_area_m2:.0f} m².",
        _RESURFACE,
        max_share=limits.max_share,
    )


@rule("street-protected", needs=["opened_on", "resurfaced_known"], shows=["resurfaced_on", "protected_until"])
def street_protected(cores: pd.DataFrame, limits: ProtectionLimits) -> Findings:
    """The core was cut into a protected street."""
    until = months_after(days_of(cores["resurfaced_on"]), limits.protection_months)
    by_authority = cores["protected_until"].notna()
    found = by_authority | days_of(cores["opened_on"]).lt(until)
    return find(
        cores.assign(until=until)[found],
        choose(
            by_authority[found],
            "Cut on {opened_on} into a protected street: protection ends on {protected_until}.",
            "Cut on {opened_on} into a road that was resurfaced on {resurfaced_on} and is protected until {until}.",
        ),
        for_authority(
            "Keep the road authority's permission on file.",
            "The utility needed your permission, and must keep it on file.",
        ),
    )


@rule(
    "resurfacing-first",
    needs=["planned_works_known", "planned_on"],
    applies_to="open",
    shows=["resurfacing_due_on"],
)
def resurfacing_first(cores: pd.DataFrame) -> Findings:
    """The road is to be resurfaced before the planned reinstatement."""
    first = days_of(cores["resurfacing_due_on"]).le(days_of(cores["planned_on"]))
    return find(
        cores[first],
        "Resurfacing is due on {resurfacing_due_on}, but the core is not planned to be reinstated until {planned_on}.",
        "Reinstate the core first, or the new surface will have to be cut.",
    )


@rule(
    "resurfacing-follows",
    needs=["planned_works_known", "planned_on"],
    applies_to="open",
    shows=["resurfacing_due_on"],
)
def resurfacing_follows(cores: pd.DataFrame, limits: ResurfacingLimits) -> Findings:
    """The road is to be resurfaced soon after the planned reinstatement."""
    due, planned = days_of(cores["resurfacing_due_on"]), days_of(cores["planned_on"])
    soon = due.gt(planned) & due.le(months_after(planned, limits.within_months))
    return find(
        cores[soon],
        "Reinstatement is planned for {planned_on}, and the road is to be resurfaced from {resurfacing_due_on}.",
        for_authority(
            "Agree with the road authority what may stay until then; the shade matters less.",
            "The utility must agree with you what may stay until then.",
        ),
    )


@rule("slope-steep", needs=["slope_percent"], applies_to="open")
def slope_steep(cores: pd.DataFrame, limits: SlopeLimits) -> Findings:
    """The road is so steep that grout runs to the low side."""
    slope = cores["slope_percent"].abs() / 100
    return find(
        cores.assign(slope=slope)[slope.gt(limits.max_slope + TOLERANCE)],
        "Slope of {slope:.0% vs max_slope} (limit {max_slope:.0% vs slope}): grout runs to the low side.",
        "Top up the high side before the grout is firm.",
        max_slope=limits.max_slope,
    )
