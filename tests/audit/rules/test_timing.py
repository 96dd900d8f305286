"""Rules on time; the audit is of 30 September 2026."""

import pytest

from tests.audit.frames import REINSTATED, opened_days_ago, reinstated
from tests.audit.rules.cases import Case, sentence

# reinstated on concrete long ago
_OLD = {"opened_on": "2024-10-01", "is_open": False, "inspection_known": "no"}
# in a register that keeps plates, interim and final reinstatements, with none of them
_UNCOVERED = {"plate_known": "no", "interim_known": "no", "reinstatement_known": "no"}

CASES = {
    "plated-too-long": Case(
        breach={"plated_on": "2026-09-08", "plate_known": "yes"},
        says="Plated for 22 days, since 2026-09-08 (limit 21 days): 1 day over. Check that the plate lies firm, and reinstate the core.",
        passes={"plate_known": "no"},
        on_limit={"plated_on": "2026-09-09", "plate_known": "yes"},
        missing={"plate_known": None},
    ),
    "open-uncovered": Case(
        breach=_UNCOVERED | {"opened_on": "2026-09-22"},
        says="Open since 2026-09-22 with neither a plate nor an interim reinstatement recorded (8 days; limit 7 days, 1 day over). Check on site today whether the hole is guarded or plated.",
        passes=_UNCOVERED | {"opened_on": "2026-09-22", "plated_on": "2026-09-23", "plate_known": "yes"},
        on_limit=_UNCOVERED | {"opened_on": "2026-09-23"},
        missing=_UNCOVERED | {"opened_on": "2026-09-22", "plate_known": None},
    ),
    "interim-too-old": Case(
        breach={"interim_on": "2026-03-29", "interim_known": "yes"},
        says="Interim reinstatement on 2026-03-29; the permanent one was due by 2026-09-29 (limit 6 months), 1 day ago. Make it permanent.",
        passes={"interim_known": "no"},
        on_limit={"interim_on": "2026-03-30", "interim_known": "yes"},
        missing={"interim_known": None},
    ),
    "permit-expired": Case(
        breach={"permit_expires_on": "2026-09-29"},
        says="The permit (no number recorded) expired on 2026-09-29, 1 day ago, and the core is open. Have the permit renewed before anyone works there.",
        passes={"permit_expires_on": "2026-10-01"},
        on_limit={"permit_expires_on": "2026-09-30"},
        missing={"permit_expires_on": None},
    ),
    "reinstated-without-permit": Case(
        breach=reinstated(permit_expires_on="2026-09-11"),
        says="Reinstated on 2026-09-12, 1 day after the permit (no number recorded) expired on 2026-09-11. Settle it with the road authority.",
        passes=reinstated(permit_expires_on="2026-09-30"),
        on_limit=reinstated(permit_expires_on="2026-09-12"),
        missing=reinstated(permit_expires_on=None),
    ),
    # 30 minutes at 21.11 degC become 126.7 at 5 degC, counted from a datum of 0 degC
    "reopened-too-soon": Case(
        breach=reinstated(reopened_after_min=126.0, air_temperature_c=5.0),
        says="Reopened 126 minutes after the pour at 5 °C, where about 127 minutes are needed. Check the core for cracks and hollow spots.",
        passes=reinstated(reopened_after_min=127.0, air_temperature_c=5.0),
        on_limit=reinstated(reopened_after_min=30.0, air_temperature_c=30.0),
        missing=reinstated(reopened_after_min=None, air_temperature_c=5.0),
        cannot_tell=reinstated(reopened_after_min=30.0, reopened_within_min=1.0, air_temperature_c=30.0),
    ),
    # ten working days after Saturday 12 September end on Friday the 25th
    "notice-late": Case(
        breach=reinstated(notice_sent_on="2026-09-28", notice_known="yes"),
        says="Notice of completion sent 11 working days after reinstatement (limit 10), 3 days after it was due on 2026-09-25. Settle it with the road authority.",
        passes=reinstated(notice_sent_on="2026-09-14", notice_known="yes"),
        on_limit=reinstated(notice_sent_on="2026-09-25", notice_known="yes"),
        missing=reinstated(notice_known=None),
    ),
    # two years; the last three months begin on the day of the audit for New Year's Eve
    "guarantee-ending": Case(
        breach={**_OLD, "reinstated_at": "2024-12-31"},
        says="The guarantee ends on 2026-12-31 and the core has not been inspected in its last 3 months. Inspect the core before then.",
        passes={**_OLD, "reinstated_at": "2024-12-30", "inspected_on": "2026-09-30"},
        on_limit={**_OLD, "reinstated_at": "2025-01-01"},
        missing={**_OLD, "reinstated_at": "2024-12-30", "inspection_known": None},
        cannot_tell={**_OLD, "reinstated_at": "2024-12-31", "cover_m": 1.5, "cover_step_m": 0.1},
    ),
    "inspection-missed": Case(
        breach={**_OLD, "reinstated_at": "2026-03-29"},
        says="Not inspected within 6 months of completion, that is by 2026-09-29, 1 day ago. Add it to the next round of inspections.",
        passes={**_OLD, "reinstated_at": "2025-03-29", "inspected_on": "2025-09-29"},
        on_limit={**_OLD, "reinstated_at": "2026-03-30"},
        missing={**_OLD, "reinstated_at": "2026-03-29", "inspection_known": None},
    ),
}


@pytest.mark.parametrize(
    ("slug", "cells", "said"),
    [
        (
            "permit-expired",
            {"permit_expires_on": "2026-09-29"},
            "expired on 2026-09-29, 1 day ago, and the core is open.",
        ),
        (
            "reinstated-without-permit",
            {**REINSTATED, "permit_expires_on": "2026-09-11"},
            "expired on 2026-09-11.",
        ),
    ],
)
def test_a_permit_is_quoted_by_its_number_where_it_has_one(slug, cells, said):
    without, quoted = (sentence(slug, {**cells, "permit_no": number}) for number in (None, "P-26/81"))
    assert f"permit (no number recorded) {said}" in without
    assert f'ermit "P-26/81" {said}' in quoted


def test_a_plate_that_lies_for_one_day_more_is_found():
    said = sentence("plated-too-long", {"plated_on": opened_days_ago(22), "plate_known": "yes"})
    assert said.startswith("Plated for 22 days, since 2026-09-08 (limit 21 days): 1 day over.")


@pytest.mark.parametrize(
    ("cells", "is_found"),
    [
        ({}, True),
        ({"interim_on": "2026-09-23", "interim_known": "yes"}, False),
        # whether it lies open is not known where any of the three is not kept
        ({"interim_known": None}, False),
        ({"reinstatement_known": None}, False),
    ],
)
def test_a_hole_is_uncovered_only_if_the_register_keeps_what_would_cover_it(cells, is_found):
    said = sentence("open-uncovered", {**_UNCOVERED, "opened_on": "2026-09-01", **cells})
    assert (said is not None) == is_found


def test_an_interim_reinstatement_of_the_31st_falls_due_on_the_last_day_of_a_shorter_month():
    said = sentence("interim-too-old", {"interim_on": "2025-08-31", "interim_known": "yes"})
    assert "was due by 2026-02-28 (limit 6 months)" in said


def test_where_the_grout_hardly_hardens_no_time_is_given():
    said = sentence("reopened-too-soon", reinstated(reopened_after_min=600.0, air_temperature_c=-1.0))
    assert said.startswith("Reopened 600 minutes after the pour at -1 °C, where the grout hardly hardens.")


def test_a_road_reopened_before_the_pour_is_a_matter_of_dates():
    assert sentence("reopened-too-soon", reinstated(reopened_after_min=-5.0, air_temperature_c=5.0)) is None


def test_a_notice_that_was_never_sent_is_to_be_sent():
    """From Saturday 12 September to Wednesday 30: 14 to 18, 21 to 25 and 28 to 30, thirteen working days."""
    said = sentence("notice-late", reinstated(notice_known="no"))
    assert said == (
        "Reinstated 13 working days ago and no notice of completion sent (limit 10); it was due on 2026-09-25, 5 days "
        "ago. Send it now."
    )


@pytest.mark.parametrize(("cover_m", "is_found"), [(None, True), (1.5, True), (1.6, False)])
def test_the_guarantee_of_a_deep_opening_is_longer(cover_m, is_found):
    cells = {**_OLD, "reinstated_at": "2024-12-31", "cover_m": cover_m}
    assert (sentence("guarantee-ending", cells) is not None) == is_found


@pytest.mark.parametrize("day", ["2024-11-15", "2023-11-15"])
def test_a_depth_that_may_be_either_has_a_guarantee_that_ends_only_where_both_end(day):
    """1.5 m to the nearest 0.5 m: two years end on 15 November, or three; the other ends in a year, or has ended."""
    assert sentence("guarantee-ending", {**_OLD, "reinstated_at": day, "cover_m": 1.5, "cover_step_m": 0.5}) is None
    sure = 1.0 if day.startswith("2024") else 2.0
    assert (
        sentence("guarantee-ending", {**_OLD, "reinstated_at": day, "cover_m": sure, "cover_step_m": 0.5}) is not None
    )


def test_an_inspection_before_the_last_months_does_not_count_for_the_guarantee():
    cells = {**_OLD, "reinstated_at": "2024-12-30"}
    assert sentence("guarantee-ending", {**cells, "inspected_on": "2026-09-29"}) is not None
    assert sentence("guarantee-ending", {**cells, "inspected_on": "2026-09-30"}) is None


def test_a_guarantee_that_has_ended_is_no_longer_reported():
    assert sentence("guarantee-ending", {**_OLD, "reinstated_at": "2024-09-29"}) is None


def test_a_late_inspection_does_not_make_up_for_the_one_after_completion():
    cells = {**_OLD, "reinstated_at": "2026-03-29"}
    assert sentence("inspection-missed", {**cells, "inspected_on": "2026-09-30"}) is not None
    assert sentence("inspection-missed", {**cells, "inspected_on": "2026-09-29"}) is None
