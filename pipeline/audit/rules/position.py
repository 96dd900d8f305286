"""Rules on where a core lies: positions that cannot be, positions repaired, cores off the network or the districts."""

import pandas as pd

from pipeline.audit.findings import find
from pipeline.audit.registry import Limits, rule


def _with_problem(cores: pd.DataFrame, problem: str, sentence: str) -> pd.DataFrame:
    return find(cores[cores["position_problem"].eq(problem)], sentence)


def _with_repair(cores: pd.DataFrame, repair: str, sentence: str) -> pd.DataFrame:
    return find(cores[cores["position_repair"].eq(repair)], sentence)


@rule("position-missing", family="position", shows=["position_problem"])
def position_missing(cores: pd.DataFrame, limits: Limits) -> pd.DataFrame:  # noqa: ARG001
    """The row has no coordinates."""
    return _with_problem(
        cores, "missing", "No coordinates: the core cannot be put on the map. Take its position on site."
    )


@rule("position-unreadable", family="position", needs=["x_text", "y_text"], shows=["position_problem"])
def position_unreadable(cores: pd.DataFrame, limits: Limits) -> pd.DataFrame:  # noqa: ARG001
    """The coordinates cannot be read."""
    return _with_problem(
        cores, "unreadable", "The coordinates read {x_text}, {y_text}, which are no numbers: correct them."
    )


@rule("position-zero", family="position", needs=["x_text", "y_text"], shows=["position_problem"], quotes_numbers=True)
def position_zero(cores: pd.DataFrame, limits: Limits) -> pd.DataFrame:  # noqa: ARG001
    """The coordinates are 0, 0: the device had no fix."""
    return _with_problem(cores, "zero", "The coordinates are 0, 0: the device had no fix. Take the position again.")


@rule(
    "position-out-of-range",
    family="position",
    needs=["x_text", "y_text"],
    shows=["position_problem"],
    quotes_numbers=True,
)
def position_out_of_range(cores: pd.DataFrame, limits: Limits) -> pd.DataFrame:  # noqa: ARG001
    """The coordinates lie outside what their CRS allows."""
    return _with_problem(
        cores,
        "out of range",
        "The coordinates {x_text}, {y_text} lie nowhere on earth in the register's CRS: correct them.",
    )


@rule(
    "position-projected", family="position", needs=["x_text", "y_text"], shows=["position_problem"], quotes_numbers=True
)
def position_projected(cores: pd.DataFrame, limits: Limits) -> pd.DataFrame:  # noqa: ARG001
    """Projected coordinates stand in columns of degrees."""
    return _with_problem(
        cores,
        "projected",
        "The coordinates {x_text}, {y_text} are metres or feet in columns of degrees: convert them.",
    )


@rule(
    "position-sign-lost", family="position", needs=["x_text", "y_text"], shows=["position_problem"], quotes_numbers=True
)
def position_sign_lost(cores: pd.DataFrame, limits: Limits) -> pd.DataFrame:  # noqa: ARG001
    """A coordinate lies on the other side of the meridian or the equator: its sign was lost."""
    return _with_problem(
        cores,
        "sign lost",
        "With its sign changed, {x_text}, {y_text} would lie on the network: check, and restore the sign.",
    )


@rule("position-swapped", family="position", needs=["x_text", "y_text"], shows=["position_repair"], quotes_numbers=True)
def position_swapped(cores: pd.DataFrame, limits: Limits) -> pd.DataFrame:  # noqa: ARG001
    """The two coordinates were in each other's columns; put right."""
    return _with_repair(
        cores,
        "swapped",
        "The coordinates {x_text}, {y_text} were in each other's columns and have been exchanged: confirm it.",
    )


@rule(
    "position-decimal-comma",
    family="position",
    needs=["x_text", "y_text"],
    shows=["position_repair"],
    quotes_numbers=True,
)
def position_decimal_comma(cores: pd.DataFrame, limits: Limits) -> pd.DataFrame:  # noqa: ARG001
    """The coordinates were written with decimal commas or grouped digits; read as numbers."""
    return _with_repair(
        cores,
        "decimal comma",
        "The coordinates {x_text}, {y_text} were read with their comma as the decimal mark.",
    )


@rule("position-dms", family="position", needs=["x_text", "y_text"], shows=["position_repair"], quotes_numbers=True)
def position_dms(cores: pd.DataFrame, limits: Limits) -> pd.DataFrame:  # noqa: ARG001
    """The coordinates were written in degrees, minutes and seconds; converted."""
    return _with_repair(cores, "dms", "The coordinates {x_text}, {y_text} were converted to decimal degrees.")


@rule("off-network", family="position", needs=["x_m"], shows=["nearest_id", "nearest_m", "segment_id"])
def off_network(cores: pd.DataFrame, limits: Limits) -> pd.DataFrame:
    """No road segment lies within reach."""
    return find(
        cores[cores["segment_id"].isna()],
        "No road segment within {reach:g} m: the nearest, {nearest_id}, is {nearest_m:.1f} m away. "
        "Check the position, or the road layer.",
        reach=limits.reach_m,
    )


@rule("district-gap", family="position", needs=["district_how"], shows=["district", "district_distance_m"])
def district_gap(cores: pd.DataFrame, limits: Limits) -> pd.DataFrame:  # noqa: ARG001
    """The core lies between districts; the nearest serves."""
    return find(
        cores[cores["district_how"].eq("gap")],
        "In no district: {district}, {district_distance_m:.1f} m away, serves. "
        "Check the core, or close the gap in the layer.",
    )


@rule("district-outside", family="position", needs=["district_how"], shows=["district_distance_m"])
def district_outside(cores: pd.DataFrame, limits: Limits) -> pd.DataFrame:  # noqa: ARG001
    """The core lies outside all districts."""
    return find(
        cores[cores["district_how"].eq("outside")],
        "Outside all districts: the nearest is {district_distance_m:.0f} m away. "
        "Check whether the core belongs to the programme.",
    )


@rule("district-overlap", family="position", needs=["district_how"], shows=["district", "district_others"])
def district_overlap(cores: pd.DataFrame, limits: Limits) -> pd.DataFrame:  # noqa: ARG001
    """The core lies in several districts; the first by name serves."""
    return find(
        cores[cores["district_how"].eq("several")],
        "In {district} and also in {district_others}: the first serves. Correct the boundaries.",
    )
