"""Rules on the surface, and on the shade of grout that it takes."""

import pandas as pd

from pipeline.audit.findings import Findings, Remedies, choose, find
from pipeline.audit.for_authority import for_authority
from pipeline.audit.registry import rule
from pipeline.audit.shared_remedies import AGREE_OR_RESET, UNSURE_WHETHER_REUSED
from pipeline.contracts import is_missing


@rule("surface-unknown", needs=["x_m", "surface"])
def surface_unknown(cores: pd.DataFrame) -> Findings:
    """Neither the map nor the register gives the surface."""
    return find(
        cores[cores["surface"].eq("unknown")],
        "Neither the map nor the register gives the surface.",
        Remedies(
            if_open="Look at the road: without the surface no shade can be chosen and no materials ordered.",
            if_reinstated="Look at the road and record the surface: without it the shade used cannot be checked.",
            if_unknown="Look at the road and record the surface.",
        ),
    )


@rule(
    "surface-differs",
    needs=["surface_recorded_name", "surface_on_map"],
    shows=["surface_from", "surface_recorded", "surface"],
)
def surface_differs(cores: pd.DataFrame) -> Findings:
    """The surface in the register differs from the map."""
    # where the register is followed, it names a kind of what the map has
    is_other = cores["surface_recorded_name"].ne(cores["surface_on_map"])
    other = cores[is_other & cores["surface_recorded_name"].ne(cores["surface"])]
    return find(
        other,
        choose(
            other["surface_from"].eq("polygon"),
            'The register gives the surface as "{surface_recorded}", the surface layer as {surface_on_map:term}; '
            "the layer is used.",
            'The register gives the surface as "{surface_recorded}", the road layer as {surface_on_map:term}; '
            "the layer is used.",
        ),
        "Look at the road, and correct the one that is wrong.",
    )


@rule("surface-overlap", needs=["x_m"], shows=["surface", "surface_others"])
def surface_overlap(cores: pd.DataFrame) -> Findings:
    """Polygons of different surfaces overlap at the core; the smallest is used."""
    return find(
        cores[cores["surface_others"].notna()],
        "The surface layer shows both {surface:term} and {surface_others:term} here; the smaller polygon, "
        "{surface:term}, is used.",
        "Look at the road, and correct the surface layer.",
    )


@rule("surface-not-allowed", needs=["surface"], shows=["reinstatable"])
def surface_not_allowed(cores: pd.DataFrame) -> Findings:
    """The surface is not suitable for core reinstatement."""
    return find(
        cores[cores["surface"].ne("unknown") & ~cores["reinstatable"]],
        "The surface, {surface:term}, is not suitable for core reinstatement.",
        Remedies(
            if_open=for_authority(
                "Do not reuse the core: reinstate as the road authority specifies for this surface.",
                "The utility must not reuse the core, and must reinstate as you specify for this surface.",
            ),
            if_reinstated=for_authority(
                "If the surface is right, agree the remedy with the road authority; lift by machine.",
                "If the surface is right, the utility must agree the remedy with you.",
            ),
            if_unknown=UNSURE_WHETHER_REUSED,
        ),
    )


@rule(
    "shade-differs",
    needs=["shade_used_name", "shade"],
    applies_to="reinstated",
    shows=["shade_used", "surface"],
)
def shade_differs(cores: pd.DataFrame) -> Findings:
    """The shade of grout used is not the one specified for the surface."""
    return find(
        cores[cores["shade_used_name"].ne(cores["shade"])],
        'Shade "{shade_used}" was used on {surface:term}; the shade specified is {shade:term}.',
        AGREE_OR_RESET,
    )


@rule("shade-unreadable", needs=["shade_used"], applies_to="reinstated", shows=["shade_used_name"])
def shade_unreadable(cores: pd.DataFrame) -> Findings:
    """The shade of grout used is not in the catalogue."""
    strange = cores["shade_used_name"].isna() & ~is_missing(cores["shade_used"])
    return find(
        cores[strange],
        'Shade "{shade_used}" is not in the catalogue.',
        "Look at the core, and correct the register.",
    )
