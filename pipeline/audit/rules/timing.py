"""Rules on time: plates, interim reinstatements, permits, reopening, notices, guarantees and inspections."""

from dataclasses import dataclass

import numpy as np
import pandas as pd

from pipeline.audit.figures import days_of
from pipeline.audit.findings import Findings, choose, find
from pipeline.audit.limits import Celsius, Days, Metres, Minutes, Months, WorkingDays, months_after
from pipeline.audit.registry import AuditContext, rule
from pipeline.workdays import working_days_between

__all__ = ["return_to_service_min"]

_SETTLE = "Settle it with the road authority."


@dataclass(frozen=True)
class PlateLimits:
    """How long a plate may lie over an open core."""

    max_plated_days: Days


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


@rule("plated-too-long", needs=["plate_known"], applies_to="open", shows=["plated_on"], moving=["days"])
def plated_too_long(cores: pd.DataFrame, limits: PlateLimits, context: AuditContext) -> Findings:
    """The core has been plated longer than allowed."""
    days = (context.as_of - days_of(cores["plated_on"])).dt.days
    return find(
        cores.assign(days=days)[days.gt(limits.max_plated_days)],
        "Plated for {days:day}, since {plated_on} (limit {max_plated_days:day}).",
        "Check that the plate lies firm, and reinstate the core.",
        max_plated_days=limits.max_plated_days,
    )


@rule("interim-too-old", needs=["interim_known"], applies_to="open", shows=["interim_on"])
def interim_too_old(cores: pd.DataFrame, limits: InterimLimits, context: AuditContext) -> Findings:
    """The interim reinstatement should have been made permanent by now."""
    due = months_after(days_of(cores["interim_on"]), limits.max_interim_months)
    return find(
        cores.assign(due=due)[due.lt(context.as_of)],
        "Interim reinstatement on {interim_on}; the permanent one was due by {due} (limit {max_interim_months:month}).",
        "Make it permanent.",
        max_interim_months=limits.max_interim_months,
    )


@rule("permit-expired", needs=["permit_expires_on"], applies_to="open", shows=["permit_no"])
def permit_expired(cores: pd.DataFrame, context: AuditContext) -> Findings:
    """The core is open and its permit has expired."""
    expired = cores[days_of(cores["permit_expires_on"]).lt(context.as_of)]
    return find(
        expired,
        choose(
            expired["permit_no"].notna(),
            'Permit "{permit_no}" expired on {permit_expires_on} and the core is open.',
            "The permit (no number recorded) expired on {permit_expires_on} and the core is open.",
        ),
        "Have the permit renewed before anyone works there.",
    )


@rule(
    "reinstated-without-permit",
    needs=["permit_expires_on", "reinstated_at"],
    applies_to="reinstated",
    shows=["permit_no"],
)
def reinstated_without_permit(cores: pd.DataFrame) -> Findings:
    """The core was reinstated after its permit had expired."""
    late = cores[days_of(cores["permit_expires_on"]).lt(days_of(cores["reinstated_at"]))]
    return find(
        late,
        choose(
            late["permit_no"].notna(),
            'Reinstated on {reinstated_at}, after permit "{permit_no}" expired on {permit_expires_on}.',
            "Reinstated on {reinstated_at}, after the permit (no number recorded) expired on {permit_expires_on}.",
        ),
        _SETTLE,
    )


def return_to_service_min(air_c: pd.Series, supplier_min: Minutes, supplier_c: Celsius, datum_c: Celsius) -> pd.Series:
    """Return the minutes before traffic at an air temperature: the supplier's time, longer where it was colder.

    Maturity after Nurse and Saul, M = sum of (T - datum) x time (ASTM C1074): the maturity of the supplier's time at
    the supplier's temperature is reached at temperature T after time x (supplier_c - datum) / (T - datum). Never less
    than the supplier's time; infinite at or below the datum. A sanity figure: C1074 requires the mix to be calibrated.

    Parameters
    ----------
    air_c
        N temperatures, degrees Celsius.
    supplier_min, supplier_c, datum_c
        The supplier's time, the temperature it is stated for, the temperature at which nothing hardens.
    """
    above = air_c - datum_c
    scaled = supplier_min * (supplier_c - datum_c) / above.where(above.gt(0))
    return scaled.where(scaled.gt(supplier_min), supplier_min).where(above.gt(0), np.inf)


@rule("reopened-too-soon", needs=["reopened_after_min", "air_temperature_c"], applies_to="reinstated")
def reopened_too_soon(cores: pd.DataFrame, limits: ReopeningLimits) -> Findings:
    """The road was reopened before the grout can have hardened."""
    needed = return_to_service_min(
        cores["air_temperature_c"], limits.supplier_time_min, limits.supplier_temperature_c, limits.datum_temperature_c
    ).round(3)
    minutes = cores["reopened_after_min"]
    soon = cores.assign(needed_min=needed)[minutes.ge(0) & minutes.lt(needed)]
    return find(
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


@rule(
    "notice-late",
    needs=["reinstated_at", "notice_known"],
    applies_to="reinstated",
    shows=["notice_sent_on"],
    moving=["days"],
)
def notice_late(cores: pd.DataFrame, limits: NoticeLimits, context: AuditContext) -> Findings:
    """The notice of completion was sent late, or has not been sent."""
    until = days_of(cores["notice_sent_on"]).fillna(context.as_of)
    days = working_days_between(days_of(cores["reinstated_at"]), until, context.holidays)
    late = cores.assign(days=days)[days.gt(limits.max_delay_working_days)]
    is_sent = late["notice_sent_on"].notna()
    return find(
        late,
        choose(
            is_sent,
            "Notice of completion sent {days:.0f} working days after reinstatement (limit {max_delay_working_days:g}).",
            "Reinstated {days:.0f} working days ago and no notice of completion sent (limit "
            "{max_delay_working_days:g}).",
        ),
        choose(is_sent, _SETTLE, "Send it now."),
        keeps=["reinstated_at", "notice_sent_on"],
        max_delay_working_days=limits.max_delay_working_days,
    )


@rule(
    "guarantee-ending",
    needs=["reinstated_at", "inspection_known"],
    applies_to="reinstated",
    shows=["cover_m", "inspected_on"],
)
def guarantee_ending(cores: pd.DataFrame, limits: GuaranteeLimits, context: AuditContext) -> Findings:
    """The guarantee ends soon and the core has not been inspected for it."""
    is_deep = cores["cover_m"].gt(limits.deep_from_m)
    months = pd.Series(np.where(is_deep, limits.deep_guarantee_months, limits.guarantee_months), cores.index)
    end = months_after(days_of(cores["reinstated_at"]), months)
    opens = months_after(end, -limits.inspection_window_months)
    is_inspected = days_of(cores["inspected_on"]).ge(opens)
    return find(
        cores.assign(end=end)[opens.le(context.as_of) & end.ge(context.as_of) & ~is_inspected],
        "The guarantee ends on {end} and the core has not been inspected in its last {window:month}.",
        "Inspect the core before then.",
        window=limits.inspection_window_months,
    )


@rule(
    "inspection-missed",
    needs=["reinstated_at", "inspection_known"],
    applies_to="reinstated",
    shows=["inspected_on"],
)
def inspection_missed(cores: pd.DataFrame, limits: InspectionLimits, context: AuditContext) -> Findings:
    """The time for the inspection after completion has passed without one."""
    end = months_after(days_of(cores["reinstated_at"]), limits.inspection_window_months)
    is_inspected = days_of(cores["inspected_on"]).le(end)
    return find(
        cores.assign(end=end)[end.lt(context.as_of) & ~is_inspected],
        "Not inspected within {window:month} of completion, that is by {end}.",
        "Add it to the next round of inspections.",
        window=limits.inspection_window_months,
    )
