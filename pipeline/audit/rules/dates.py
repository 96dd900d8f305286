"""Rules on dates: unreadable, in the future, out of order; and cores open too long."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Final

import pandas as pd

from pipeline.audit.figures import days_of
from pipeline.audit.findings import LABELS, Findings, Item, ItemKind, find, found_items
from pipeline.audit.for_authority import for_authority
from pipeline.audit.limits import Day, Days
from pipeline.audit.registry import AuditContext, rule
from pipeline.audit.written_ranges import Verdict, WrittenRange, below
from pipeline.contracts import REGISTER_COLUMNS

_DATES: Final = tuple(column.name for column in REGISTER_COLUMNS if column.kind == "instant")
_OTHER_DATES: Final = tuple(name for name in _DATES if name != "reinstated_at")
# what has happened, in the order in which it happens; a plan or a permit may lie ahead
_EVENTS: Final = (
    "opened_on",
    "plated_on",
    "backfilled_on",
    "interim_on",
    "reinstated_at",
    "reopened_at",
    "notice_sent_on",
    "inspected_on",
)
# a plate may go on before or after the backfill
_ORDER: Final = (
    ("opened_on", "plated_on"),
    ("opened_on", "backfilled_on"),
    ("opened_on", "interim_on"),
    ("opened_on", "reinstated_at"),
    ("opened_on", "reopened_at"),
    ("opened_on", "inspected_on"),
    ("interim_on", "reinstated_at"),
    ("plated_on", "reinstated_at"),
    ("backfilled_on", "reinstated_at"),
    ("reinstated_at", "reopened_at"),
)
_UNREADABLE: Final = '{label:term} "{text}" is not a date'
_UNREADABLE_BECAUSE: Final = {
    "day or month first": for_authority(
        '{label:term} "{text}" may begin with the day or the month (set cores.day_first)',
        '{label:term} "{text}" may begin with the day or the month',
    ),
    "spreadsheet serial number": for_authority(
        '{label:term} "{text}" may be the serial number of a spreadsheet (set cores.dates)',
        '{label:term} "{text}" may be the serial number of a spreadsheet',
    ),
}


@dataclass(frozen=True)
class EarliestLimits:
    """Earliest plausible date."""

    earliest: Day


@dataclass(frozen=True)
class OpenLimits:
    """How long a core may stay open."""

    max_open_days: Days


def _unreadable_cells(cores: pd.DataFrame, names: Iterable[str]) -> Findings:
    problems = cores[[f"{name}_problem" for name in names]].set_axis([*names], axis="columns")
    kinds = []
    unreadable = problems.columns[problems.notna().any()]
    for name in unreadable:
        template = problems[name].map(_UNREADABLE_BECAUSE).fillna(_UNREADABLE).where(problems[name].notna())
        values = {"label": LABELS[name], "text": cores[f"{name}_text"]}
        kinds += [
            ItemKind(template.eq(one), one, values, {"text": f"{name}_text"})
            for one in (_UNREADABLE, *_UNREADABLE_BECAUSE.values())
        ]
    return find(
        cores[problems[unreadable].notna().any(axis="columns")],
        "{cells}.",
        for_authority(
            "Correct the register; a date such as 2026-09-30 is always understood.",
            "The utility must correct the register.",
        ),
        {"cells": found_items(kinds)},
    )


@rule(
    "date-unreadable",
    needs_any=[f"{name}_text" for name in _OTHER_DATES],
    shows=[f"{name}_problem" for name in _OTHER_DATES],
)
def date_unreadable(cores: pd.DataFrame) -> Findings:
    """A date cannot be read."""
    return _unreadable_cells(cores, _OTHER_DATES)


@rule("reinstatement-date-unreadable", needs=["reinstated_at_text"], shows=["reinstated_at_problem"])
def reinstatement_date_unreadable(cores: pd.DataFrame) -> Findings:
    """The reinstatement date cannot be read, so it is unclear whether the core has been reinstated."""
    return _unreadable_cells(cores, ("reinstated_at",))


def _dated(cores: pd.DataFrame, wrong: Mapping[str, pd.Series]) -> list[Item]:
    """The wrong dates of N cores, where ``wrong`` has for each column which of them are."""
    return found_items(
        ItemKind(has, "{label:term} {date}", {"label": LABELS[name], "date": days_of(cores[name])}, {"date": name})
        for name, has in wrong.items()
    )


@rule("date-implausible", needs_any=_DATES)
def date_implausible(cores: pd.DataFrame, limits: EarliestLimits) -> Findings:
    """A date is earlier than any core of the programme can have been cut."""
    early = {name: days_of(cores[name]) < limits.earliest for name in _DATES}
    return find(
        cores[pd.DataFrame(early).any(axis="columns")],
        "Too early to be true: {dates} (earliest plausible date {earliest}).",
        "Correct the register.",
        {"dates": _dated(cores, early)},
        earliest=limits.earliest,
    )


@rule("date-in-future", needs_any=_EVENTS, moving=["as_of"])
def date_in_future(cores: pd.DataFrame, context: AuditContext) -> Findings:
    """A date lies after the audit date."""
    ahead = {name: days_of(cores[name]) > context.as_of for name in _EVENTS}
    return find(
        cores[pd.DataFrame(ahead).any(axis="columns")],
        "Dated after the audit on {as_of}: {dates}.",
        "Correct the register.",
        {"dates": _dated(cores, ahead)},
        as_of=context.as_of,
    )


@rule(
    "dates-out-of-order",
    needs_any=_EVENTS,
    at_least=2,
    shows=["reopened_after_min", "reopened_within_min"],
)
def dates_out_of_order(cores: pd.DataFrame) -> Findings:
    """A later step of the work is dated before an earlier one."""
    days = {name: days_of(cores[name]) for name in _EVENTS}
    kinds = [
        ItemKind(
            days[later] < days[earlier],
            "{later:term} {later_date} is before {earlier:term} {earlier_date}",
            {
                "later": LABELS[later],
                "later_date": days[later],
                "earlier": LABELS[earlier],
                "earlier_date": days[earlier],
            },
            {"later_date": later, "earlier_date": earlier},
        )
        for earlier, later in _ORDER
    ]
    reopened = _reopened_first(cores, days)
    kinds.append(
        ItemKind(
            reopened.sure,
            "{later:term} {later_date} is {minutes:minute} before {earlier:term}",
            {
                "later": LABELS["reopened_at"],
                "later_date": days["reopened_at"],
                "earlier": LABELS["reinstated_at"],
                "minutes": -cores["reopened_after_min"],
            },
            {"later_date": "reopened_at"},
        )
    )
    is_wrong = pd.concat([kind.has for kind in kinds], axis="columns").any(axis="columns")
    findings = find(
        cores[is_wrong],
        "Dates out of order: {pairs}.",
        "Correct the register.",
        {"pairs": found_items(kinds)},
    )
    return Verdict(is_wrong, is_wrong | reopened.possible).on(findings)


def _reopened_first(cores: pd.DataFrame, days: Mapping[str, pd.Series]) -> Verdict:
    """Return whether the roads of N cores were reopened, by the times of one day, before these were reinstated."""
    # the minutes may be off by as much on either side
    verdict = below(WrittenRange.of(cores["reopened_after_min"], 2 * cores["reopened_within_min"]), 0.0)
    is_timed = days["reopened_at"].eq(days["reinstated_at"])
    for name in ("reinstated_at", "reopened_at"):
        # programs write midnight for a date alone
        is_timed &= cores[name].dt.tz_localize(None).ne(days[name])
    return Verdict(verdict.sure & is_timed, verdict.possible & is_timed)


@rule(
    "open-too-long",
    needs=["opened_on"],
    applies_to="open",
    shows=["interim_on"],
    moving=["days", "overdue_days"],
)
def open_too_long(cores: pd.DataFrame, limits: OpenLimits, context: AuditContext) -> Findings:
    """The core has been open longer than allowed."""
    # an interim reinstatement has a limit of its own
    days = (context.as_of - days_of(cores["opened_on"])).dt.days
    return find(
        cores.assign(days=days, overdue_days=days - limits.max_open_days)[
            days.gt(limits.max_open_days) & cores["interim_on"].isna()
        ],
        "Open for {days:day}, since {opened_on} (limit {max_open_days:day}): {overdue_days:day} over.",
        "Reinstate it now.",
        max_open_days=limits.max_open_days,
    )
