"""Rules on how sure we are: which street, which surface, which district."""

import pandas as pd

from pipeline.audit.findings import find
from pipeline.audit.registry import Limits, rule


@rule(
    "road-uncertain",
    family="sureness",
    needs=["segment_confidence"],
    limits={"limit": "%"},
    shows=["runner_up_confidence", "runner_up_id", "runner_up_street", "segment_id", "street_matched"],
)
def road_uncertain(cores: pd.DataFrame, limits: Limits) -> pd.DataFrame:
    """Which road segment the core is on is not sure."""
    unsure = cores[cores["segment_confidence"].lt(limits.limit)].fillna(
        {"street_matched": "no name", "runner_up_street": "no name"}
    )
    return find(
        unsure,
        "On {street_matched} ({segment_id}) with {segment_confidence:.0%}, on {runner_up_street} ({runner_up_id}) with "
        "{runner_up_confidence:.0%}: settle the street before anything is mixed.",
    )


@rule(
    "street-differs",
    family="sureness",
    needs=["name_match", "segment_confidence"],
    limits={"limit": "%", "sure": "%"},
    shows=["street", "street_matched"],
)
def street_differs(cores: pd.DataFrame, limits: Limits) -> pd.DataFrame:
    """The register names another street than the one the position is sure of."""
    other = cores["name_match"].lt(limits.limit) & cores["segment_confidence"].ge(limits.sure)
    return find(
        cores[other],
        "The register says {street}, the position {street_matched} ({segment_confidence:.0%} sure): "
        "correct the one that is wrong.",
    )


@rule(
    "surface-uncertain",
    family="sureness",
    needs=["surface_confidence"],
    limits={"limit": "%"},
    shows=["surface", "surface_edge_m", "surface_next", "surface_next_confidence"],
)
def surface_uncertain(cores: pd.DataFrame, limits: Limits) -> pd.DataFrame:
    """Which surface the core is in is not sure."""
    unsure = cores[cores["surface_confidence"].lt(limits.limit)]
    at_edge = unsure["surface_edge_m"].notna()
    sentence = "{surface} with {surface_confidence:.0%}, {surface_next} with {surface_next_confidence:.0%}"
    # without a polygon's edge near, it is the segments that do not agree
    return pd.concat(
        [
            find(
                unsure[at_edge], sentence + ", the edge {surface_edge_m:.1f} m away: look before the shade is picked."
            ),
            find(unsure[~at_edge], sentence + ", by the segments within reach: look before picking a shade."),
        ]
    )


@rule(
    "district-uncertain",
    family="sureness",
    needs=["district_confidence"],
    limits={"limit": "%"},
    shows=["district", "district_next", "district_next_confidence"],
)
def district_uncertain(cores: pd.DataFrame, limits: Limits) -> pd.DataFrame:
    """The core is so near a boundary that its district is not sure."""
    unsure = cores[cores["district_confidence"].lt(limits.limit)].fillna(
        {"district_next": "outside all districts", "district_next_confidence": 0.0}
    )
    outside = unsure["district_next_confidence"].eq(0)
    unsure["district_next_confidence"] = unsure["district_next_confidence"].mask(
        outside, 1 - unsure["district_confidence"]
    )
    return find(
        unsure,
        "Near the boundary: {district} with {district_confidence:.0%}, "
        "{district_next} with {district_next_confidence:.0%}.",
    )
