"""Rules on how certain the street, the surface and the district of a core are."""

from dataclasses import dataclass
from typing import Final

import pandas as pd

from pipeline.audit.findings import Findings, Remedies, choose, choose_by, find
from pipeline.audit.limits import Share
from pipeline.audit.registry import rule
from pipeline.audit.shared_remedies import NO_ACTION


@dataclass(frozen=True)
class ConfidenceLimits:
    """Least confidence that counts as certain."""

    min_confidence: Share


@dataclass(frozen=True)
class StreetNameLimits:
    """Least agreement of two names of the same street; confidence from which the position's street counts."""

    min_match: Share
    min_confidence: Share


# by whether the segment has a street name, whether there is a next likeliest segment, and whether that one has a name
_ROAD_UNCERTAIN: Final[dict[tuple[bool, ...], str]] = {
    (
        True,
        True,
        True,
    ): "Road segment uncertain: most likely {street_matched} ({segment_id}, "
    "{segment_confidence:.0% vs min_confidence}), possibly {runner_up_street} ({runner_up_id}, "
    "{runner_up_confidence:.0%}); at least {min_confidence:.0%} is required.",
    (
        True,
        True,
        False,
    ): "Road segment uncertain: most likely {street_matched} ({segment_id}, "
    "{segment_confidence:.0% vs min_confidence}), possibly an unnamed road ({runner_up_id}, "
    "{runner_up_confidence:.0%}); at least {min_confidence:.0%} is required.",
    (
        True,
        False,
        False,
    ): "Road segment uncertain: most likely {street_matched} ({segment_id}, "
    "{segment_confidence:.0% vs min_confidence}); at least {min_confidence:.0%} is required.",
    (
        False,
        True,
        True,
    ): "Road segment uncertain: most likely an unnamed road ({segment_id}, "
    "{segment_confidence:.0% vs min_confidence}), possibly {runner_up_street} ({runner_up_id}, "
    "{runner_up_confidence:.0%}); at least {min_confidence:.0%} is required.",
    (
        False,
        True,
        False,
    ): "Road segment uncertain: most likely an unnamed road ({segment_id}, "
    "{segment_confidence:.0% vs min_confidence}), possibly an unnamed road ({runner_up_id}, "
    "{runner_up_confidence:.0%}); at least {min_confidence:.0%} is required.",
    (
        False,
        False,
        False,
    ): "Road segment uncertain: most likely an unnamed road ({segment_id}, "
    "{segment_confidence:.0% vs min_confidence}); at least {min_confidence:.0%} is required.",
}


@rule(
    "road-uncertain",
    needs=["segment_confidence"],
    shows=["runner_up_confidence", "runner_up_id", "runner_up_street", "segment_id", "street_matched"],
)
def road_uncertain(cores: pd.DataFrame, limits: ConfidenceLimits) -> Findings:
    """It is uncertain which road segment the core is on."""
    unsure = cores[cores["segment_confidence"].lt(limits.min_confidence)]
    templates = choose_by(
        _ROAD_UNCERTAIN,
        unsure["street_matched"].notna(),
        unsure["runner_up_id"].notna(),
        unsure["runner_up_street"].notna(),
    )
    return find(
        unsure,
        templates,
        Remedies(
            if_open="Confirm the road segment before ordering or mixing grout.",
            if_reinstated="Confirm the road segment, and correct the record.",
            if_unknown="Confirm the road segment.",
        ),
        min_confidence=limits.min_confidence,
    )


@rule("street-differs", needs=["name_match", "segment_confidence"], shows=["street", "street_matched"])
def street_differs(cores: pd.DataFrame, limits: StreetNameLimits) -> Findings:
    """The street in the register differs from the street at the position."""
    other = cores["name_match"].lt(limits.min_match) & cores["segment_confidence"].ge(limits.min_confidence)
    return find(
        cores[other],
        'The register gives the street as "{street}", but the position is on {street_matched} '
        "(at least {min_confidence:.0%} certain).",
        "Correct the one that is wrong.",
        min_confidence=limits.min_confidence,
    )


@rule(
    "surface-uncertain",
    needs=["surface_confidence"],
    shows=["surface", "surface_edge_m", "surface_next", "surface_next_confidence"],
)
def surface_uncertain(cores: pd.DataFrame, limits: ConfidenceLimits) -> Findings:
    """It is uncertain which surface the core is in."""
    unsure = cores[cores["surface_confidence"].lt(limits.min_confidence)]
    return find(
        unsure,
        # without the edge of a polygon nearby, it is the segments that differ
        choose(
            unsure["surface_edge_m"].notna(),
            "Surface uncertain: most likely {surface:term} ({surface_confidence:.0% vs min_confidence}), possibly "
            "{surface_next:term} ({surface_next_confidence:.0%}), whose edge is {surface_edge_m:.1f} m away; "
            "at least {min_confidence:.0%} is required.",
            "Surface uncertain: most likely {surface:term} ({surface_confidence:.0% vs min_confidence}), possibly "
            "{surface_next:term} ({surface_next_confidence:.0%}), as the road segments within reach differ; "
            "at least {min_confidence:.0%} is required.",
        ),
        Remedies(
            if_open="Look at the road before choosing the shade.",
            if_reinstated="Look at the road, and check that the shade used matches it.",
            if_unknown="Look at the road, and record the surface.",
        ),
        min_confidence=limits.min_confidence,
    )


@rule(
    "district-uncertain",
    needs=["district_confidence"],
    shows=["district", "district_next", "district_next_confidence"],
)
def district_uncertain(cores: pd.DataFrame, limits: ConfidenceLimits) -> Findings:
    """The core is so near a boundary that its district is uncertain."""
    unsure = cores[cores["district_confidence"].lt(limits.min_confidence)]
    other = unsure["district_next"].notna() & unsure["district_next_confidence"].gt(0)
    return find(
        unsure.assign(outside=1 - unsure["district_confidence"]),
        choose(
            other,
            "District uncertain: most likely {district} ({district_confidence:.0% vs min_confidence}), possibly "
            "{district_next} ({district_next_confidence:.0%}); at least {min_confidence:.0%} is required.",
            "District uncertain: most likely {district} ({district_confidence:.0% vs min_confidence}), possibly "
            "outside every district ({outside:.0%}); at least {min_confidence:.0%} is required.",
        ),
        Remedies(
            if_open="Confirm which district the materials are for.",
            if_reinstated=NO_ACTION,
            if_unknown="Confirm the district if the core is still open.",
        ),
        min_confidence=limits.min_confidence,
    )
