"""Every rule: a core that breaches it, one that passes, one on the limit, one that it cannot assess."""

import datetime as dt
import math

import pytest

from pipeline.audit import audit, bind_rules
from pipeline.audit.registry import RULES
from pipeline.programme.catalogue import load_catalogue
from tests.audit.frames import AS_OF, BACK, OTHER, SOUND, frame

_RULES = bind_rules(load_catalogue({}, "test"), "test")


def _one(change, other=None):
    cells = dict(change)
    third = cells.pop("third", None)
    further = [] if third is None else [{**OTHER, "core_id": "A-3", "x_m": third}]
    return frame({**SOUND, **cells}, {**OTHER, **(other or {})}, *further)


def _opened(days):
    return (AS_OF - dt.timedelta(days=days)).isoformat()


# put back on concrete long ago
_OLD = {"opened_on": "2024-10-01", "is_open": False, "inspection_known": "no"}


def _back(**cells):
    return {**BACK, **cells}


# slug: what breaches it, what passes, what lies exactly on the limit and passes, what it cannot assess;
# None where a rule has no limit, or can always be assessed
CASES = {
    "id-missing": ({"core_id": None}, {}, None, None),
    "id-duplicated": ({"core_id": "a - 2"}, {"core_id": "A-3"}, None, {"core_id": None}),
    "row-duplicated": ({"same_row": 1}, {"same_row": 0}, None, None),
    "row-ragged": ({"ragged": "9 fields where the header has 8"}, {}, None, None),
    "position-missing": ({"position_problem": "missing", "x_m": None}, {"position_problem": "zero"}, None, None),
    "position-unreadable": ({"position_problem": "unreadable"}, {"position_problem": "missing"}, None, {"x_text": None}),
    "position-zero": ({"position_problem": "zero"}, {"position_problem": "missing"}, None, {"x_text": None}),
    "position-out-of-range": ({"position_problem": "out of range"}, {"position_problem": "missing"}, None, {"x_text": None}),
    "position-projected": ({"position_problem": "projected"}, {"position_problem": "missing"}, None, {"x_text": None}),
    "position-sign-lost": ({"position_problem": "sign lost"}, {"position_problem": "missing"}, None, {"x_text": None}),
    "position-swapped": ({"position_repair": "swapped"}, {"position_repair": "dms"}, None, {"x_text": None}),
    "position-decimal-comma": ({"position_repair": "decimal comma"}, {"position_repair": "dms"}, None, {"x_text": None}),
    "position-dms": ({"position_repair": "dms"}, {"position_repair": "swapped"}, None, {"x_text": None}),
    "off-network": ({"segment_id": None, "nearest_id": "S1", "nearest_m": 15.2}, {}, None, {"x_m": None}),
    "district-gap": ({"district_how": "gap", "district_distance_m": 3.0}, {}, None, {"district_how": None}),
    "district-outside": ({"district_how": "outside", "district_distance_m": 80.0}, {}, None, {"district_how": None}),
    "district-overlap": ({"district_how": "several", "district_others": "West"}, {}, None, {"district_how": None}),
    "diameter-missing": ({"diameter_mm": None}, {"diameter_mm": None, "diameter_mm_problem": "unreadable"}, None, None),
    "diameter-unreadable": ({"diameter_mm_problem": "no unit", "diameter_mm_text": "18"}, {"diameter_mm": None}, None, {"diameter_mm_text": None}),
    "diameter-implausible": ({"diameter_mm": 1000.5}, {"diameter_mm": 600.0}, {"diameter_mm": 1000.0}, {"diameter_mm": None}),
    "depth-missing": ({"depth_mm": None}, {"depth_mm": None, "depth_mm_problem": "unreadable"}, None, None),
    "depth-unreadable": ({"depth_mm_problem": "unreadable", "depth_mm_text": "deep"}, {"depth_mm": None}, None, {"depth_mm_text": None}),
    "depth-implausible": ({"depth_mm": 24.9}, {"depth_mm": 300.0}, {"depth_mm": 25.0}, {"depth_mm": None}),
    "pavement-thin": (
        {"depth_mm": 99.9, "depth_believed_mm": 99.9}, {}, {"depth_mm": 100.0, "depth_believed_mm": 100.0},
        {"depth_mm": 10.0, "depth_believed_mm": None},
    ),
    "value-unreadable": ({"flush_mm_problem": "unreadable", "flush_mm_text": "ok"}, {"flush_mm": 2.0}, None, {"surface_recorded": None}),
    # 457.2 mm of diameter each
    "cores-overlap": ({"x_m": 99.5429}, {"x_m": 99.5}, {"x_m": 99.5428}, {"x_m": None}),
    "cores-too-close": ({"x_m": 99.2429}, {"x_m": 99.0}, {"x_m": 99.2427}, {"x_m": None}),
    "surface-unknown": ({"surface": "unknown"}, {}, None, {"surface": "unknown", "x_m": None}),
    "surface-differs": ({"surface_recorded_name": "concrete"}, {}, None, {"surface_recorded_name": None}),
    "surface-overlap": ({"surface_others": "concrete"}, {}, None, {"x_m": None}),
    "surface-not-allowed": ({"surface": "block paving", "reinstatable": False}, {}, None, {"surface": None}),
    "shade-differs": (
        _back(shade_used="Grey", shade_used_name="pale"), _back(shade_used_name="dark"), None, _back(shade_used_name="pale", shade=None),
    ),
    "shade-unreadable": (_back(shade_used="as last time"), _back(shade_used="n/a"), None, _back(shade_used=None)),
    "road-uncertain": (
        {"segment_confidence": 0.79, "runner_up_id": "S2", "runner_up_street": "Back Lane", "runner_up_confidence": 0.21},
        {"segment_confidence": 0.99}, {"segment_confidence": 0.8}, {"segment_confidence": None},
    ),
    "street-differs": (
        {"name_match": 0.1, "street": "Mill Road", "street_matched": "Quay", "segment_confidence": 0.99},
        {"name_match": 0.1, "segment_confidence": 0.9}, {"name_match": 0.5}, {"name_match": None},
    ),
    "surface-uncertain": (
        {"surface_confidence": 0.7, "surface_next": "concrete", "surface_next_confidence": 0.3, "surface_edge_m": 1.0},
        {"surface_confidence": 0.9}, {"surface_confidence": 0.8}, {"surface_confidence": None},
    ),
    "district-uncertain": (
        {"district_confidence": 0.7, "district_next": "West", "district_next_confidence": 0.3},
        {"district_confidence": 0.9}, {"district_confidence": 0.8}, {"district_confidence": None},
    ),
    "date-unreadable": ({"planned_on_problem": "unreadable", "planned_on_text": "soon"}, {"reinstated_at_problem": "x"}, None, {"opened_on_text": None}),
    "reinstatement-date-unreadable": (
        {"reinstated_at_problem": "unreadable", "reinstated_at_text": "done"}, {"reinstated_at_text": "2026-09-10", "opened_on_problem": "unreadable"},
        None, {"reinstated_at_text": None},
    ),
    "date-implausible": ({"opened_on": "1989-12-31"}, {}, {"opened_on": "1990-01-01"}, {"opened_on": None}),
    "date-in-future": ({"reinstated_at": "2026-10-01"}, {"planned_on": "2027-01-01"}, {"opened_on": "2026-09-30"}, {"opened_on": None}),
    "dates-out-of-order": ({"reinstated_at": "2026-09-08"}, BACK, {"reinstated_at": "2026-09-09"}, {"opened_on": None}),
    "open-too-long": ({"opened_on": _opened(31)}, {"opened_on": _opened(1)}, {"opened_on": _opened(30)}, {"opened_on": None}),
    # placement: only cores that are back
    "grout-short": (
        _back(grout_used_l=3.9, grout_least_l=4.0, grout_judged_by="stated range"), _back(grout_used_l=6.0, grout_least_l=4.0),
        _back(grout_used_l=4.0, grout_least_l=4.0), _back(grout_used_l=None, grout_least_l=4.0),
    ),
    "grout-long": (
        _back(grout_used_l=12.1, grout_most_l=6.0, grout_judged_by="stated range"), _back(grout_used_l=6.0, grout_most_l=6.0),
        _back(grout_used_l=12.0, grout_most_l=6.0), _back(grout_used_l=12.1, grout_most_l=None),
    ),
    # 10 % of water by weight, give or take a twentieth of that
    "water-ratio-off": (
        _back(water_ratio=0.106, water_l=2.12, bags_used=1.0), _back(water_ratio=0.1), _back(water_ratio=0.105), _back(water_ratio=None),
    ),
    # 40 to 90 degF
    "air-temperature-outside": (
        _back(air_temperature_c=4.4), _back(air_temperature_c=20.0), _back(air_temperature_c=32.2222222222), _back(air_temperature_c=None),
    ),
    "bedding-off": (
        _back(bedding_mm=14.9, bedding_specified_mm=25.0), _back(bedding_mm=25.0, bedding_specified_mm=25.0),
        _back(bedding_mm=35.0, bedding_specified_mm=25.0), _back(bedding_mm=None, bedding_specified_mm=25.0),
    ),
    "flush-out-of-tolerance": (_back(flush_mm=-5.1), _back(flush_mm=0.0), _back(flush_mm=5.0), {"flush_mm": None, **BACK}),
    # 457.2 mm lie in the band up to 500 mm: 12 mm
    "surface-depression": (_back(depression_mm=12.1), _back(depression_mm=3.0), _back(depression_mm=12.0), _back(depression_mm=None)),
    "depression-with-step": (
        _back(depression_mm=10.1, flush_mm=3.1), _back(depression_mm=10.1, flush_mm=3.0), _back(depression_mm=10.0, flush_mm=4.0),
        _back(depression_mm=10.1, flush_mm=None),
    ),
    # timing; the audit is of 30 September 2026
    "plated-too-long": ({"plated_on": "2026-09-08", "plate_known": "yes"}, {"plate_known": "no"}, {"plated_on": "2026-09-09", "plate_known": "yes"}, {"plate_known": None}),
    "interim-too-old": ({"interim_on": "2026-03-29", "interim_known": "yes"}, {"interim_known": "no"}, {"interim_on": "2026-03-30", "interim_known": "yes"}, {"interim_known": None}),
    "permit-expired": (
        {"permit_expires_on": "2026-09-29"}, {"permit_expires_on": "2026-10-01"}, {"permit_expires_on": "2026-09-30"}, {"permit_expires_on": None},
    ),
    "reinstated-without-permit": (
        _back(permit_expires_on="2026-09-11"), _back(permit_expires_on="2026-09-30"), _back(permit_expires_on="2026-09-12"),
        _back(permit_expires_on=None),
    ),
    # 30 minutes at 21.11 degC come to 126.7 at 5 degC, counted from a datum of 0 degC
    "reopened-too-soon": (
        _back(reopened_after_min=126.0, air_temperature_c=5.0), _back(reopened_after_min=127.0, air_temperature_c=5.0),
        _back(reopened_after_min=30.0, air_temperature_c=30.0), _back(reopened_after_min=None, air_temperature_c=5.0),
    ),
    # ten working days after Saturday 12 September end on Friday the 25th
    "notice-late": (
        _back(notice_sent_on="2026-09-28", notice_known="yes"), _back(notice_sent_on="2026-09-14", notice_known="yes"),
        _back(notice_sent_on="2026-09-25", notice_known="yes"), _back(notice_known=None),
    ),
    # two years after it; the window opens three months before, on the day of the audit for New Year's Eve
    "guarantee-ending": (
        {**_OLD, "reinstated_at": "2024-12-31"}, {**_OLD, "reinstated_at": "2024-12-30", "inspected_on": "2026-09-30"},
        {**_OLD, "reinstated_at": "2025-01-01"}, {**_OLD, "reinstated_at": "2024-12-30", "inspection_known": None},
    ),
    "inspection-missed": (
        {**_OLD, "reinstated_at": "2026-03-29"}, {**_OLD, "reinstated_at": "2025-03-29", "inspected_on": "2025-09-29"},
        {**_OLD, "reinstated_at": "2026-03-30"}, {**_OLD, "reinstated_at": "2026-03-29", "inspection_known": None},
    ),
    # network: 300 mm from the rim of a hole of 457.2 mm are 528.6 mm from its centre
    "joint-near": (
        {"joint_m": 0.5285, "is_rigid": True}, {"joint_m": 0.1, "is_rigid": False}, {"joint_m": 0.5286, "is_rigid": True}, {"joint_m": None},
    ),
    "segment-crowded": (
        {"segment_cores": 21.0, "segment_length_m": 200.0}, {"segment_cores": 10.0, "segment_length_m": 20.0},
        {"segment_cores": 20.0, "segment_length_m": 200.0}, {"segment_cores": 21.0, "segment_length_m": None},
    ),
    # a hole of 457.2 mm is 0.164173 m2, and one in two hundred parts is the limit
    "segment-cut-up": (
        {"segment_cores": 1.0, "segment_area_m2": 32.83}, {"segment_cores": 1.0, "segment_area_m2": 700.0},
        {"segment_cores": 1.0, "segment_area_m2": 200 * math.pi / 4 * 0.4572**2}, {"segment_cores": 1.0, "segment_area_m2": None},
    ),
    "street-protected": (
        {"opened_on": "2026-09-09", "resurfaced_on": "2021-09-10", "resurfaced_known": "yes"}, {"resurfaced_known": "yes"},
        {"opened_on": "2026-09-09", "resurfaced_on": "2021-09-09", "resurfaced_known": "yes"}, {"resurfaced_known": None},
    ),
    "resurfacing-first": (
        {"resurfacing_due_on": "2026-10-10", "planned_on": "2026-10-10", "planned_works_known": "yes"},
        {"resurfacing_due_on": "2026-10-11", "planned_on": "2026-10-10", "planned_works_known": "yes"}, None,
        {"planned_works_known": None, "planned_on": "2026-10-10"},
    ),
    "resurfacing-follows": (
        {"resurfacing_due_on": "2027-04-10", "planned_on": "2026-10-10", "planned_works_known": "yes"},
        {"resurfacing_due_on": "2027-04-11", "planned_on": "2026-10-10", "planned_works_known": "yes"}, None,
        {"planned_works_known": None, "planned_on": "2026-10-10"},
    ),
    "slope-steep": ({"slope_percent": -6.1}, {"slope_percent": 0.5}, {"slope_percent": 6.0}, {"slope_percent": None}),
    # three cores less than 300 mm from each other
    "cores-clustered": ({"x_m": 99.5, "third": 98.9}, {"x_m": 99.5, "third": 90.0}, {"x_m": 99.2428, "third": 98.4856}, {"x_m": None}),
}  # fmt: skip


def _found(cores, slug):
    """The first core's findings by this rule, and whether the rule could assess it."""
    bound = next(one for one in _RULES if one.rule.slug == slug)
    result = audit(cores, [bound], AS_OF, 15.0)
    able = bound.assessed(cores)
    assert result.rules["assessed"].tolist() == [able.sum()]
    concerned = bound.concerned(cores)
    assert result.rules["not_assessed"].tolist() == [(concerned & ~able).sum()]
    assert result.rules["not_concerned"].tolist() == [(~concerned).sum()]
    assert not (able & ~concerned).any()
    return result.findings[result.findings["row"].eq(1)], able.iloc[0]


def test_every_rule_has_its_cases():
    assert set(CASES) == set(RULES)
    assert {bound.rule.slug for bound in _RULES} == set(RULES)
    for slug, (_, _, limit, unasked) in CASES.items():
        rule = RULES[slug]
        assert bool(rule.needs or rule.needs_any) == (unasked is not None), slug
        assert (
            not (set(rule.limits) & {"limit", "least", "earliest", "share", "tolerance", "bands"}) or limit is not None
        ), slug


@pytest.mark.parametrize("slug", CASES)
def test_a_breach_is_found_and_says_so_in_words(slug):
    findings, assessed = _found(_one(CASES[slug][0]), slug)
    assert assessed
    assert len(findings) == 1
    message = findings["message"].iloc[0]
    assert message.endswith((".", "?"))
    assert "{" not in message
    assert "nan" not in message.split()


@pytest.mark.parametrize("slug", CASES)
def test_what_passes_is_not_found(slug):
    findings, assessed = _found(_one(CASES[slug][1]), slug)
    assert findings.empty
    assert assessed


@pytest.mark.parametrize("slug", [slug for slug, case in CASES.items() if case[2] is not None])
def test_the_limit_itself_passes(slug):
    assert _found(_one(CASES[slug][2]), slug)[0].empty


@pytest.mark.parametrize("slug", [slug for slug, case in CASES.items() if case[3] is not None])
def test_what_a_rule_cannot_assess_is_counted_and_not_passed(slug):
    findings, assessed = _found(_one(CASES[slug][3]), slug)
    assert findings.empty
    assert not assessed


def test_a_sound_core_carries_nothing():
    result = audit(_one({}), _RULES, AS_OF, 15.0)
    assert result.findings.empty
    assert result.status.tolist() == ["pending", "pending"]
    assert result.slugs.tolist() == ["", ""]


@pytest.mark.parametrize("slug", [slug for slug, rule in RULES.items() if rule.concerns != "all"])
def test_a_core_that_a_rule_does_not_speak_of_is_neither_found_nor_called_not_assessed(slug):
    other = {"is_open": True, "reinstated_at": None} if RULES[slug].concerns == "back" else BACK
    cores = _one({**CASES[slug][0], **other})
    findings, assessed = _found(cores, slug)
    assert findings.empty
    assert not assessed
    bound = next(one for one in _RULES if one.rule.slug == slug)
    assert not bound.concerned(cores).iloc[0]


@pytest.mark.parametrize("slug", [slug for slug, rule in RULES.items() if rule.concerns != "all"])
def test_a_core_that_may_be_open_or_back_is_not_assessed_by_a_rule_on_one_of_them(slug):
    cores = _one({**CASES[slug][0], "is_open": False, "reinstated_at": None, "reinstated_at_problem": "unreadable"})
    _, assessed = _found(cores, slug)
    assert not assessed
    assert next(one for one in _RULES if one.rule.slug == slug).concerned(cores).iloc[0]


def test_status_is_flagged_before_reinstated_before_pending():
    cores = frame(
        {**SOUND, **BACK, "x_m": 0.0},
        {**SOUND, **BACK, "core_id": "B", "x_m": 50.0, "depth_mm": 80.0, "depth_believed_mm": 80.0},
        {**SOUND, "core_id": "C", "x_m": 100.0, "diameter_mm": None},
    )
    result = audit(cores, _RULES, AS_OF, 15.0)
    assert result.status.tolist() == ["reinstated", "flagged", "pending"]
    assert result.slugs.tolist() == ["", "pavement-thin", "diameter-missing"]


def test_slugs_are_sorted_and_findings_come_by_core_then_rule():
    cores = _one({"core_id": None, "depth_mm": 80.0, "depth_believed_mm": 80.0, "opened_on": _opened(40)})
    result = audit(cores, _RULES, AS_OF, 15.0)
    assert result.slugs[0] == "id-missing;open-too-long;pavement-thin"
    assert result.findings["rule"].tolist() == ["id-missing", "open-too-long", "pavement-thin"]


def test_both_cores_of_a_pair_are_told_and_a_row_written_twice_is_no_pair():
    result = audit(_one({"x_m": 99.7}), _RULES, AS_OF, 15.0)
    assert result.findings["rule"].tolist() == ["cores-overlap", "cores-overlap"]
    twice = audit(frame({**SOUND, "same_row": 5}, {**SOUND, "same_row": 5}), _RULES, AS_OF, 15.0)
    assert twice.findings["rule"].tolist() == ["row-duplicated", "row-duplicated"]


def test_a_page_of_text_in_a_cell_is_quoted_by_its_beginning_on_one_line():
    cores = _one({"position_problem": "unreadable", "x_text": "a\nb\u202e" + "x" * 5000, "y_text": "{y}"})
    message = audit(cores, _RULES, AS_OF, 15.0).findings["message"].iloc[0]
    assert len(message) < 300
    assert "\n" not in message
    assert "\u202e" not in message
    assert "{y}" in message
