"""Rules on how certain street, surface and district are."""

from tests.audit.rules.cases import Case

CASES = {
    "road-uncertain": Case(
        breach={
            "segment_confidence": 0.79,
            "runner_up_id": "S2",
            "runner_up_street": "Back Lane",
            "runner_up_confidence": 0.21,
        },
        says="Street uncertain: probably Quay (S1, 79%), possibly Back Lane (S2, 21%); at least 80% is required. Confirm the street before ordering or mixing grout.",
        passes={"segment_confidence": 0.99},
        on_limit={"segment_confidence": 0.8},
        missing={"segment_confidence": None},
    ),
    "street-differs": Case(
        breach={"name_match": 0.1, "street": "Mill Road", "street_matched": "Quay", "segment_confidence": 0.99},
        says='The register gives the street as "Mill Road", but the position is on Quay (99% certain). Correct the one that is wrong.',
        passes={"name_match": 0.1, "segment_confidence": 0.9},
        on_limit={"name_match": 0.5},
        missing={"name_match": None},
    ),
    "surface-uncertain": Case(
        breach={
            "surface_confidence": 0.7,
            "surface_next": "concrete",
            "surface_next_confidence": 0.3,
            "surface_edge_m": 1.0,
        },
        says="Surface uncertain: probably asphalt (70%), possibly concrete (30%), whose edge is 1.0 m away; at least 80% is required. Look at the road before choosing the shade.",
        passes={"surface_confidence": 0.9},
        on_limit={"surface_confidence": 0.8},
        missing={"surface_confidence": None},
    ),
    "district-uncertain": Case(
        breach={"district_confidence": 0.7, "district_next": "West", "district_next_confidence": 0.3},
        says="District uncertain: probably Mill Bank (70%), possibly West (30%); at least 80% is required. Confirm which district the materials are for.",
        passes={"district_confidence": 0.9},
        on_limit={"district_confidence": 0.8},
        missing={"district_confidence": None},
    ),
}
