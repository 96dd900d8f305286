"""Rules on time; the audit is of 30 September 2026."""

from tests.audit.frames import reinstated
from tests.audit.rules.cases import Case

# reinstated on concrete long ago
_OLD = {"opened_on": "2024-10-01", "is_open": False, "inspection_known": "no"}

CASES = {
    "plated-too-long": Case(
        breach={"plated_on": "2026-09-08", "plate_known": "yes"},
        says="Plated for 22 days, since 2026-09-08 (limit 21 days). Check that the plate lies firm, and reinstate the core.",
        passes={"plate_known": "no"},
        on_limit={"plated_on": "2026-09-09", "plate_known": "yes"},
        missing={"plate_known": None},
    ),
    "interim-too-old": Case(
        breach={"interim_on": "2026-03-29", "interim_known": "yes"},
        says="Interim reinstatement on 2026-03-29; the permanent one was due by 2026-09-29 (limit 6 months). Make it permanent.",
        passes={"interim_known": "no"},
        on_limit={"interim_on": "2026-03-30", "interim_known": "yes"},
        missing={"interim_known": None},
    ),
    "permit-expired": Case(
        breach={"permit_expires_on": "2026-09-29"},
        says="The permit (no number recorded) expired on 2026-09-29 and the core is open. Have the permit renewed before anyone works there.",
        passes={"permit_expires_on": "2026-10-01"},
        on_limit={"permit_expires_on": "2026-09-30"},
        missing={"permit_expires_on": None},
    ),
    "reinstated-without-permit": Case(
        breach=reinstated(permit_expires_on="2026-09-11"),
        says="Reinstated on 2026-09-12, after the permit (no number recorded) expired on 2026-09-11. Settle it with the road authority.",
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
    ),
    # ten working days after Saturday 12 September end on Friday the 25th
    "notice-late": Case(
        breach=reinstated(notice_sent_on="2026-09-28", notice_known="yes"),
        says="Notice of completion sent 11 working days after reinstatement (limit 10). Settle it with the road authority.",
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
    ),
    "inspection-missed": Case(
        breach={**_OLD, "reinstated_at": "2026-03-29"},
        says="Not inspected within 6 months of completion, that is by 2026-09-29. Add it to the next round of inspections.",
        passes={**_OLD, "reinstated_at": "2025-03-29", "inspected_on": "2025-09-29"},
        on_limit={**_OLD, "reinstated_at": "2026-03-30"},
        missing={**_OLD, "reinstated_at": "2026-03-29", "inspection_known": None},
    ),
}
