"""Rules on the road around a core: how much of it has been cut, joints, protected streets, planned works, slope."""

from math import pi

import pandas as pd

from pipeline.audit.figures import days_of
from pipeline.audit.findings import find
from pipeline.audit.limits import months_after
from pipeline.audit.registry import Limits, rule

_MM_PER_M = 1000.0
_PER_M = 100.0


@rule(
    "joint-near",
    family="network",
    needs=["joint_m", "is_rigid"],
    limits={"limit": "mm", "nominal": "mm"},
    shows=["hole_mm"],
)
def joint_near(cores: pd.DataFrame, limits: Limits) -> pd.DataFrame:
    """The core is too near an edge or a joint of its concrete slab."""
    clear = cores["joint_m"] * _MM_PER_M - cores["hole_mm"].fillna(limits.nominal) / 2
    near = cores["is_rigid"] & clear.round(2).lt(limits.limit)
    return find(
        cores.assign(clear_mm=clear)[near],
        "{clear_mm:.0f} mm from slab joint or edge, {limit:.0f} mm is the least, as far as the position tells: "
        "measure on site and ask the road authority before the core goes back.",
        limit=limits.limit,
    )


@rule(
    "segment-crowded",
    family="network",
    needs=["segment_cores", "segment_length_m"],
    limits={"limit": ""},
    shows=["segment_id"],
)
def segment_crowded(cores: pd.DataFrame, limits: Limits) -> pd.DataFrame:
    """The segment carries many cores for its length."""
    # a stub of ten metres with one core is no crowd
    length = cores["segment_length_m"].clip(lower=_PER_M)
    density = cores["segment_cores"] / length * _PER_M
    return find(
        cores.assign(density=density)[density.round(6).gt(limits.limit)],
        "{segment_cores:.0f} cores on {segment_length_m:.0f} m of {segment_id}, {density:.1f} to 100 m; "
        "more than {limit:.0f}: think of resurfacing it whole.",
        limit=limits.limit,
    )


@rule(
    "segment-cut-up",
    family="network",
    needs=["segment_cores", "segment_area_m2"],
    limits={"limit": "%", "nominal": "mm"},
    shows=["hole_mm", "is_copy", "segment_id"],
)
def segment_cut_up(cores: pd.DataFrame, limits: Limits) -> pd.DataFrame:
    """The cores take up a large share of the segment's area."""
    hole = cores["hole_mm"].fillna(limits.nominal) / _MM_PER_M
    area = (pi / 4 * hole**2).where(~cores["is_copy"], 0.0).groupby(cores["segment_id"]).transform("sum")
    share = area / cores["segment_area_m2"]
    return find(
        cores.assign(cut_m2=area, share=share)[share.round(9).gt(limits.limit)],
        "{cut_m2:.1f} m2 cut out of {segment_area_m2:.0f} m2 of {segment_id}, {share:.2%}; more than {limit:.2%}: "
        "think of resurfacing it whole.",
        limit=limits.limit,
    )


@rule(
    "street-protected",
    family="network",
    needs=["opened_on", "resurfaced_known"],
    limits={"limit": "month"},
    shows=["resurfaced_on"],
)
def street_protected(cores: pd.DataFrame, limits: Limits) -> pd.DataFrame:
    """The core was cut into a road that was protected after its resurfacing."""
    until = months_after(days_of(cores["resurfaced_on"]), limits.limit)
    return find(
        cores.assign(until=until)[days_of(cores["opened_on"]).lt(until)],
        "Cut on {opened_on} into a road resurfaced on {resurfaced_on} and protected until {until}: "
        "have the road authority's leave on file.",
    )


@rule(
    "resurfacing-first",
    family="network",
    needs=["planned_works_known", "planned_on"],
    concerns="open",
    shows=["resurfacing_due_on"],
)
def resurfacing_first(cores: pd.DataFrame, limits: Limits) -> pd.DataFrame:  # noqa: ARG001
    """The road is to be resurfaced before the core is planned to go back."""
    first = days_of(cores["resurfacing_due_on"]).le(days_of(cores["planned_on"]))
    return find(
        cores[first],
        "Resurfacing is due on {resurfacing_due_on}, the core is planned for {planned_on}: "
        "put it back first, or the new surface is cut.",
    )


@rule(
    "resurfacing-follows",
    family="network",
    needs=["planned_works_known", "planned_on"],
    limits={"within": "month"},
    concerns="open",
    shows=["resurfacing_due_on"],
)
def resurfacing_follows(cores: pd.DataFrame, limits: Limits) -> pd.DataFrame:
    """The road is to be resurfaced soon after the core is planned to go back."""
    due, planned = days_of(cores["resurfacing_due_on"]), days_of(cores["planned_on"])
    soon = due.gt(planned) & due.le(months_after(planned, limits.within))
    return find(
        cores[soon],
        "Planned for {planned_on}, and the road is resurfaced from {resurfacing_due_on}: "
        "agree with the road authority what may stay until then; shade matters less.",
    )


@rule("slope-steep", family="network", needs=["slope_percent"], limits={"limit": "%"}, concerns="open")
def slope_steep(cores: pd.DataFrame, limits: Limits) -> pd.DataFrame:
    """The road is so steep that grout runs to the low side."""
    return find(
        cores[cores["slope_percent"].abs().gt(limits.limit * 100)],
        "A slope of {slope_percent:.0f} %: grout runs to the low side. Top up the high side before the core is firm.",
    )
