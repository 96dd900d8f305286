"""Rules on dates: unreadable, in the future, out of order; and cores open too long."""

from typing import Final

import numpy as np
import pandas as pd

from pipeline.audit.registry import Limits, rule
from pipeline.audit.sentences import find
from pipeline.contracts import REGISTER_COLUMNS

_DATES: Final = tuple(column.name for column in REGISTER_COLUMNS if column.kind == "instant")
# what has happened, in the order it happens; a plan or a permit may lie ahead
_HAPPENED: Final = {
    "opened_on": "opened",
    "plated_on": "plated",
    "backfilled_on": "backfilled",
    "reinstated_at": "reinstated",
    "reopened_at": "reopened",
    "inspected_on": "inspected",
}
# a plate may go on before or after the backfill
_ORDER: Final = (
    ("opened_on", "plated_on"),
    ("opened_on", "backfilled_on"),
    ("opened_on", "reinstated_at"),
    ("opened_on", "reopened_at"),
    ("opened_on", "inspected_on"),
    ("plated_on", "reinstated_at"),
    ("backfilled_on", "reinstated_at"),
    ("reinstated_at", "reopened_at"),
)


def _day(instants: pd.Series) -> pd.Series:
    """The day by the clocks there: a date without a time says nothing about the order within its day."""
    day: pd.Series = instants.dt.tz_localize(None).dt.normalize()
    return day


def _join(parts: dict[str, pd.Series], index: pd.Index) -> pd.Series:
    said = pd.Series("", index, dtype="str")
    for part in parts.values():
        said = said + np.where((said != "") & (part != ""), ", ", "") + part
    return said


def _unreadable(cores: pd.DataFrame, names: tuple[str, ...]) -> pd.DataFrame:
    parts = {}
    for name in names:
        problem = cores[f"{name}_problem"]
        cell = name + " " + cores[f"{name}_text"].astype("str") + problem.where(problem.ne("unreadable"), "").radd(" ")
        parts[name] = cell.str.strip().where(problem.notna(), "")
    said = _join(parts, cores.index)
    return find(cores.assign(said=said)[said.ne("")], "Not a date that can be read: {said}. Write it as 2026-09-30.")


@rule("date-unreadable", family="dates")
def date_unreadable(cores: pd.DataFrame, limits: Limits) -> pd.DataFrame:  # noqa: ARG001
    """A date cannot be read."""
    return _unreadable(cores, tuple(name for name in _DATES if name != "reinstated_at"))


@rule("reinstatement-date-unreadable", family="dates")
def reinstatement_date_unreadable(cores: pd.DataFrame, limits: Limits) -> pd.DataFrame:  # noqa: ARG001
    """The date of reinstatement cannot be read: whether the core is back is not known."""
    return _unreadable(cores, ("reinstated_at",))


@rule("date-implausible", family="dates", needs_any=_DATES, limits={"earliest": "date"})
def date_implausible(cores: pd.DataFrame, limits: Limits) -> pd.DataFrame:
    """A date lies before any core of the programme can have been cut."""
    parts = {}
    for name in _DATES:
        early = _day(cores[name]) < pd.Timestamp(limits.earliest)
        parts[name] = (name + " " + cores[name].dt.strftime("%Y-%m-%d")).where(early, "")
    said = _join(parts, cores.index)
    return find(
        cores.assign(said=said)[said.ne("")],
        "Too early to be true: {said} (before {earliest}). Correct it.",
        earliest=limits.earliest.isoformat(),
    )


@rule("date-in-future", family="dates", needs_any=tuple(_HAPPENED))
def date_in_future(cores: pd.DataFrame, limits: Limits) -> pd.DataFrame:
    """Something is said to have happened after the day of the audit."""
    parts = {}
    for name, word in _HAPPENED.items():
        ahead = _day(cores[name]) > pd.Timestamp(limits.as_of)
        parts[name] = (word + " " + cores[name].dt.strftime("%Y-%m-%d")).where(ahead, "")
    said = _join(parts, cores.index)
    return find(
        cores.assign(said=said)[said.ne("")],
        "Has not happened yet on {as_of}: {said}. Correct the date.",
        as_of=limits.as_of.isoformat(),
    )


@rule("dates-out-of-order", family="dates", needs_any=tuple(_HAPPENED), at_least=2)
def dates_out_of_order(cores: pd.DataFrame, limits: Limits) -> pd.DataFrame:  # noqa: ARG001
    """What comes later in the work is dated earlier."""
    parts = {}
    for earlier, later in _ORDER:
        wrong = _day(cores[later]) < _day(cores[earlier])
        said = (
            f"{_HAPPENED[later]} " + cores[later].dt.strftime("%Y-%m-%d")
            + f" before {_HAPPENED[earlier]} " + cores[earlier].dt.strftime("%Y-%m-%d")
        )  # fmt: skip
        parts[f"{earlier} {later}"] = said.where(wrong, "")
    said = _join(parts, cores.index)
    return find(cores.assign(said=said)[said.ne("")], "Dates out of order: {said}. Correct the record.")


@rule("open-too-long", family="dates", needs=["opened_on"], limits={"limit": "day"})
def open_too_long(cores: pd.DataFrame, limits: Limits) -> pd.DataFrame:
    """The core is not back, and the road has been open longer than allowed."""
    days = (pd.Timestamp(limits.as_of) - _day(cores["opened_on"])).dt.days
    late = cores.assign(days=days)[cores["is_open"] & days.gt(limits.limit)]
    return find(
        late,
        "Open for {days} days, since {opened_on}; {limit:.0f} days are allowed. Reinstate it now.",
        limit=limits.limit,
    )
