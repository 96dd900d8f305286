"""Rules on dates."""

import pytest

from tests.audit.frames import REINSTATED, opened_days_ago, reinstated
from tests.audit.rules.cases import Case, sentence

CASES = {
    "date-unreadable": Case(
        breach={"planned_on_problem": "unreadable", "planned_on_text": "soon"},
        says='Planned "soon" is not a date. Correct the register; a date such as 2026-09-30 is always understood.',
        passes={"reinstated_at_problem": "x"},
        missing={"opened_on_text": None},
    ),
    "reinstatement-date-unreadable": Case(
        breach={"reinstated_at_problem": "unreadable", "reinstated_at_text": "done"},
        says='Reinstated "done" is not a date. Correct the register; a date such as 2026-09-30 is always understood.',
        passes={"reinstated_at_text": "2026-09-10", "opened_on_problem": "unreadable"},
        missing={"reinstated_at_text": None},
    ),
    "date-implausible": Case(
        breach={"opened_on": "1989-12-31"},
        says="Too early to be true: Opened 1989-12-31 (earliest plausible date 1990-01-01). Correct the register.",
        passes={},
        on_limit={"opened_on": "1990-01-01"},
        missing={"opened_on": None},
    ),
    "date-in-future": Case(
        breach={"opened_on": "2026-10-01"},
        says="Dated after the audit on 2026-09-30: Opened 2026-10-01. Correct the register.",
        passes={"planned_on": "2027-01-01"},
        on_limit={"opened_on": "2026-09-30"},
        missing={"opened_on": None},
    ),
    "dates-out-of-order": Case(
        breach={"plated_on": "2026-09-08"},
        says="Dates out of order: Plated 2026-09-08 is before Opened 2026-09-09. Correct the register.",
        passes=REINSTATED,
        on_limit={"plated_on": "2026-09-09"},
        missing={"opened_on": None},
        cannot_tell=reinstated(
            reinstated_at="2026-09-12 14:30",
            reopened_at="2026-09-12 14:30",
            reopened_after_min=0.0,
            reopened_within_min=1.0,
        ),
    ),
    "open-too-long": Case(
        breach={"opened_on": opened_days_ago(31)},
        says="Open for 31 days, since 2026-08-30 (limit 30 days): 1 day over. Reinstate it now.",
        passes={"opened_on": opened_days_ago(1)},
        on_limit={"opened_on": opened_days_ago(30)},
        missing={"opened_on": None},
    ),
}


_OK = "Correct the register; a date such as 2026-09-30 is always understood."


@pytest.mark.parametrize(
    ("problem", "text", "said"),
    [
        ("unreadable", "until revoked", 'Permit expiry "until revoked" is not a date.'),
        (
            "day or month first",
            "03/04/2026",
            'Permit expiry "03/04/2026" may begin with the day or the month (set cores.day_first).',
        ),
        (
            "spreadsheet serial number",
            "46295",
            'Permit expiry "46295" may be the serial number of a spreadsheet (set cores.dates).',
        ),
        ("some new problem", "x", 'Permit expiry "x" is not a date.'),
    ],
)
def test_an_unreadable_date_is_quoted_with_the_reason(problem, text, said):
    cells = {"permit_expires_on_problem": problem, "permit_expires_on_text": text}
    assert sentence("date-unreadable", cells) == f"{said} {_OK}"


def test_several_unreadable_dates_are_listed_in_the_order_of_the_register():
    cells = {
        "planned_on_problem": "unreadable",
        "planned_on_text": "soon",
        "plated_on_problem": "spreadsheet serial number",
        "plated_on_text": "46000",
    }
    assert sentence("date-unreadable", cells) == (
        f'Plated "46000" may be the serial number of a spreadsheet (set cores.dates) and Planned "soon" is not a date. {_OK}'
    )


def test_every_early_date_is_listed():
    cells = {"opened_on": "1926-07-14", "planned_on": "1900-01-01"}
    assert "Too early to be true: Opened 1926-07-14 and Planned 1900-01-01 (" in sentence("date-implausible", cells)


def test_a_plan_and_a_permit_may_lie_in_the_future():
    assert sentence("date-in-future", {"planned_on": "2027-01-01", "permit_expires_on": "2030-01-01"}) is None


@pytest.mark.parametrize(
    ("cells", "said"),
    [
        ({"plated_on": "2026-09-08"}, "Plated 2026-09-08 is before Opened 2026-09-09"),
        ({"backfilled_on": "2026-09-08"}, "Backfilled 2026-09-08 is before Opened 2026-09-09"),
        ({"interim_on": "2026-09-08"}, "Interim reinstatement 2026-09-08 is before Opened 2026-09-09"),
        ({"inspected_on": "2026-09-01"}, "Inspected 2026-09-01 is before Opened 2026-09-09"),
        (
            {"reinstated_at": "2026-09-10", "interim_on": "2026-09-11"},
            "Reinstated 2026-09-10 is before Interim reinstatement 2026-09-11",
        ),
        (
            {"reinstated_at": "2026-09-10", "plated_on": "2026-09-11"},
            "Reinstated 2026-09-10 is before Plated 2026-09-11",
        ),
        (
            {"reinstated_at": "2026-09-12", "reopened_at": "2026-09-11"},
            "Reopened 2026-09-11 is before Reinstated 2026-09-12",
        ),
        (
            {"reinstated_at": "2026-09-08", "reopened_at": "2026-09-08"},
            "Reinstated 2026-09-08 is before Opened 2026-09-09 and Reopened 2026-09-08 is before Opened 2026-09-09",
        ),
    ],
)
def test_each_pair_of_steps_has_its_order(cells, said):
    assert sentence("dates-out-of-order", cells) == f"Dates out of order: {said}. Correct the register."


@pytest.mark.parametrize(
    ("back", "reopened", "minutes", "said"),
    [
        ("2026-09-12 14:30", "2026-09-12 13:45", -45, "Reopened 2026-09-12 is 45 minutes before Reinstated"),
        ("2026-09-12 14:30", "2026-09-12 14:28", -2, "Reopened 2026-09-12 is 2 minutes before Reinstated"),
        # both may be rounded to the minute
        ("2026-09-12 14:30", "2026-09-12 14:29", -1, None),
        ("2026-09-12 14:30", "2026-09-12 15:10", 40, None),
        # no time of day, as a date is written, and as a spreadsheet writes a date
        ("2026-09-12 14:30", "2026-09-12", None, None),
        ("2026-09-12 14:30", "2026-09-12 00:00", -870, None),
    ],
)
def test_a_road_is_not_reopened_before_its_core_is_reinstated(back, reopened, minutes, said):
    times = {"reinstated_at": back, "reopened_at": reopened}
    cells = times | {"reopened_after_min": minutes, "reopened_within_min": 1.0}
    expected = said and f"Dates out of order: {said}. Correct the register."
    assert sentence("dates-out-of-order", cells) == expected


def test_a_plate_may_go_on_before_or_after_the_backfill():
    for plated, backfilled in (("2026-09-10", "2026-09-11"), ("2026-09-11", "2026-09-10")):
        assert sentence("dates-out-of-order", {"plated_on": plated, "backfilled_on": backfilled}) is None


def test_a_core_with_an_interim_reinstatement_is_not_open_too_long():
    assert sentence("open-too-long", {"opened_on": opened_days_ago(90), "interim_on": opened_days_ago(80)}) is None
