"""Rules on how a core was put back: grout, water, temperature, bed, and how it sits in the road."""

import pandas as pd

from pipeline.audit.findings import find
from pipeline.audit.limits import by_width
from pipeline.audit.registry import Limits, rule

# registers hold a figure as it was written; a share of it is not told apart closer than this
_ROUNDING = 1e-9


@rule(
    "grout-short",
    family="placement",
    needs=["grout_used_l", "grout_least_l"],
    limits={"share": "%"},
    concerns="back",
    shows=["grout_judged_by"],
)
def grout_short(cores: pd.DataFrame, limits: Limits) -> pd.DataFrame:
    """Less grout went in than kerf, pilot hole and bed hold: they cannot be full."""
    short = cores["grout_used_l"].lt(limits.share * cores["grout_least_l"] - _ROUNDING)
    return find(
        cores[short],
        "{grout_used_l:.1f} L of grout went in, kerf, pilot hole and bed hold {grout_least_l:.1f} L at the least "
        "({grout_judged_by}): they cannot be full. Lift the core and grout it again.",
    )


@rule(
    "grout-long",
    family="placement",
    needs=["grout_used_l", "grout_most_l"],
    limits={"share": "%"},
    concerns="back",
    shows=["grout_judged_by"],
)
def grout_long(cores: pd.DataFrame, limits: Limits) -> pd.DataFrame:
    """Far more grout went in than the void can take: a hollow under the road is likely."""
    long = cores["grout_used_l"].gt(limits.share * cores["grout_most_l"] + _ROUNDING)
    return find(
        cores[long],
        "{grout_used_l:.1f} L of grout went in, kerf, pilot hole and bed hold {grout_most_l:.1f} L at the most "
        "({grout_judged_by}): look for a hollow or undermining beside the core.",
    )


@rule(
    "water-ratio-off",
    family="placement",
    needs=["water_ratio"],
    limits={"wanted": "L/kg", "tolerance": "%"},
    concerns="back",
    shows=["bags_used", "water_l"],
)
def water_ratio_off(cores: pd.DataFrame, limits: Limits) -> pd.DataFrame:
    """The grout was mixed with too much or too little water."""
    off = (cores["water_ratio"] / limits.wanted - 1).abs().gt(limits.tolerance + _ROUNDING)
    return find(
        cores[off],
        "{water_l:.1f} L of water to {bags_used:g} bags is {water_ratio:.3f} L to a kilogram, {wanted:.2f} is right: "
        "more weakens the grout, less leaves it too stiff to fill the kerf. Check the record, then the core.",
        wanted=limits.wanted,
    )


@rule(
    "air-temperature-outside",
    family="placement",
    needs=["air_temperature_c"],
    limits={"least": "degC", "most": "degC"},
    concerns="back",
)
def air_temperature_outside(cores: pd.DataFrame, limits: Limits) -> pd.DataFrame:
    """The grout was poured in air too cold or too hot for it."""
    out = ~cores["air_temperature_c"].round(6).between(limits.least, limits.most)
    return find(
        cores[out],
        "Poured at {air_temperature_c:.0f} degC; {least:.0f} to {most:.0f} degC is allowed: ask whether the materials "
        "were warmed or cooled, and sound the core.",
        least=limits.least,
        most=limits.most,
    )


@rule(
    "bedding-off",
    family="placement",
    needs=["bedding_mm", "bedding_specified_mm"],
    limits={"tolerance": "mm"},
    concerns="back",
)
def bedding_off(cores: pd.DataFrame, limits: Limits) -> pd.DataFrame:
    """The gravel bed is thinner or thicker than specified."""
    off = (cores["bedding_mm"] - cores["bedding_specified_mm"]).abs().gt(limits.tolerance + _ROUNDING)
    return find(
        cores[off],
        "A bed of {bedding_mm:.0f} mm, {bedding_specified_mm:.0f} mm is specified: "
        "watch the core for settlement, and its grout for what a thicker bed takes up.",
    )


@rule("flush-out-of-tolerance", family="placement", needs=["flush_mm"], limits={"limit": "mm"}, concerns="back")
def flush_out_of_tolerance(cores: pd.DataFrame, limits: Limits) -> pd.DataFrame:
    """The core stands proud of the road or lies below it by more than allowed."""
    step = cores["flush_mm"].abs()
    how = cores["flush_mm"].gt(0).map({True: "proud", False: "low"})
    return find(
        cores.assign(step_mm=step, how=how)[step.gt(limits.limit)],
        "The core stands {step_mm:.0f} mm {how}, {limit:.0f} mm is allowed: a trip and a blow under every wheel. "
        "Lift and reset it.",
        limit=limits.limit,
    )


@rule(
    "surface-depression",
    family="placement",
    needs=["depression_mm", "hole_mm"],
    limits={"bands": "bands"},
    concerns="back",
)
def surface_depression(cores: pd.DataFrame, limits: Limits) -> pd.DataFrame:
    """The reinstated surface has sunk by more than its width allows."""
    limit = by_width(limits.bands, cores["hole_mm"])
    return find(
        cores[cores["depression_mm"].gt(limit)],
        "The surface has sunk {depression_mm:.0f} mm, over a width of {hole_mm:.0f} mm {limit:.0f} mm is allowed: "
        "lift and reset the core.",
        limit=limit,
    )


@rule(
    "depression-with-step",
    family="placement",
    needs=["depression_mm", "flush_mm", "hole_mm"],
    limits={"bands": "bands", "step": "mm"},
    concerns="back",
)
def depression_with_step(cores: pd.DataFrame, limits: Limits) -> pd.DataFrame:
    """The surface has sunk and there is a step at its edge: together less is allowed."""
    limit = by_width(limits.bands, cores["hole_mm"])
    both = cores["depression_mm"].gt(limit) & cores["flush_mm"].abs().gt(limits.step)
    return find(
        cores[both],
        "Sunk {depression_mm:.0f} mm with a step of {flush_mm:.0f} mm at the edge: together {limit:.0f} mm is allowed "
        "over a width of {hole_mm:.0f} mm. Ask the road authority which defects it combines.",
        limit=limit,
    )
