"""Tests of what the sheet says of one stop."""

import re

import numpy as np
import pandas as pd

from pipeline.publish.plan.stop_lines import StopLines
from pipeline.publish.words import words_of

_TITLES = {"bad": "The core is loose.", "worse": "No plate.", "late": "It is overdue.", "odd": "No depth is recorded."}


def _lines(units="metric"):
    return StopLines(words_of("en"), units, _TITLES, ["cracks under 3 mm"])


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
    return re.sub("<[^>]*>", "", str(markup))


def test_where_it_is():
    assert _text(_lines().where(_stop())) == "Mill Road, left side, 123 m along, North Fields"
    nowhere = _stop(street=None, side=None, chainage_m=np.nan, district=None)
    assert _text(_lines().where(nowhere)) == "Unnamed street"
    assert "123 m (405 ft) along" in _text(_lines("us").where(_stop()))


def test_how_large_and_heavy_it_is():
    assert _text(_lines().what(_stop())) == "450 mm wide, 300 mm deep · about 118 kg · asphalt · Plated"
    unknown = _stop(depth_mm=np.nan, weight_kg=np.nan, state="unknown", surface="unknown")
    assert _text(_lines().what(unknown)) == "Size not recorded · unknown · State unknown"


def test_who_shares_a_mix_and_who_opens_its_bags():
    first, second = _stop(), _stop(row=8, core_id="HV-8", stop=4, bags=0.0, water_l=0.0)
    sharing = [first, second]
    assert (
        _text(_lines().mix(first, sharing))
        == "Mix 12, shared with HV-8 (stop 4). Open 1 bag here, with 2.0 L of water. Gravel: 6 kg."
    )
    assert (
        _text(_lines().mix(second, sharing))
        == "Mix 12, shared with HV-7 (stop 3). Open no bag here: use the rest from stop 3. Gravel: 6 kg."
    )
    assert _text(_lines().mix(first, [first])).startswith("Mix 12, for this core alone. Open 1 bag here")
    assert "Open 0.5 bags here" in _text(_lines().mix(_stop(bags=0.5), [first]))


def test_when_traffic_may_return():
    assert _text(_lines().times(_stop())) == "Arrive 08:20. Pour 08:52. Traffic: earliest 10:45, at 8 °C."
    assert _text(_lines().times(_stop(air_c=np.nan))).endswith("Traffic: earliest 10:45.")
    assert _text(_lines().times(_stop(mix=pd.NA))) == "Arrive 08:20."


def test_a_permit_holds_through_its_last_day():
    permit = {"permit_no": "P-1", "permit_expires_on": pd.Timestamp(2026, 10, 5, tz="America/Toronto")}
    assert _text(_lines().times(_stop(**permit))).endswith("Permit P-1, to 5 Oct 2026.")
    assert _lines().notes(_stop(**permit)) == []
    expired = _stop(**permit | {"permit_expires_on": pd.Timestamp(2026, 10, 4, tz="America/Toronto")})
    assert [_text(line) for line in _lines().notes(expired)] == [
        "Permit P-1 expired on 4 Oct 2026: renew it before work starts."
    ]


def test_what_is_late_promised_and_flagged():
    late = _stop(late_days=1, due_on=pd.Timestamp(2026, 10, 4), is_kept=True, findings="odd;worse;bad;late;other")
    (line,) = _lines().notes(late)
    assert _text(line) == (
        "Late by 1 day: was due on 4 Oct 2026. Promised in an earlier plan. "
        "Flagged: The core is loose. No plate. It is overdue. 1 more finding."
    )
    assert _lines().notes(_stop(findings=None)) == []


def test_a_finding_that_another_line_says_is_not_repeated():
    titles = {"open-too-long": "Open too long.", "permit-expired": "The permit has expired."}
    lines = StopLines(words_of("en"), "metric", titles, [])
    both = {"findings": "open-too-long;permit-expired"}
    expired = {"permit_no": "P-1", "permit_expires_on": pd.Timestamp(2026, 10, 4, tz="UTC")}
    late = {"late_days": 2, "due_on": pd.Timestamp(2026, 10, 3)}
    assert "Flagged" not in _text(lines.notes(_stop(**both, **expired, **late))[0])
    assert _text(lines.notes(_stop(**both))[0]) == "Flagged: Open too long. The permit has expired."


def test_a_core_without_an_id_is_known_by_its_row():
    assert _text(_lines().name(_stop(core_id=None))) == "Row 7, no id"


def test_text_of_a_register_is_never_markup():
    hostile = _stop(
        core_id="<i>x</i>",
        street="<script>",
        district='"&',
        permit_no="<b>",
        permit_expires_on=pd.Timestamp(2026, 12, 1, tz="UTC"),
    )
    lines = _lines()
    text = f"{lines.name(hostile)}{lines.where(hostile)}{lines.times(hostile)}{lines.mix(hostile, [hostile, {**hostile, 'row': 9}])}"
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
    assert _lines().ticks("reinstate") == ["cracks under 3 mm"]
    assert _lines().ticks("survey") == []
