"""Rules on dates: unreadable, in the future, out of order; and cores open too long."""

from collections.abc import Callable
from typing import Final

import numpy as np
import pandas as pd

from pipeline.audit.figures import days_of
from pipeline.audit.findings import find
from pipeline.audit.registry import Limits, rule
from pipeline.contracts import REGISTER_COLUMNS

_DATES: Final = tuple(column.name for column in REGISTER_COLUMNS if column.kind == "instant")
# what has happened, in the order it happens; a plan or a permit may lie ahead
_HAPPENED: Final = {
    "opened_on": "opened",
    "plated_on": "plated",
    "backfilled_on": "backfilled",
    "interim_on": "interim reinstatement",
    "reinstated_at": "reinstated",
    "reopened_at": "reopened",
    "notice_sent_on": "notice sent",
    "inspected_on": "inspected",
}
_WHY: Final = {
    "day or month first": " (day or month first? cores.day_first says it)",
    "spreadsheet serial number": " (a spreadsheet's serial number)",
}
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


def _written(instants: pd.Series) -> pd.Series:
    written: pd.Series = instants.dt.strftime("%Y-%m-%d")
    return written


def _told(
    cores: pd.DataFrame, wrong: dict[str, pd.Series], words: Callable[[pd.DataFrame, str], pd.Series]
) -> pd.DataFrame:
    """The cores that are wrong in any way, with ``said``: the words for each way, joined by commas.

    ``wrong`` tells for each way which of N cores are; ``words`` puts one way into words.
    """
    masks = pd.DataFrame(wrong, index=cores.index)
    bad = cores[masks.any(axis="columns")]
    said = pd.Series("", bad.index, dtype="str")
    for way in wrong:
        part = words(bad, way).where(masks.loc[bad.index, way], "")
        said = said + np.where((said != "") & (part != ""), ", ", "") + part
    return bad.assign(said=said)


def _unreadable(cores: pd.DataFrame, names: tuple[str, ...]) -> pd.DataFrame:
    def words(bad: pd.DataFrame, name: str) -> pd.Series:
        why = bad[f"{name}_problem"].map(_WHY).fillna("")
        return f"{name} " + bad[f"{name}_text"] + why

    told = _told(cores, {name: cores[f"{name}_problem"].notna() for name in names}, words)
    return find(told, "Not a date that can be read: {said}. Correct it; 2026-09-30 is how any date can be written.")


@rule(
    "date-unreadable",
    family="dates",
    needs_any=[f"{name}_text" for name in _DATES if name != "reinstated_at"],
    shows=[f"{name}_problem" for name in _DATES if name != "reinstated_at"],
)
def date_unreadable(cores: pd.DataFrame, limits: Limits) -> pd.DataFrame:  # noqa: ARG001
    """A date cannot be read."""
    return _unreadable(cores, tuple(name for name in _DATES if name != "reinstated_at"))


@rule("reinstatement-date-unreadable", family="dates", needs=["reinstated_at_text"], shows=["reinstated_at_problem"])
def reinstatement_date_unreadable(cores: pd.DataFrame, limits: Limits) -> pd.DataFrame:  # noqa: ARG001
    """The date of reinstatement cannot be read: whether the core is back is not known."""
    return _unreadable(cores, ("reinstated_at",))


@rule("date-implausible", family="dates", needs_any=_DATES, limits={"earliest": "date"})
def date_implausible(cores: pd.DataFrame, limits: Limits) -> pd.DataFrame:
    """A date lies before any core of the programme can have been cut."""
    early = {name: days_of(cores[name]) < limits.earliest for name in _DATES}
    return find(
        _told(cores, early, lambda bad, name: f"{name} " + _written(bad[name])),
        "Too early to be true: {said} (before {earliest}). Correct it.",
        earliest=limits.earliest,
    )


@rule("date-in-future", family="dates", needs_any=tuple(_HAPPENED))
def date_in_future(cores: pd.DataFrame, limits: Limits) -> pd.DataFrame:
    """Something is said to have happened after the day of the audit."""
    ahead = {name: days_of(cores[name]) > pd.Timestamp(limits.as_of) for name in _HAPPENED}
    return find(
        _told(cores, ahead, lambda bad, name: f"{_HAPPENED[name]} " + _written(bad[name])),
        "Has not happened yet on {as_of}: {said}. Correct the date.",
        as_of=limits.as_of.isoformat(),
    )


@rule("dates-out-of-order", family="dates", needs_any=tuple(_HAPPENED), at_least=2)
def dates_out_of_order(cores: pd.DataFrame, limits: Limits) -> pd.DataFrame:  # noqa: ARG001
    """What comes later in the work is dated earlier."""

    def words(bad: pd.DataFrame, pair: str) -> pd.Series:
        earlier, later = pair.split()
        return f"{_HAPPENED[later]} " + _written(bad[later]) + f" before {_HAPPENED[earlier]} " + _written(bad[earlier])

    days = {name: days_of(cores[name]) for name in _HAPPENED}
    wrong = {f"{earlier} {later}": days[later] < days[earlier] for earlier, later in _ORDER}
    return find(_told(cores, wrong, words), "Dates out of order: {said}. Correct the record.")


@rule(
    "open-too-long", family="dates", needs=["opened_on"], limits={"limit": "day"}, concerns="open", shows=["interim_on"]
)
def open_too_long(cores: pd.DataFrame, limits: Limits) -> pd.DataFrame:
    """The core is not back, and the road has been open longer than allowed."""
    # an interim reinstatement has a term of its own
    days = (pd.Timestamp(limits.as_of) - days_of(cores["opened_on"])).dt.days
    late = cores.assign(days=days)[days.gt(limits.limit) & cores["interim_on"].isna()]
    return find(
        late,
        "Open for {days} days, since {opened_on}; {limit:.0f} days are allowed. Reinstate it now.",
        limit=limits.limit,
    )
