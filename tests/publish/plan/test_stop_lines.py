"""Tests of what the sheet says of one stop."""

import re

import numpy as np
import pandas as pd

from pipeline.publish.plan.stop_lines import StopLines
from pipeline.publish.words import words_of

_TITLES = {"bad": "The core is loose.", "worse": "No plate.", "late": "It is overdue.", "odd": "No depth is recorded."}


def _lines(units="metric"):
    return StopLines(words_of("en"), units, _TITLES)


def _stop(**cells):
    return {
        "row": 7, "core_id": "HV-7", "stop": 3, "day": pd.Timestamp(2026, 10, 5), "task": "reinstate",
        "street": "Mill Road", "side": "left", "chainage_m": 123.4, "district": "North Fields", "diameter_mm": 450.0,
        "depth_mm": 300.0, "weight_kg": 118.2, "surface": "asphalt", "state": "plated", "mix": 12, "bags": 1.0,
        "water_l": 2.0, "gravel_kg": 6.4, "shade": "dark", "arrival": "08:20", "pour": "08:52",
        "earliest_traffic": "10:45", "air_c": 8.0, "late_days": 0, "due_on": pd.NaT, "is_kept": False,
        "permit_no": None, "permit_expires_on": pd.NaT, "findings": "", **cells,
    }  # fmt: skip


def _text(markup):
    return re.sub("<[^>]*>", "", str(markup)).replace("\u00a0", " ")


def test_where_it_is_how_large_and_how_heavy():
    where = "Mill Road, left, 123 m along"
    assert _text(_lines().what(_stop())) == f"{where} · 450 mm × 300 mm deep · 118 kg · asphalt · Plated"
    # 450 mm are 17.7 in, 300 mm 11.8 in, 123.4 m 405 ft, 118.2 kg 261 lb
    in_feet = "Mill Road, left, 405 ft along · 17.7 in × 11.8 in deep · 261 lb · asphalt · Plated"
    assert _text(_lines("us").what(_stop())) == in_feet
    nowhere = _stop(street=None, side=None, chainage_m=np.nan)
    assert _text(_lines().what(nowhere)).startswith("Unnamed street · 450 mm")
    unknown = _stop(depth_mm=np.nan, weight_kg=np.nan, state="unknown", surface="unknown")
    assert _text(_lines().what(unknown)) == f"{where} · Size not recorded · unknown · State unknown"


def test_who_shares_a_mix_and_who_opens_its_bags():
    first, second = _stop(), _stop(row=8, core_id="HV-8", stop=4, bags=0.0, water_l=0.0)
    third = _stop(row=9, core_id="HV-9", stop=5, bags=0.0, water_l=0.0)
    mix = _lines().mix
    assert _text(mix(first, [first, second])) == "Open 1 bag, 2.0 L of water · Mix 12 shared with stop 4 · Gravel 6 kg"
    assert (
        _text(mix(second, [first, second]))
        == "Open none: use the rest from stop 3 · Mix 12 shared with stop 3 · Gravel 6 kg"
    )
    assert "shared with stops 4 and 5 ·" in _text(mix(first, [first, second, third]))
    assert "Mix 12, not shared" in _text(mix(first, [first]))
    assert _text(mix(_stop(bags=0.5), [first])).startswith("Open 0.5 bags, ")


def test_what_is_done_where_nothing_is_mixed():
    assert _text(_lines().task("survey")) == "Measure it and find out its surface. Nothing is mixed."
    assert _text(_lines().task("make safe")) == "Make the hazard safe. Nothing is mixed."


def test_when_traffic_may_return():
    assert _text(_lines().times(_stop())) == "Arrive 08:20. Pour 08:52. Traffic not before 10:45, at 8 °C."
    assert _text(_lines("us").times(_stop())).endswith("at 46 °F.")
    assert _text(_lines().times(_stop(air_c=np.nan))).endswith("Traffic not before 10:45.")
    assert _text(_lines().times(_stop(mix=pd.NA))) == "Arrive 08:20."


def test_a_permit_holds_through_its_last_day():
    permit = {"permit_no": "P-1", "permit_expires_on": pd.Timestamp(2026, 10, 5, tz="America/Toronto")}
    assert _text(_lines().times(_stop(**permit))).endswith("Permit P-1.")
    assert _lines().notes(_stop(**permit)) == []
    expired = _stop(**permit | {"permit_expires_on": pd.Timestamp(2026, 10, 4, tz="America/Toronto")})
    assert [_text(line) for line in _lines().notes(expired)] == ["Permit P-1 expired on 4 Oct 2026: renew it first."]


def test_what_is_late_and_promised():
    late = _stop(late_days=1, due_on=pd.Timestamp(2026, 10, 4), is_kept=True)
    assert [_text(line) for line in _lines().notes(late)] == ["Late by 1 day.", "Promised for this day."]
    assert _lines().notes(_stop()) == []


def test_what_was_flagged_is_named_as_far_as_there_is_room_and_the_rest_is_counted():
    found = _stop(findings="odd;worse;bad;late;other")
    texts = [_text(_lines().flagged(found, most)) for most in range(4)]
    assert texts == [
        "Flagged: 4 findings, see plan.csv.",
        "Flagged: The core is loose. And 3 more findings.",
        "Flagged: The core is loose. No plate. And 2 more findings.",
        "Flagged: The core is loose. No plate. It is overdue. And 1 more finding.",
    ]
    assert _text(_lines().flagged(_stop(findings=None), 2)) == ""


def test_a_long_title_is_shortened_at_a_word_except_where_there_is_room():
    title = "The surface has sunk and has a step at its edge: less of each is allowed where both occur."
    lines = StopLines(words_of("en"), "metric", {"deep": title})
    # 60 characters end within "allowed"
    assert (
        _text(lines.flagged(_stop(findings="deep"), 1))
        == "Flagged: The surface has sunk and has a step at its edge: less of…"
    )
    assert _text(lines.flagged(_stop(findings="deep"), 3)) == f"Flagged: {title}"


def test_a_finding_that_another_line_says_is_not_repeated():
    titles = {"open-too-long": "Open too long.", "permit-expired": "The permit has expired."}
    lines = StopLines(words_of("en"), "metric", titles)
    both = {"findings": "open-too-long;permit-expired"}
    expired = {"permit_no": "P-1", "permit_expires_on": pd.Timestamp(2026, 10, 4, tz="UTC")}
    assert lines.flagged(_stop(**both, **expired, late_days=2), 2) == ""
    assert _text(lines.flagged(_stop(**both), 2)) == "Flagged: Open too long. The permit has expired."


def test_a_core_without_an_id_is_known_by_its_row():
    assert _text(_lines().name(_stop(core_id=None))) == "Row 7, no id"


def test_text_of_a_register_is_never_markup():
    hostile = _stop(
        core_id="<i>x</i>",
        street="<script>",
        permit_no="<b>",
        permit_expires_on=pd.Timestamp(2026, 12, 1, tz="UTC"),
    )
    lines = _lines()
    text = f"{lines.name(hostile)}{lines.what(hostile)}{lines.times(hostile)}{lines.mix(hostile, [hostile, {**hostile, 'row': 9}])}"
    assert "<script>" not in text
    assert "<i>" not in text
    assert "<b>&lt;b&gt;" not in text
    assert "&lt;i&gt;" in text


def test_each_task_has_its_boxes():
    boxes = {task: [str(head) for head in _lines().boxes(task)] for task in ("reinstate", "survey", "make safe")}
    assert boxes["reinstate"] == [
        "Bags",
        "Water, L",
        "Air, °C",
        "Poured at",
        "Opened at",
        "Flush, mm",
        "Shade",
        "Initials",
    ]
    assert boxes["survey"][:3] == ["Diameter, mm", "Depth, mm", "Surface"]
    assert boxes["make safe"][0] == "Made safe at"
    assert _lines("us").boxes("reinstate")[1] == "Water, gal"
