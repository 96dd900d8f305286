"""Every rule: a core that breaches it, one that passes, one on the limit, one that it cannot assess."""

import datetime as dt

import pandas as pd
import pytest

from pipeline.audit import audit, bind_rules
from pipeline.audit.registry import RULES
from pipeline.catalogue import load_catalogue
from pipeline.contracts import AUDIT_COLUMNS, LOCATED_COLUMNS, REGISTER_COLUMNS, SPECIFIED_COLUMNS

_AS_OF = dt.date(2026, 9, 30)
_ZONE = "America/Toronto"
_RULES = bind_rules(load_catalogue({}, "test").rules, "test")
_KINDS = {
    column.name: column.kind for group in (REGISTER_COLUMNS, LOCATED_COLUMNS, SPECIFIED_COLUMNS) for column in group
}

_PLAIN_NUMBERS = {"bags", "bags_used", "water_l_needed", "name_match"}
# a core with nothing wrong: pending, on asphalt, cut three weeks before the audit
_SOUND = {
    "core_id": "A-1", "diameter_mm": 457.2, "depth_mm": 200.0, "hole_mm": 457.2, "depth_believed_mm": 200.0,
    "diameter_mm_text": "18 in", "depth_mm_text": "200 mm", "opened_on_text": "2026-09-09",
    "opened_on": "2026-09-09", "x_m": 0.0, "y_m": 0.0, "x_text": "-82.2", "y_text": "44.8", "segment_id": "S1",
    "surface": "asphalt", "surface_from": "polygon", "surface_on_map": "asphalt", "surface_recorded": "asph",
    "surface_recorded_name": "asphalt", "district": "Mill Bank", "district_how": "inside", "shade": "dark",
    "segment_confidence": 1.0, "surface_confidence": 1.0, "district_confidence": 1.0, "name_match": 1.0,
    "street": "Quay", "street_matched": "Quay", "reinstatable": True, "is_open": True, "is_copy": False, "surface_says_nothing": False,
}  # fmt: skip
# a second core, 100 m away unless a case says otherwise
_OTHER = {**_SOUND, "core_id": "A-2", "x_m": 100.0}


def _frame(*cores):
    rows = pd.DataFrame({"row": range(1, len(cores) + 1), "same_row": range(len(cores))})
    names = sorted(AUDIT_COLUMNS - {"row", "same_row"})
    for name in names:
        cells = [core.get(name) for core in cores]
        if _KINDS.get(name) == "instant":
            column = (
                pd.to_datetime(pd.Series(cells, dtype="str")).dt.tz_localize(_ZONE).astype(f"datetime64[us, {_ZONE}]")
            )
        elif name in {"reinstatable", "is_open", "is_copy", "surface_says_nothing"}:
            column = pd.Series(cells, dtype=bool)
        elif name.endswith(("_mm", "_m", "_l", "_kg", "_c", "_confidence")) or name in _PLAIN_NUMBERS:
            column = pd.Series(cells, dtype=float)
        else:
            column = pd.Series(cells, dtype="str")
        rows[name] = column
    for column in REGISTER_COLUMNS:
        for end in ("_text", "_problem"):
            if column.kind != "text":
                rows[column.name + end] = pd.Series([core.get(column.name + end) for core in cores], dtype="str")
    rows["same_row"] = [core.get("same_row", place) for place, core in enumerate(cores)]
    return rows


def _one(change, other=None):
    return _frame({**_SOUND, **change}, {**_OTHER, **(other or {})})


def _opened(days):
    return (_AS_OF - dt.timedelta(days=days)).isoformat()


_BACK = {"reinstated_at": "2026-09-12", "is_open": False}
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
    "shade-differs": ({"shade_used": "Grey", "shade_used_name": "pale"}, {"shade_used_name": "dark"}, None, {"shade": None}),
    "shade-unreadable": ({"shade_used": "as last time"}, {"shade_used": "n/a"}, None, {"shade_used": None}),
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
    "dates-out-of-order": ({"reinstated_at": "2026-09-08"}, _BACK, {"reinstated_at": "2026-09-09"}, {"opened_on": None}),
    "open-too-long": ({"opened_on": _opened(31)}, {**_BACK, "opened_on": _opened(90)}, {"opened_on": _opened(30)}, {"opened_on": None}),
}  # fmt: skip


def _found(frame, slug):
    """The first core's findings by this rule, and whether the rule could assess it."""
    bound = next(one for one in _RULES if one.rule.slug == slug)
    result = audit(frame, [bound], _AS_OF, 15.0)
    able = bound.assessed(frame)
    assert result.rules["assessed"].tolist() == [able.sum()]
    assert result.rules["not_assessed"].tolist() == [(~able).sum()]
    return result.findings[result.findings["row"].eq(1)], able.iloc[0]


def test_every_rule_has_its_cases():
    assert set(CASES) == set(RULES)
    assert {bound.rule.slug for bound in _RULES} == set(RULES)
    for slug, (_, _, limit, unasked) in CASES.items():
        rule = RULES[slug]
        assert bool(rule.needs or rule.needs_any) == (unasked is not None), slug
        assert not (set(rule.limits) & {"limit", "least", "earliest"}) or limit is not None, slug


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
    result = audit(_one({}), _RULES, _AS_OF, 15.0)
    assert result.findings.empty
    assert result.status.tolist() == ["pending", "pending"]
    assert result.slugs.tolist() == ["", ""]


def test_status_is_flagged_before_reinstated_before_pending():
    frame = _frame(
        {**_SOUND, **_BACK, "x_m": 0.0},
        {**_SOUND, **_BACK, "core_id": "B", "x_m": 50.0, "depth_mm": 80.0, "depth_believed_mm": 80.0},
        {**_SOUND, "core_id": "C", "x_m": 100.0, "diameter_mm": None},
    )
    result = audit(frame, _RULES, _AS_OF, 15.0)
    assert result.status.tolist() == ["reinstated", "flagged", "pending"]
    assert result.slugs.tolist() == ["", "pavement-thin", "diameter-missing"]


def test_slugs_are_sorted_and_findings_come_by_core_then_rule():
    frame = _one({"core_id": None, "depth_mm": 80.0, "depth_believed_mm": 80.0, "opened_on": _opened(40)})
    result = audit(frame, _RULES, _AS_OF, 15.0)
    assert result.slugs[0] == "id-missing;open-too-long;pavement-thin"
    assert result.findings["rule"].tolist() == ["id-missing", "open-too-long", "pavement-thin"]


def test_both_cores_of_a_pair_are_told_and_a_row_written_twice_is_no_pair():
    result = audit(_one({"x_m": 99.7}), _RULES, _AS_OF, 15.0)
    assert result.findings["rule"].tolist() == ["cores-overlap", "cores-overlap"]
    twice = audit(_frame({**_SOUND, "same_row": 5}, {**_SOUND, "same_row": 5}), _RULES, _AS_OF, 15.0)
    assert twice.findings["rule"].tolist() == ["row-duplicated", "row-duplicated"]


def test_a_page_of_text_in_a_cell_is_quoted_by_its_beginning_on_one_line():
    frame = _one({"position_problem": "unreadable", "x_text": "a\nb\u202e" + "x" * 5000, "y_text": "{y}"})
    message = audit(frame, _RULES, _AS_OF, 15.0).findings["message"].iloc[0]
    assert len(message) < 300
    assert "\n" not in message
    assert "\u202e" not in message
    assert "{y}" in message
