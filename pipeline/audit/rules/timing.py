"""Rules on time: plates, interim reinstatements, permits, reopening, notices, guarantees and inspections."""

from dataclasses import dataclass

import numpy as np
import pandas as pd

from pipeline.audit.figures import days_of
from pipeline.audit.findings import Findings, choose, find
from pipeline.audit.for_authority import for_authority
from pipeline.audit.limits import Celsius, Days, Metres, Minutes, Months, WorkingDays, months_after
from pipeline.audit.registry import AuditContext, rule
from pipeline.audit.written_ranges import Verdict, WrittenRange, above, below
from pipeline.maturity import return_to_service_min
from pipeline.workdays import working_days_after, working_days_between

_SETTLE = for_authority("Settle it with the road authority.", "The utility must settle it with you.")


@dataclass(frozen=True)
class PlateLimits:
    """How long a plate may lie over an open core."""

    max_plated_days: Days


@dataclass(frozen=True)
class UncoveredLimits:
    """How long a core may lie open with neither a plate nor an interim reinstatement."""

    max_uncovered_days: Days


@dataclass(frozen=True)
class InterimLimits:
    """How long an interim reinstatement may stay."""

    max_interim_months: Months


@dataclass(frozen=True)
class ReopeningLimits:
    """The supplier's time from pour to traffic, at the supplier's temperature; the one at which nothing hardens."""

    supplier_time_min: Minutes
    supplier_temperature_c: Celsius
    datum_temperature_c: Celsius


@dataclass(frozen=True)
class NoticeLimits:
    """Working days from reinstatement to the notice of completion."""

    max_delay_working_days: WorkingDays


@dataclass(frozen=True)
class GuaranteeLimits:
    """Length of the guarantee, also for openings deeper than ``deep_from_m``; its last months, for an inspection."""

    guarantee_months: Months
    deep_guarantee_months: Months
    deep_from_m: Metres
    inspection_window_months: Months


@dataclass(frozen=True)
class InspectionLimits:
    """Months after completion in which a core is inspected."""

    inspection_window_months: Months


@rule(
    "plated-too-long",
    needs=["plate_known"],
    applies_to="open",
    shows=["plated_on"],
    moving=["days", "overdue_days"],
)
def plated_too_long(cores: pd.DataFrame, limits: PlateLimits, context: AuditContext) -> Findings:
    """The core has been plated longer than allowed."""
    days = (context.as_of - days_of(cores["plated_on"])).dt.days
    return find(
        cores.assign(days=days, overdue_days=days - limits.max_plated_days)[days.gt(limits.max_plated_days)],
        "Plated for {days:day}, since {plated_on} (limit {max_plated_days:day}): {overdue_days:day} over.",
        "Check that the plate lies firm, and reinstate the core.",
        max_plated_days=limits.max_plated_days,
    )


@rule(
    "open-uncovered",
    needs=["opened_on", "reinstatement_known", "plate_known", "interim_known"],
    applies_to="open",
    moving=["days", "overdue_days"],
)
def open_uncovered(cores: pd.DataFrame, limits: UncoveredLimits, context: AuditContext) -> Findings:
    """The core has been open for days with neither a plate nor an interim reinstatement recorded."""
    days = (context.as_of - days_of(cores["opened_on"])).dt.days
    is_uncovered = cores["plate_known"].eq("no") & cores["interim_known"].eq("no")
    return find(
        cores.assign(days=days, overdue_days=days - limits.max_uncovered_days)[
            is_uncovered & days.gt(limits.max_uncovered_days)
        ],
        "Open since {opened_on} with neither a plate nor an interim reinstatement recorded ({days:day}; limit "
        "{max_uncovered_days:day}, {overdue_days:day} over).",
        "Check on site today whether the hole is guarded or plated.",
        max_uncovered_days=limits.max_uncovered_days,
    )


@rule(
    "interim-too-old",
    needs=["interim_known"],
    applies_to="open",
    shows=["interim_on"],
    moving=["overdue_days"],
)
def interim_too_old(cores: pd.DataFrame, limits: InterimLimits, context: AuditContext) -> Findings:
    """The interim reinstatement should have been made permanent by now."""
    due = months_after(days_of(cores["interim_on"]), limits.max_interim_months)
    return find(
        cores.assign(due=due, overdue_days=(context.as_of - due).dt.days)[due.lt(context.as_of)],
        "Interim reinstatement on {interim_on}; the permanent one was due by {due} (limit {max_interim_months:month}), "
        "{overdue_days:day} ago.",
        "Make it permanent.",
        max_interim_months=limits.max_interim_months,
    )


@rule(
    "permit-expired",
    needs=["permit_expires_on"],
    applies_to="open",
    shows=["permit_no"],
    moving=["overdue_days"],
)
def permit_expired(cores: pd.DataFrame, context: AuditContext) -> Findings:
    """The core is open and its permit has expired."""
    overdue = (context.as_of - days_of(cores["permit_expires_on"])).dt.days
    expired = cores.assign(overdue_days=overdue)[overdue.gt(0)]
    return find(
        expired,
        choose(
            expired["permit_no"].notna(),
            'Permit "{permit_no}" expired on {permit_expires_on}, {overdue_days:day} ago, and the core is open.',
            "The permit (no number recorded) expired on {permit_expires_on}, {overdue_days:day} ago, and the core is "
            "open.",
        ),
        for_authority(
            "Have the permit renewed before anyone works there.",
            "The utility must ask you to renew the permit before anyone works there.",
        ),
    )


@rule(
    "reinstated-without-permit",
    needs=["permit_expires_on", "reinstated_at"],
    applies_to="reinstated",
    shows=["permit_no"],
)
def reinstated_without_permit(cores: pd.DataFrame) -> Findings:
    """The core was reinstated after its permit had expired."""
    overdue = (days_of(cores["reinstated_at"]) - days_of(cores["permit_expires_on"])).dt.days
    late = cores.assign(overdue_days=overdue)[overdue.gt(0)]
    return find(
        late,
        choose(
            late["permit_no"].notna(),
            'Reinstated on {reinstated_at}, {overdue_days:day} after permit "{permit_no}" expired on '
            "{permit_expires_on}.",
            "Reinstated on {reinstated_at}, {overdue_days:day} after the permit (no number recorded) expired on "
            "{permit_expires_on}.",
        ),
        _SETTLE,
    )


@rule(
    "reopened-too-soon",
    needs=["reopened_after_min", "air_temperature_c"],
    applies_to="reinstated",
    shows=["reopened_within_min", "air_temperature_step_c"],
)
def reopened_too_soon(cores: pd.DataFrame, limits: ReopeningLimits) -> Findings:
    """The road was reopened before the grout can have hardened."""
    air = WrittenRange.of(cores["air_temperature_c"], cores["air_temperature_step_c"])
    at_most, at_least, needed = (
        return_to_service_min(
            air_c, limits.supplier_time_min, limits.supplier_temperature_c, limits.datum_temperature_c
        ).round(3)
        for air_c in (*air, cores["air_temperature_c"])
    )
    minutes = cores["reopened_after_min"]
    # the minutes may be off by as much on either side
    verdict = below(WrittenRange.of(minutes, 2 * cores["reopened_within_min"]), at_least, at_most)
    verdict = Verdict(verdict.sure & minutes.ge(0), verdict.possible & minutes.ge(0))
    soon = cores.assign(needed_min=needed)[verdict.sure]
    findings = find(
        soon,
        choose(
            np.isfinite(soon["needed_min"]),
            "Reopened {reopened_after_min:minute} after the pour at {air_temperature_c:.0f} °C, where about "
            "{needed_min:minute} are needed.",
            "Reopened {reopened_after_min:minute} after the pour at {air_temperature_c:.0f} °C, where the grout "
            "hardly hardens.",
        ),
        "Check the core for cracks and hollow spots.",
    )
    return verdict.on(findings)


@rule(
    "notice-late",
    needs=["reinstated_at", "notice_known"],
    applies_to="reinstated",
    shows=["notice_sent_on"],
    moving=["days", "overdue_days"],
)
def notice_late(cores: pd.DataFrame, limits: NoticeLimits, context: AuditContext) -> Findings:
    """The notice of completion was sent late, or has not been sent."""
    until = days_of(cores["notice_sent_on"]).fillna(context.as_of)
    done, allowed = days_of(cores["reinstated_at"]), limits.max_delay_working_days
    days = working_days_between(done, until, context.holidays)
    due = working_days_after(done, allowed, context.holidays)
    late = cores.assign(days=days, due=due, overdue_days=(until - due).dt.days)[days.gt(allowed)]
    is_sent = late["notice_sent_on"].notna()
    return find(
        late,
        choose(
            is_sent,
            "Notice of completion sent {days:.0f} working days after reinstatement (limit {max_delay_working_days:g}), "
            "{overdue_days:day} after it was due on {due}.",
            "Reinstated {days:.0f} working days ago and no notice of completion sent (limit "
            "{max_delay_working_days:g}); it was due on {due}, {overdue_days:day} ago.",
        ),
        choose(is_sent, _SETTLE, "Send it now."),
        keeps=["reinstated_at", "notice_sent_on"],
        max_delay_working_days=allowed,
    )


@rule(
    "guarantee-ending",
    needs=["reinstated_at", "inspection_known"],
    applies_to="reinstated",
    shows=["cover_m", "cover_step_m", "inspected_on"],
)
def guarantee_ending(cores: pd.DataFrame, limits: GuaranteeLimits, context: AuditContext) -> Findings:
    """The guarantee ends soon and the core has not been inspected for it."""
    is_deep = above(WrittenRange.of(cores["cover_m"], cores["cover_step_m"]), limits.deep_from_m)
    ends, ending = [], []
    for deep in is_deep:
        months = pd.Series(np.where(deep, limits.deep_guarantee_months, limits.guarantee_months), cores.index)
        end = months_after(days_of(cores["reinstated_at"]), months)
        opens = months_after(end, -limits.inspection_window_months)
        is_inspected = days_of(cores["inspected_on"]).ge(opens)
        ends.append(end)
        ending.append(opens.le(context.as_of) & end.ge(context.as_of) & ~is_inspected)
    verdict = Verdict(ending[0] & ending[1], ending[0] | ending[1])
    findings = find(
        # of a depth that may be either, the guarantee that ends first
        cores.assign(end=ends[0].where(ends[0].le(ends[1]), ends[1]))[verdict.sure],
        "The guarantee ends on {end} and the core has not been inspected in its last {window:month}.",
        for_authority("Inspect the core before then.", "The core must be inspected before then, jointly if you wish."),
        window=limits.inspection_window_months,
    )
    return verdict.on(findings)


@rule(
    "inspection-missed",
    needs=["reinstated_at", "inspection_known"],
    applies_to="reinstated",
    shows=["inspected_on"],
    moving=["overdue_days"],
)
def inspection_missed(cores: pd.DataFrame, limits: InspectionLimits, context: AuditContext) -> Findings:
    """The time for the inspection after completion has passed without one."""
    end = months_after(days_of(cores["reinstated_at"]), limits.inspection_window_months)
    is_inspected = days_of(cores["inspected_on"]).le(end)
    return find(
        cores.assign(end=end, overdue_days=(context.as_of - end).dt.days)[end.lt(context.as_of) & ~is_inspected],
        "Not inspected within {window:month} of completion, that is by {end}, {overdue_days:day} ago.",
        for_authority(
            "Add it to the next round of inspections.",
            "The core must still be inspected: you can add it to the next round.",
        ),
        window=limits.inspection_window_months,
    )
