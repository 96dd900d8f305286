"""The order of day and month, as far as the dates themselves show it."""

from collections.abc import Iterable
from typing import Final, NamedTuple

import pandas as pd

from pipeline.wording import counted

__all__ = ["SLIPS", "DateOrder", "contradiction", "count_orders", "total_order"]

# so many dates in the other order are slips of their rows; more of them are the order of the column
SLIPS: Final = 2
_SLIPS_SHARE: Final = 0.02

_PARTS: Final = r"^(?P<first>[0-9]{1,2})(?P<mark>[-/.])(?P<second>[0-9]{1,2})(?P=mark)(?:[0-9]{4}|[0-9]{2})(?![0-9])"
# a date, and the character after it
_LONGEST: Final = len("25/03/2026") + 1
_MOST_MONTHS: Final = 12
_MOST_DAYS: Final = 31


class DateOrder(NamedTuple):
    """How many dates can only be day first, only month first, or either, each with an example ("" if there is none)."""

    day_first: int = 0
    month_first: int = 0
    either: int = 0
    day_first_example: str = ""
    month_first_example: str = ""
    either_example: str = ""


def count_orders(text: pd.Series) -> DateOrder:
    """Return what the cells of a column show about the order of day and month.

    Dates such as 2026-09-30 or 30 Sep 2026 show nothing; nor does 05/05/2026, which is the same day in both orders.
    """
    # a time of day after the date would make nearly every cell distinct
    counts = text.str.strip().str.slice(0, _LONGEST).str.strip().value_counts(sort=False)
    written = pd.Series(counts.index, dtype="str")
    parts = written.str.extract(_PARTS)
    first, second = pd.to_numeric(parts["first"]), pd.to_numeric(parts["second"])
    day, month = (_MOST_MONTHS + 1, _MOST_DAYS), (1, _MOST_MONTHS)
    kinds = (
        first.between(*day) & second.between(*month),
        first.between(*month) & second.between(*day),
        first.between(*month) & second.between(*month) & first.ne(second),
    )
    times = counts.to_numpy()
    day_first, month_first, either = (int(times[kind.to_numpy()].sum()) for kind in kinds)
    examples = (str(written[kind].iloc[0]) if kind.any() else "" for kind in kinds)
    return DateOrder(day_first, month_first, either, *examples)


def total_order(orders: Iterable[DateOrder]) -> DateOrder:
    """Return the counts of several columns together, each example from the first column that has one."""
    rows = list(orders)
    return DateOrder(
        sum(row.day_first for row in rows),
        sum(row.month_first for row in rows),
        sum(row.either for row in rows),
        next((row.day_first_example for row in rows if row.day_first_example), ""),
        next((row.month_first_example for row in rows if row.month_first_example), ""),
        next((row.either_example for row in rows if row.either_example), ""),
    )


def contradiction(order: DateOrder, together: DateOrder, key: str, *, day_first: bool) -> str:
    """Return what contradicts a setting, for an error: "has 3 dates that can only be ..."; empty if nothing does.

    Parameters
    ----------
    order
        What the cells of a column show.
    together
        What all dates of its file show: a slip is one only where other dates are in the order that is set.
    key
        The key of the setting, for the error.
    day_first
        The setting.
    """
    against, example, agree = order.day_first, order.day_first_example, order.month_first
    against_in_all, agree_in_all = together.day_first, together.month_first
    if day_first:
        against, example, agree = order.month_first, order.month_first_example, order.day_first
        against_in_all, agree_in_all = agree_in_all, against_in_all
    many_here = against > max(SLIPS, _SLIPS_SHARE * (against + agree))
    nothing_else = against > 0 and against_in_all > SLIPS and agree_in_all == 0
    if not (many_here or nothing_else):
        return ""
    only, setting = ("month first", "true") if day_first else ("day first", "false")
    dates = counted(against, "date")
    return f"has {dates} that can only be {only}, such as {example!r}, but the programme file has {key} = {setting}"
