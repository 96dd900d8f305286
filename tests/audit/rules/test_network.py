"""Rules on the road around a core."""

import math
from dataclasses import replace

import pytest

from pipeline.audit import audit
from tests.audit.frames import AS_OF, REINSTATED, SOUND, frame
from tests.audit.rules.cases import Case, bound_rule, sentence

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


@pytest.mark.parametrize(
    ("state", "remedy"),
    [
        ({}, "Measure on site, and ask the road authority before reinstating."),
        (REINSTATED, "Measure on site, and ask the road authority whether the core may stay."),
        ({"is_open": False, "reinstated_at_problem": "unreadable"}, "Measure on site, and ask the road authority."),
    ],
)
def test_what_to_do_near_a_joint_follows_from_the_state_of_the_core(state, remedy):
    assert sentence("joint-near", {**CASES["joint-near"].breach, **state}).endswith(f"(minimum 300 mm). {remedy}")


def test_a_core_over_a_joint_is_a_negative_distance_from_it():
    # the joint runs 100 mm from the centre of a hole of 457.2 mm: 128.6 mm inside its rim
    assert sentence("joint-near", {"joint_m": 0.1, "is_rigid": True}).startswith("-129 mm from the nearest slab joint")


@pytest.mark.parametrize(
    ("count", "length_m", "said"),
    [
        (21.0, 200.0, "10.5 cores per 100 m (limit 10) on segment S1: 21 on 200 m."),
        (1001.0, 10000.0, "10.01 cores per 100 m (limit 10) on segment S1: 1,001 on 10,000 m."),
        (12.0, 40.0, "12.0 cores per 100 m (limit 10) on segment S1: 12 on 40 m."),
    ],
)
def test_cores_are_counted_per_100_m_and_a_stub_counts_as_100_m(count, length_m, said):
    assert sentence("segment-crowded", {"segment_cores": count, "segment_length_m": length_m}).startswith(said)


def test_the_area_that_was_cut_is_added_up_over_the_segment_and_a_copy_adds_nothing():
    """Two holes of 1 m are 1.570796 m2 of 200 m2, 0.79 %; with the copy left out of three rows."""
    cells = {**SOUND, "hole_mm": 1000.0, "segment_cores": 2.0, "segment_area_m2": 200.0}
    cores = frame(cells, {**cells, "core_id": "A-2"}, {**cells, "core_id": "A-2", "is_copy": True})
    values = audit(cores, [bound_rule("segment-cut-up")], AS_OF, 15.0).wordings["segment-cut-up"].values
    assert values["cut_m2"].tolist() == pytest.approx([math.pi / 2] * 3)
    assert values["share"].tolist() == pytest.approx([math.pi / 400] * 3)


def test_a_road_resurfaced_on_29_february_is_protected_until_the_28th():
    cells = {"opened_on": "2026-09-09", "resurfaced_on": "2024-02-29", "resurfaced_known": "yes"}
    assert "is protected until 2029-02-28." in sentence("street-protected", cells)


@pytest.mark.parametrize(("due", "slug"), [("2026-10-10", "resurfacing-first"), ("2026-10-11", "resurfacing-follows")])
def test_a_resurfacing_comes_first_or_follows_but_not_both(due, slug):
    cells = {"resurfacing_due_on": due, "planned_on": "2026-10-10", "planned_works_known": "yes"}
    found = [one for one in ("resurfacing-first", "resurfacing-follows") if sentence(one, cells)]
    assert found == [slug]


@pytest.mark.parametrize(
    ("percent", "said"), [(8.0, "8% (limit 6%)"), (-8.0, "8% (limit 6%)"), (6.04, "6.04% (limit 6.00%)")]
)
def test_a_slope_counts_up_and_down(percent, said):
    assert sentence("slope-steep", {"slope_percent": percent}).startswith(f"Slope of {said}: grout runs")


def test_a_core_cut_while_the_road_authority_protected_the_street_is_found_by_its_own_day():
    cells = {"opened_on": "2026-09-09", "protected_until": "2029-05-01", "resurfaced_known": "yes"}
    assert sentence("street-protected", cells).startswith(
        "Cut on 2026-09-09 into a protected street: protection ends on 2029-05-01."
    )


@pytest.mark.parametrize("percent", [14.5, 13.7, 7.65])
def test_a_slope_on_the_limit_is_within_it(percent):
    bound = bound_rule("slope-steep")
    settings = [(setting, percent / 100) for setting, _ in bound.settings]
    cores = frame(
        *({**SOUND, "core_id": name, "slope_percent": one} for name, one in (("A", percent), ("B", percent + 0.01)))
    )
    found = audit(cores, [replace(bound, settings=settings)], AS_OF, 15.0)
    assert found.findings["core_id"].tolist() == ["B"]
