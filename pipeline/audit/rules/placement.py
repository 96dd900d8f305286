"""Rules on how a core was reinstated: grout, water, temperature, bedding, and how level it is with the road."""

from dataclasses import dataclass
from typing import Final

import pandas as pd

from pipeline.audit.findings import Findings, choose, choose_by, find
from pipeline.audit.for_authority import for_authority
from pipeline.audit.limits import ByWidth, Celsius, LitresPerKilogram, Millimetres, Share, ShareOrMore, widths_limit
from pipeline.audit.registry import rule
from pipeline.audit.shared_remedies import AGREE_OR_RESET
from pipeline.audit.written_ranges import Verdict, WrittenRange, above, below, both, outside, size_shares

# what the range of the void depends on besides its own columns
_SIZES: Final = ("hole_mm", "depth_believed_mm", "diameter_step_mm", "depth_step_mm")


@dataclass(frozen=True)
class GroutShortLimits:
    """Least share of the smallest void that the grout used must fill."""

    min_share: ShareOrMore


@dataclass(frozen=True)
class GroutLongLimits:
    """Largest share of the largest void that the grout used may come to."""

    max_share: ShareOrMore


@dataclass(frozen=True)
class WaterLimits:
    """Water per kilogram of dry grout, and how far it may be off, as a share of it."""

    specified_ratio_l_per_kg: LitresPerKilogram
    tolerance: Share


@dataclass(frozen=True)
class TemperatureLimits:
    """Range of air temperatures in which grout may be poured, both ends included."""

    min_temperature_c: Celsius
    max_temperature_c: Celsius


@dataclass(frozen=True)
class BeddingLimits:
    """How far the bed's thickness may be off."""

    tolerance_mm: Millimetres


@dataclass(frozen=True)
class StepLimits:
    """Largest step between core and road, up or down."""

    max_step_mm: Millimetres


@dataclass(frozen=True)
class DepressionLimits:
    """Deepest depression of the surface, by the width of the opening."""

    max_depression_mm: ByWidth


@dataclass(frozen=True)
class CombinedLimits:
    """Deepest depression where there is a step as well; steps up to ``max_step_mm`` do not count."""

    max_depression_mm: ByWidth
    max_step_mm: Millimetres


@rule(
    "grout-short",
    needs=["grout_used_l", "grout_least_l"],
    applies_to="reinstated",
    shows=["grout_judged_by", "grout_used_low_l", "grout_used_high_l", *_SIZES],
)
def grout_short(cores: pd.DataFrame, limits: GroutShortLimits) -> Findings:
    """Too little grout was used to fill the kerf, pilot hole and bed."""
    needed, sizes = limits.min_share * cores["grout_least_l"], size_shares(cores)
    short = below(_grout_used(cores), needed * sizes.low, needed * sizes.high)
    findings = find(
        cores[short.sure],
        "{grout_used_l:.1f vs needed_l} L of grout was used, but filling the kerf, pilot hole and bed takes at least "
        "{needed_l:.1f vs grout_used_l} L ({grout_judged_by:term}).",
        for_authority(
            "Agree the remedy with the road authority. If the core is to be regrouted, lift it by machine.",
            "The utility must agree the remedy with you.",
        ),
        needed_l=needed,
    )
    return short.on(findings)


def _grout_used(cores: pd.DataFrame) -> WrittenRange:
    """The grout that each of N cores may have got; a range that is not known is none."""
    used = cores["grout_used_l"]
    return WrittenRange(cores["grout_used_low_l"].fillna(used), cores["grout_used_high_l"].fillna(used))


@rule(
    "grout-long",
    needs=["grout_used_l", "grout_most_l"],
    applies_to="reinstated",
    shows=["grout_judged_by", "grout_used_low_l", "grout_used_high_l", *_SIZES],
)
def grout_long(cores: pd.DataFrame, limits: GroutLongLimits) -> Findings:
    """Far more grout was used than the void holds, so there is probably a cavity beneath the road."""
    limit, sizes = limits.max_share * cores["grout_most_l"], size_shares(cores)
    long = above(_grout_used(cores), limit * sizes.high, limit * sizes.low)
    findings = find(
        cores[long.sure],
        "{grout_used_l:.1f vs limit_l} L of grout was used, but the kerf, pilot hole and bed hold at most "
        "{grout_most_l:.1f} L ({grout_judged_by:term}; limit {limit_l:.1f vs grout_used_l} L).",
        "Look for a cavity or undermining beside the core.",
        limit_l=limit,
    )
    return long.on(findings)


# by whether there was too much water, and whether it was for one bag
_WATER_RATIO_OFF: Final[dict[tuple[bool, ...], str]] = {
    (True, True): "Too much water: {water_l:.1f} L for {bags_used:g} bag is {water_ratio:.3f vs limit_l_per_kg} L/kg "
    "(limit {limit_l_per_kg:.3f vs water_ratio} L/kg); this weakens the grout.",
    (True, False): "Too much water: {water_l:.1f} L for {bags_used:g} bags is {water_ratio:.3f vs limit_l_per_kg} "
    "L/kg (limit {limit_l_per_kg:.3f vs water_ratio} L/kg); this weakens the grout.",
    (False, True): "Too little water: {water_l:.1f} L for {bags_used:g} bag is {water_ratio:.3f vs limit_l_per_kg} "
    "L/kg (minimum {limit_l_per_kg:.3f vs water_ratio} L/kg); the grout is too stiff to fill the kerf.",
    (False, False): "Too little water: {water_l:.1f} L for {bags_used:g} bags is {water_ratio:.3f vs limit_l_per_kg} "
    "L/kg (minimum {limit_l_per_kg:.3f vs water_ratio} L/kg); the grout is too stiff to fill the kerf.",
}


@rule(
    "water-ratio-off",
    needs=["water_ratio"],
    applies_to="reinstated",
    shows=["bags_used", "water_l", "water_ratio_low", "water_ratio_high"],
)
def water_ratio_off(cores: pd.DataFrame, limits: WaterLimits) -> Findings:
    """The grout was mixed with too much or too little water."""
    highest = limits.specified_ratio_l_per_kg * (1 + limits.tolerance)
    lowest = limits.specified_ratio_l_per_kg * (1 - limits.tolerance)
    ratio = cores["water_ratio"]
    written = WrittenRange(cores["water_ratio_low"].fillna(ratio), cores["water_ratio_high"].fillna(ratio))
    verdict = outside(written, lowest, highest)
    off = cores[verdict.sure]
    is_wet = ratio.gt(limits.specified_ratio_l_per_kg)
    wet, one_bag = is_wet[off.index], off["bags_used"].eq(1)
    ends = pd.DataFrame({"highest": highest, "lowest": lowest}, index=cores.index)
    findings = find(
        off,
        choose_by(_WATER_RATIO_OFF, wet, one_bag),
        for_authority(
            "Check the record; if it is right, check the core for hollow spots.",
            "The utility must check its record and, if that is right, the core for hollow spots.",
        ),
        limit_l_per_kg=ends["highest"].where(is_wet, ends["lowest"]),
    )
    return verdict.on(findings)


@rule("air-temperature-outside", needs=["air_temperature_c"], applies_to="reinstated", shows=["air_temperature_step_c"])
def air_temperature_outside(cores: pd.DataFrame, limits: TemperatureLimits) -> Findings:
    """The grout was poured in air too cold or too hot for it."""
    air, least, most = cores["air_temperature_c"].round(6), limits.min_temperature_c, limits.max_temperature_c
    verdict = outside(WrittenRange.of(air, cores["air_temperature_step_c"]), least, most)
    out = cores[verdict.sure]
    cold = air.lt(least)[out.index]
    findings = find(
        out,
        choose(
            cold,
            "Grout was poured at {air_temperature_c:.0f vs min_temperature_c} °C (minimum "
            "{min_temperature_c:.0f vs air_temperature_c} °C).",
            "Grout was poured at {air_temperature_c:.0f vs max_temperature_c} °C (maximum "
            "{max_temperature_c:.0f vs air_temperature_c} °C).",
        ),
        choose(
            cold,
            for_authority(
                "Ask whether the materials were warmed, and check the core for hollow spots.",
                "The utility must find out whether the materials were warmed, and check the core for hollow spots.",
            ),
            for_authority(
                "Ask whether the materials were cooled, and check the core for hollow spots.",
                "The utility must find out whether the materials were cooled, and check the core for hollow spots.",
            ),
        ),
        min_temperature_c=least,
        max_temperature_c=most,
    )
    return verdict.on(findings)


@rule("bedding-off", needs=["bedding_mm", "bedding_specified_mm"], applies_to="reinstated", shows=["bedding_step_mm"])
def bedding_off(cores: pd.DataFrame, limits: BeddingLimits) -> Findings:
    """The gravel bed is thinner or thicker than specified."""
    off = cores["bedding_mm"] - cores["bedding_specified_mm"]
    verdict = above(WrittenRange.of(off, cores["bedding_step_mm"]).size, limits.tolerance_mm)
    bed = cores.assign(off_mm=off.abs())[verdict.sure]
    findings = find(
        bed,
        choose(
            off[bed.index].lt(0),
            "The bed is {bedding_mm:g} mm thick, {off_mm:g} mm less than the "
            "{bedding_specified_mm:g} mm specified (tolerance {tolerance_mm:g} mm).",
            "The bed is {bedding_mm:g} mm thick, {off_mm:g} mm more than the "
            "{bedding_specified_mm:g} mm specified (tolerance {tolerance_mm:g} mm).",
        ),
        "Watch the core for settlement.",
        tolerance_mm=limits.tolerance_mm,
    )
    return verdict.on(findings)


@rule("flush-out-of-tolerance", needs=["flush_mm"], applies_to="reinstated", shows=["flush_step_mm"])
def flush_out_of_tolerance(cores: pd.DataFrame, limits: StepLimits) -> Findings:
    """The core is proud of the road, or low, by more than allowed."""
    verdict = above(WrittenRange.of(cores["flush_mm"], cores["flush_step_mm"]).size, limits.max_step_mm)
    uneven = cores.assign(step_mm=cores["flush_mm"].abs())[verdict.sure]
    findings = find(
        uneven,
        choose(
            uneven["flush_mm"].gt(0),
            "The core is {step_mm:g} mm proud of the road (limit {max_step_mm:g} mm): "
            "a trip hazard and a jolt to traffic.",
            "The core is {step_mm:g} mm below the road (limit {max_step_mm:g} mm): "
            "a trip hazard and a jolt to traffic.",
        ),
        AGREE_OR_RESET,
        max_step_mm=limits.max_step_mm,
    )
    return verdict.on(findings)


def _sunk(cores: pd.DataFrame, max_depression_mm: ByWidth) -> Verdict:
    """Whether the depression of each of N cores is above the limit for its width, both as they were written."""
    wide = WrittenRange.of(cores["hole_mm"], cores["diameter_step_mm"])
    ends = pd.concat([widths_limit(max_depression_mm, width) for width in (*wide, cores["hole_mm"])], axis="columns")
    depth = WrittenRange.of(cores["depression_mm"], cores["depression_step_mm"])
    return above(depth, ends.max(axis="columns"), ends.min(axis="columns"))


@rule(
    "surface-depression",
    needs=["depression_mm", "hole_mm"],
    applies_to="reinstated",
    shows=["depression_step_mm", "diameter_step_mm"],
)
def surface_depression(cores: pd.DataFrame, limits: DepressionLimits) -> Findings:
    """The reinstated surface has sunk by more than its width allows."""
    limit, sunk = widths_limit(limits.max_depression_mm, cores["hole_mm"]), _sunk(cores, limits.max_depression_mm)
    findings = find(
        cores[sunk.sure],
        "The surface has sunk {depression_mm:g} mm (limit {limit_mm:g} mm for a width of {hole_mm:.0f} mm).",
        AGREE_OR_RESET,
        limit_mm=limit,
    )
    return sunk.on(findings)


@rule(
    "depression-with-step",
    needs=["depression_mm", "flush_mm", "hole_mm"],
    applies_to="reinstated",
    shows=["depression_step_mm", "flush_step_mm", "diameter_step_mm"],
)
def depression_with_step(cores: pd.DataFrame, limits: CombinedLimits) -> Findings:
    """The surface has sunk and has a step at its edge: less of each is allowed where both occur."""
    step = WrittenRange.of(cores["flush_mm"], cores["flush_step_mm"]).size
    verdict = both(_sunk(cores, limits.max_depression_mm), above(step, limits.max_step_mm))
    findings = find(
        cores.assign(step_mm=cores["flush_mm"].abs())[verdict.sure],
        "The surface has sunk {depression_mm:g} mm and has a step of {step_mm:g} mm at "
        "its edge (limits where both occur: {limit_mm:g} mm and {max_step_mm:g} mm).",
        for_authority(
            "Ask the road authority whether it counts the two defects together.",
            "You can decide whether the two defects count together.",
        ),
        limit_mm=widths_limit(limits.max_depression_mm, cores["hole_mm"]),
        max_step_mm=limits.max_step_mm,
    )
    return verdict.on(findings)
