"""Rules on the road around a core."""

import math

from tests.audit.rules.cases import Case

CASES = {
    # 300 mm from the rim of a hole of 457.2 mm is 528.6 mm from its centre
    "joint-near": Case(
        breach={"joint_m": 0.5285, "is_rigid": True},
        says="299.9 mm from the nearest slab joint or edge by the recorded position (minimum 300 mm). Measure on site, and ask the road authority before reinstating.",
        passes={"joint_m": 0.1, "is_rigid": False},
        on_limit={"joint_m": 0.5286, "is_rigid": True},
        missing={"joint_m": None},
    ),
    "segment-crowded": Case(
        breach={"segment_cores": 21.0, "segment_length_m": 200.0},
        says="10.5 cores per 100 m (limit 10) on segment S1: 21 on 200 m. Consider resurfacing the whole segment.",
        passes={"segment_cores": 10.0, "segment_length_m": 20.0},
        on_limit={"segment_cores": 20.0, "segment_length_m": 200.0},
        missing={"segment_cores": 21.0, "segment_length_m": None},
    ),
    # a hole of 457.2 mm is 0.164173 m2, and the limit is one part in 200
    "segment-cut-up": Case(
        breach={"segment_cores": 1.0, "segment_area_m2": 32.83},
        says="0.5001% of segment S1 has been cut (limit 0.5000%): 0.2 m² of 33 m². Consider resurfacing the whole segment.",
        passes={"segment_cores": 1.0, "segment_area_m2": 700.0},
        on_limit={"segment_cores": 1.0, "segment_area_m2": 200 * math.pi / 4 * 0.4572**2},
        missing={"segment_cores": 1.0, "segment_area_m2": None},
    ),
    "street-protected": Case(
        breach={"opened_on": "2026-09-09", "resurfaced_on": "2021-09-10", "resurfaced_known": "yes"},
        says="Cut on 2026-09-09 into a road that was resurfaced on 2021-09-10 and is protected until 2026-09-10. Keep the road authority's permission on file.",
        passes={"resurfaced_known": "yes"},
        on_limit={"opened_on": "2026-09-09", "resurfaced_on": "2021-09-09", "resurfaced_known": "yes"},
        missing={"resurfaced_known": None},
    ),
    "resurfacing-first": Case(
        breach={"resurfacing_due_on": "2026-10-10", "planned_on": "2026-10-10", "planned_works_known": "yes"},
        says="Resurfacing is due on 2026-10-10, but the core is not planned to be reinstated until 2026-10-10. Reinstate the core first, or the new surface will have to be cut.",
        passes={"resurfacing_due_on": "2026-10-11", "planned_on": "2026-10-10", "planned_works_known": "yes"},
        missing={"planned_works_known": None, "planned_on": "2026-10-10"},
    ),
    "resurfacing-follows": Case(
        breach={"resurfacing_due_on": "2027-04-10", "planned_on": "2026-10-10", "planned_works_known": "yes"},
        says="Reinstatement is planned for 2026-10-10, and the road is to be resurfaced from 2027-04-10. Agree with the road authority what may stay until then; the shade matters less.",
        passes={"resurfacing_due_on": "2027-04-11", "planned_on": "2026-10-10", "planned_works_known": "yes"},
        on_limit={"resurfacing_due_on": "2026-10-10", "planned_on": "2026-10-10", "planned_works_known": "yes"},
        missing={"planned_works_known": None, "planned_on": "2026-10-10"},
    ),
    "slope-steep": Case(
        breach={"slope_percent": -6.1},
        says="Slope of 6.1% (limit 6.0%): grout runs to the low side. Top up the high side before the grout is firm.",
        passes={"slope_percent": 0.5},
        on_limit={"slope_percent": 6.0},
        missing={"slope_percent": None},
    ),
}
