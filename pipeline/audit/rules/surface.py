"""Rules on the surface, and on the shade of grout that it asks for."""

import pandas as pd

from pipeline.audit.findings import find
from pipeline.audit.registry import Limits, rule
from pipeline.contracts import is_missing


@rule("surface-unknown", family="surface", needs=["x_m", "surface"])
def surface_unknown(cores: pd.DataFrame, limits: Limits) -> pd.DataFrame:  # noqa: ARG001
    """Neither map nor register tells the surface."""
    return find(
        cores[cores["surface"].eq("unknown")],
        "Neither the map nor the register tells the surface: "
        "no shade can be picked and no need worked out. Look at the road.",
    )


@rule(
    "surface-differs",
    family="surface",
    needs=["surface_recorded_name", "surface_on_map"],
    shows=["surface_from", "surface_recorded"],
)
def surface_differs(cores: pd.DataFrame, limits: Limits) -> pd.DataFrame:  # noqa: ARG001
    """The register names another surface than the map."""
    return find(
        cores[cores["surface_recorded_name"].ne(cores["surface_on_map"])],
        "The register says {surface_recorded}, the map {surface_on_map} (by {surface_from}), which is used: "
        "look at the road.",
    )


@rule("surface-overlap", family="surface", needs=["x_m"], shows=["surface", "surface_others"])
def surface_overlap(cores: pd.DataFrame, limits: Limits) -> pd.DataFrame:  # noqa: ARG001
    """Polygons of different surfaces overlap at the core; the smallest serves."""
    return find(
        cores[cores["surface_others"].notna()],
        "The map shows {surface} and {surface_others} in the same place; the smaller polygon serves. Look at the road.",
    )


@rule("surface-not-allowed", family="surface", needs=["surface"], shows=["reinstatable"])
def surface_not_allowed(cores: pd.DataFrame, limits: Limits) -> pd.DataFrame:  # noqa: ARG001
    """The surface takes no core back."""
    barred = cores["surface"].ne("unknown") & ~cores["reinstatable"]
    return find(
        cores[barred],
        "On {surface} no core is bonded back: reinstate as the road authority specifies for it.",
    )


@rule(
    "shade-differs",
    family="surface",
    needs=["shade_used_name", "shade"],
    concerns="back",
    shows=["shade_used", "surface"],
)
def shade_differs(cores: pd.DataFrame, limits: Limits) -> pd.DataFrame:  # noqa: ARG001
    """The shade that was used is not the one the surface asks for."""
    return find(
        cores[cores["shade_used_name"].ne(cores["shade"])],
        "{shade_used} grout on {surface}, which asks for {shade}: "
        "it is the first thing an inspector sees. Agree a remedy.",
    )


@rule("shade-unreadable", family="surface", needs=["shade_used"], concerns="back", shows=["shade_used_name"])
def shade_unreadable(cores: pd.DataFrame, limits: Limits) -> pd.DataFrame:  # noqa: ARG001
    """The shade that was used cannot be told."""
    strange = cores["shade_used_name"].isna() & ~is_missing(cores["shade_used"])
    return find(
        cores[strange],
        "The shade used reads {shade_used}, which is none the catalogue knows: look at the core.",
    )
