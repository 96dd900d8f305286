"""Rules on where a core lies: impossible positions, repaired positions, cores off the network or outside districts."""

import pandas as pd

from pipeline.audit.findings import Findings, choose, find
from pipeline.audit.registry import AuditContext, rule

_CORRECT = "Correct the coordinates in the register."


@rule("position-missing", shows=["position_problem"])
def position_missing(cores: pd.DataFrame) -> Findings:
    """No coordinates are recorded."""
    return find(
        cores[cores["position_problem"].eq("missing")],
        "No coordinates are recorded, so the core cannot be shown on the map.",
        "Take its position on site.",
    )


@rule("position-unreadable", needs=["x_text", "y_text"], shows=["position_problem"])
def position_unreadable(cores: pd.DataFrame) -> Findings:
    """The coordinates are not numbers."""
    return find(
        cores[cores["position_problem"].eq("unreadable")],
        'Coordinates "{x_text}", "{y_text}" are not numbers.',
        _CORRECT,
    )


@rule("position-zero", needs=["x_text", "y_text"], shows=["position_problem"], quotes_numbers=True)
def position_zero(cores: pd.DataFrame) -> Findings:
    """The coordinates are 0, 0: the device had no fix."""
    return find(
        cores[cores["position_problem"].eq("zero")],
        "The coordinates are 0, 0: the device had no fix.",
        "Take the position again on site.",
    )


@rule("position-out-of-range", needs=["x_text", "y_text"], shows=["position_problem"], quotes_numbers=True)
def position_out_of_range(cores: pd.DataFrame) -> Findings:
    """The coordinates are outside the range of the register's coordinate system."""
    return find(
        cores[cores["position_problem"].eq("out of range")],
        'Coordinates "{x_text}", "{y_text}" are outside the range of the register\'s coordinate system.',
        _CORRECT,
    )


@rule("position-projected", needs=["x_text", "y_text"], shows=["position_problem"], quotes_numbers=True)
def position_projected(cores: pd.DataFrame) -> Findings:
    """The coordinates are in metres or feet where degrees are expected."""
    return find(
        cores[cores["position_problem"].eq("projected")],
        'Coordinates "{x_text}", "{y_text}" are in metres or feet, but the register\'s columns are in degrees.',
        "Convert them to degrees in the register.",
    )


@rule("position-sign-lost", needs=["x_text", "y_text"], shows=["position_problem"], quotes_numbers=True)
def position_sign_lost(cores: pd.DataFrame) -> Findings:
    """A coordinate seems to have the wrong sign: with the other one the core would lie on the network."""
    return find(
        cores[cores["position_problem"].eq("sign lost")],
        'Coordinates "{x_text}", "{y_text}" would lie on the network if one sign were changed.',
        "Check them, and correct the sign in the register.",
    )


@rule("position-swapped", needs=["x_text", "y_text"], shows=["position_repair"], quotes_numbers=True)
def position_swapped(cores: pd.DataFrame) -> Findings:
    """The two coordinates were in each other's columns; they have been exchanged."""
    return find(
        cores[cores["position_repair"].eq("swapped")],
        'Coordinates "{x_text}", "{y_text}" were in each other\'s columns and have been exchanged.',
        "Confirm the position, and correct the register.",
    )


@rule("position-decimal-comma", needs=["x_text", "y_text"], shows=["position_repair"], quotes_numbers=True)
def position_decimal_comma(cores: pd.DataFrame) -> Findings:
    """The coordinates are written with decimal commas or grouped digits; they were read as numbers."""
    return find(
        cores[cores["position_repair"].eq("decimal comma")],
        'Coordinates "{x_text}", "{y_text}" were read with the comma as the decimal mark.',
        "No action needed if that is right.",
    )


@rule("position-dms", needs=["x_text", "y_text"], shows=["position_repair"], quotes_numbers=True)
def position_dms(cores: pd.DataFrame) -> Findings:
    """The coordinates are written in degrees, minutes and seconds; they were converted."""
    return find(
        cores[cores["position_repair"].eq("dms")],
        'Coordinates "{x_text}", "{y_text}" were converted to decimal degrees.',
        "No action needed.",
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
        reach_m=context.reach_m,
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
