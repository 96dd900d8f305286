"""Rules on where a core lies: impossible positions, repaired positions, cores off the network or outside districts."""

from dataclasses import dataclass

import numpy as np
import pandas as pd

from pipeline.audit.findings import Findings, Remedies, choose, find
from pipeline.audit.for_authority import for_authority
from pipeline.audit.limits import Metres
from pipeline.audit.registry import AuditContext, rule
from pipeline.audit.shared_remedies import NO_ACTION

_CORRECT = "Correct the coordinates in the register."
_MEASURE = for_authority(
    "Measure its position on site, and correct the register.",
    "The utility must measure the core's position on site, and correct the register.",
)


@dataclass(frozen=True)
class RoundingLimits:
    """How far the last digit of a coordinate may reach."""

    max_step_m: Metres


def _written(cores: pd.DataFrame, in_two: str, in_one: str) -> pd.Series:
    """Return the template for two cells with one coordinate each, or for one cell with both."""
    two, one = 'Coordinates "{x_text}", "{y_text}"', 'Position "{x_text}"'
    return choose(cores["y_text"].notna(), f"{two} {in_two}", f"{one} {in_one}")


@rule("position-missing", shows=["position_problem"])
def position_missing(cores: pd.DataFrame) -> Findings:
    """No coordinates are recorded."""
    return find(
        cores[cores["position_problem"].eq("missing")],
        "No coordinates are recorded, so the core cannot be shown on the map.",
        for_authority("Measure its position on site.", "The utility must measure the core's position on site."),
    )


@rule("position-unreadable", needs=["x_text"], shows=["y_text", "position_problem"])
def position_unreadable(cores: pd.DataFrame) -> Findings:
    """The coordinates are not numbers."""
    found = cores[cores["position_problem"].isin(["unreadable", "grid letters"])]
    has_grid = found["position_problem"].eq("grid letters")
    return find(
        found,
        choose(
            has_grid,
            'Position "{x_text}" is a grid reference with letters, which is not read.',
            _written(found, "are not numbers.", "cannot be read."),
        ),
        choose(has_grid, "Write it as easting and northing in the register.", _CORRECT),
    )


@rule("position-zero", needs=["x_text"], shows=["y_text", "position_problem"], quotes_numbers=True)
def position_zero(cores: pd.DataFrame) -> Findings:
    """The coordinates are 0, 0: the device had no fix."""
    return find(
        cores[cores["position_problem"].eq("zero")],
        "The coordinates are 0, 0: the device had no fix.",
        "Take the position again on site.",
    )


@rule("position-out-of-range", needs=["x_text"], shows=["y_text", "position_problem"], quotes_numbers=True)
def position_out_of_range(cores: pd.DataFrame) -> Findings:
    """The coordinates are outside the range of the register's coordinate system."""
    found = cores[cores["position_problem"].eq("out of range")]
    beyond = "outside the range of the register's coordinate system."
    return find(found, _written(found, f"are {beyond}", f"is {beyond}"), _CORRECT)


@rule("position-projected", needs=["x_text"], shows=["y_text", "position_problem"], quotes_numbers=True)
def position_projected(cores: pd.DataFrame) -> Findings:
    """The coordinates are in metres or feet where degrees are expected."""
    found = cores[cores["position_problem"].eq("projected")]
    return find(
        found,
        _written(
            found,
            "are in metres or feet, but the register's columns are in degrees.",
            "is in metres or feet, but the register's column is in degrees.",
        ),
        "Convert them to degrees in the register.",
    )


@rule("position-sign-lost", needs=["x_text"], shows=["y_text", "position_problem"], quotes_numbers=True)
def position_sign_lost(cores: pd.DataFrame) -> Findings:
    """A coordinate seems to have the wrong sign: with the other one the core would lie on the network."""
    found = cores[cores["position_problem"].eq("sign lost")]
    would = "would lie on the network if one sign were changed."
    return find(found, _written(found, would, would), "Check them, and correct the sign in the register.")


@rule("position-swapped", needs=["x_text"], shows=["y_text", "position_repair"], quotes_numbers=True)
def position_swapped(cores: pd.DataFrame) -> Findings:
    """The two coordinates were in the wrong order; they have been swapped."""
    found = cores[cores["position_repair"].eq("swapped")]
    return find(
        found,
        _written(
            found,
            "were in each other's columns and have been swapped.",
            "has its coordinates in the opposite order to the rest of the register; they have been swapped.",
        ),
        "Confirm the position, and correct the register.",
    )


@rule("position-decimal-comma", needs=["x_text"], shows=["y_text", "position_repair"], quotes_numbers=True)
def position_decimal_comma(cores: pd.DataFrame) -> Findings:
    """The coordinates are written with decimal commas or grouped digits; they were read as numbers."""
    found = cores[cores["position_repair"].isin(["decimal comma", "grouped digits"])]
    comma, groups = "read with the comma as the decimal mark.", "read with the digits in groups of three."
    return find(
        found,
        choose(
            found["position_repair"].eq("decimal comma"),
            _written(found, f"were {comma}", f"was {comma}"),
            _written(found, f"were {groups}", f"was {groups}"),
        ),
        for_authority("No action needed if that is right.", "The utility must correct the register if that is wrong."),
    )


@rule("position-dms", needs=["x_text"], shows=["y_text", "position_repair"], quotes_numbers=True)
def position_dms(cores: pd.DataFrame) -> Findings:
    """The coordinates are written in degrees, minutes and seconds; they were converted."""
    found = cores[cores["position_repair"].eq("dms")]
    converted = "converted to decimal degrees."
    return find(found, _written(found, f"were {converted}", f"was {converted}"), NO_ACTION)


@rule("position-rounded", needs=["x_text", "position_step_m"], shows=["y_text"], quotes_numbers=True)
def position_rounded(cores: pd.DataFrame, limits: RoundingLimits) -> Findings:
    """The coordinates have too few digits to tell where in the street the core lies."""
    found = cores[cores["position_step_m"].gt(limits.max_step_m)]
    # two figures say enough, unless they hide that the limit is exceeded
    digits = -np.floor(np.log10(found["position_step_m"])) + 1
    step_m = (found["position_step_m"] * 10.0**digits).round() / 10.0**digits
    rounded = "only written to the nearest {step_m:.0f vs max_step_m} m (limit {max_step_m:g} m)."
    return find(
        found,
        _written(found, f"are {rounded}", f"is {rounded}"),
        Remedies(
            if_open=for_authority(
                "Measure its position on site before the core is reinstated.",
                "The utility must measure the core's position on site before it reinstates the core.",
            ),
            if_reinstated=_MEASURE,
            if_unknown=_MEASURE,
        ),
        step_m=step_m.where(step_m.gt(limits.max_step_m), found["position_step_m"]),
        max_step_m=limits.max_step_m,
    )


@rule("off-network", needs=["x_m"], shows=["nearest_id", "nearest_m", "segment_id"])
def off_network(cores: pd.DataFrame, context: AuditContext) -> Findings:
    """No road segment is within reach."""
    off = cores[cores["segment_id"].isna()]
    return find(
        off,
        choose(
            off["nearest_m"].notna(),
            "No road segment within {reach_m:g} m; the nearest, {nearest_id}, is {nearest_m:.1f vs reach_m} m away.",
            "No road segment within {reach_m:g} m.",
        ),
        "Check the position and the road layer.",
        reach_m=context.reach_m if isinstance(context.reach_m, float) else context.reach_m[off.index],
    )


@rule("district-gap", needs=["district_how"], shows=["district", "district_distance_m"])
def district_gap(cores: pd.DataFrame) -> Findings:
    """The core lies in a gap between districts; it is assigned to the nearest."""
    return find(
        cores[cores["district_how"].eq("gap")],
        "Outside every district; assigned to the nearest, {district}, {district_distance_m:.1f} m away.",
        "Check the position, or close the gap in the district layer.",
    )


@rule("district-outside", needs=["district_how"], shows=["district_distance_m"])
def district_outside(cores: pd.DataFrame) -> Findings:
    """The core lies outside every district."""
    return find(
        cores[cores["district_how"].eq("outside")],
        "Outside every district; the nearest is {district_distance_m:.0f} m away.",
        "Check whether the core belongs to this programme.",
    )


@rule("district-overlap", needs=["district_how"], shows=["district", "district_others"])
def district_overlap(cores: pd.DataFrame) -> Findings:
    """The core lies in several districts; it is assigned to the first by name."""
    return find(
        cores[cores["district_how"].eq("several")],
        "In {district} and also in {district_others}; assigned to {district}.",
        "Correct the boundaries in the district layer.",
    )
