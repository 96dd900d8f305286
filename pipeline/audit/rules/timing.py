"""Rules on time: plates, interim work, permits, reopening, notices, guarantee and inspections."""

import numpy as np
import pandas as pd

from pipeline.audit.figures import days_of
from pipeline.audit.findings import find
from pipeline.audit.limits import months_after
from pipeline.audit.registry import Limits, rule
from pipeline.workdays import working_days_between

__all__ = ["return_to_service_min"]


@rule(
    "plated-too-long",
    family="timing",
    needs=["plate_known"],
    limits={"limit": "day"},
    concerns="open",
    shows=["plated_on"],
)
def plated_too_long(cores: pd.DataFrame, limits: Limits) -> pd.DataFrame:
    """The plate has been down longer than allowed."""
    days = (pd.Timestamp(limits.as_of) - days_of(cores["plated_on"])).dt.days
    return find(
        cores.assign(days=days)[days.gt(limits.limit)],
        "The plate has been down for {days} days, since {plated_on}; {limit:.0f} days are allowed. "
        "Check that it lies firm, and reinstate.",
        limit=limits.limit,
    )


@rule(
    "interim-too-old",
    family="timing",
    needs=["interim_known"],
    limits={"limit": "month"},
    concerns="open",
    shows=["interim_on"],
)
def interim_too_old(cores: pd.DataFrame, limits: Limits) -> pd.DataFrame:
    """The interim reinstatement should have been made permanent by now."""
    due = months_after(days_of(cores["interim_on"]), limits.limit)
    return find(
        cores.assign(due=due)[due.lt(pd.Timestamp(limits.as_of))],
        "Interim since {interim_on}, to be permanent within {limit:.0f} months, by {due}: make it permanent.",
        limit=limits.limit,
    )


@rule("permit-expired", family="timing", needs=["permit_expires_on"], concerns="open", shows=["permit_no"])
def permit_expired(cores: pd.DataFrame, limits: Limits) -> pd.DataFrame:
    """The core is not back, and its permit has expired."""
    expired = days_of(cores["permit_expires_on"]).lt(pd.Timestamp(limits.as_of))
    return find(
        cores[expired].fillna({"permit_no": "without number"}),
        "The permit ({permit_no}) expired on {permit_expires_on} and the core is not back: "
        "have it extended before anyone works there.",
    )


@rule(
    "reinstated-without-permit",
    family="timing",
    needs=["permit_expires_on", "reinstated_at"],
    concerns="back",
    shows=["permit_no"],
)
def reinstated_without_permit(cores: pd.DataFrame, limits: Limits) -> pd.DataFrame:  # noqa: ARG001
    """The core was put back after its permit had expired."""
    late = days_of(cores["permit_expires_on"]).lt(days_of(cores["reinstated_at"]))
    return find(
        cores[late].fillna({"permit_no": "without number"}),
        "Put back on {reinstated_at}, after the permit ({permit_no}) expired on {permit_expires_on}: "
        "settle it with the road authority.",
    )


def return_to_service_min(
    air_c: pd.Series, supplier_min: float | pd.Series, at_c: float | pd.Series, datum_c: float | pd.Series
) -> pd.Series:
    """Return the minutes before traffic at an air temperature: the supplier's, longer where it was colder.

    Maturity by Nurse and Saul, M = sum of (T - datum) x time (ASTM C1074): the supplier's time at the supplier's
    temperature, reached at another temperature after time x (at - datum) / (T - datum). Never shorter than the
    supplier says; without end at or below the datum. A sanity figure: C1074 asks for a calibration of the mix.

    Parameters
    ----------
    air_c
        N temperatures, degrees Celsius.
    supplier_min, at_c, datum_c
        The supplier's time, the temperature it is stated for, the temperature at which nothing hardens.
    """
    above = air_c - datum_c
    scaled = supplier_min * (at_c - datum_c) / above.where(above.gt(0))
    return scaled.where(scaled.gt(supplier_min), supplier_min).where(above.gt(0), np.inf)


@rule(
    "reopened-too-soon",
    family="timing",
    needs=["reopened_after_min", "air_temperature_c"],
    limits={"supplier_time": "min", "at": "degC", "datum": "degC"},
    concerns="back",
)
def reopened_too_soon(cores: pd.DataFrame, limits: Limits) -> pd.DataFrame:
    """The road was reopened before the grout can have hardened in the cold, or at all."""
    wanted = return_to_service_min(cores["air_temperature_c"], limits.supplier_time, limits.at, limits.datum).round(3)
    soon = cores.assign(wanted=wanted)[cores["reopened_after_min"].ge(0) & cores["reopened_after_min"].lt(wanted)]
    endless = np.isinf(soon["wanted"])
    opening = "Reopened {reopened_after_min:.0f} minutes after the pour at {air_temperature_c:.0f} degC; "
    return pd.concat(
        [
            find(soon[~endless], opening + "about {wanted:.0f} are wanted there: sound the core and look for cracks."),
            find(soon[endless], opening + "grout hardly hardens at that: sound the core and look for cracks."),
        ]
    )


@rule(
    "notice-late",
    family="timing",
    needs=["reinstated_at", "notice_known"],
    limits={"limit": "working day"},
    concerns="back",
    shows=["notice_sent_on"],
)
def notice_late(cores: pd.DataFrame, limits: Limits) -> pd.DataFrame:
    """The road authority was told of the completion too late, or has not been told."""
    sent = days_of(cores["notice_sent_on"])
    until = sent.fillna(pd.Timestamp(limits.as_of))
    days = working_days_between(days_of(cores["reinstated_at"]), until, limits.holidays)
    late = cores.assign(days=days)[days.gt(limits.limit)]
    told = late["notice_sent_on"].notna()
    ending = "{limit:.0f} are allowed. "
    return pd.concat(
        [
            find(
                late[told],
                "Notice of completion was sent {days:.0f} working days after it; "
                + ending
                + "Settle it with the road authority.",
                limit=limits.limit,
            ),
            find(
                late[~told],
                "Put back {days:.0f} working days ago and no notice of completion sent; " + ending + "Send it.",
                limit=limits.limit,
            ),
        ]
    )


@rule(
    "guarantee-ending",
    family="timing",
    needs=["reinstated_at", "inspection_known"],
    limits={"guarantee": "month", "deep": "month", "deep_from": "m", "window": "month"},
    concerns="back",
    shows=["cover_m", "inspected_on"],
)
def guarantee_ending(cores: pd.DataFrame, limits: Limits) -> pd.DataFrame:
    """The guarantee ends soon, and the core has not been inspected for it."""
    deep = cores["cover_m"].gt(limits.deep_from)
    months = pd.Series(np.where(deep, limits.deep, limits.guarantee), cores.index)
    end = months_after(days_of(cores["reinstated_at"]), months)
    opens = months_after(end, -limits.window)
    as_of = pd.Timestamp(limits.as_of)
    seen = days_of(cores["inspected_on"]).ge(opens)
    return find(
        cores.assign(end=end)[opens.le(as_of) & end.ge(as_of) & ~seen],
        "The guarantee ends on {end} and nobody has looked at the core in its last months: inspect it before then.",
    )


@rule(
    "inspection-missed",
    family="timing",
    needs=["reinstated_at", "inspection_known"],
    limits={"window": "month"},
    concerns="back",
    shows=["inspected_on"],
)
def inspection_missed(cores: pd.DataFrame, limits: Limits) -> pd.DataFrame:
    """The time for the inspection after completion has passed without one."""
    end = months_after(days_of(cores["reinstated_at"]), limits.window)
    seen = days_of(cores["inspected_on"]).le(end)
    return find(
        cores.assign(end=end)[end.lt(pd.Timestamp(limits.as_of)) & ~seen],
        "No inspection within {window:.0f} months of completion, by {end}: choose it for the next round.",
        window=limits.window,
    )
