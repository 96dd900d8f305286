"""Costs and exposure: what the plan costs, and what open cores cost until they are reinstated, against the budget."""

import datetime as dt
from collections.abc import Mapping
from typing import Final, NamedTuple

import numpy as np
import pandas as pd

from pipeline.contracts import NO_DISTRICT, ORDER_TABLES, names_of
from pipeline.errors import SettingsError
from pipeline.order.lines import item_of
from pipeline.order.periods import periods_of
from pipeline.programme.orders import Ordering
from pipeline.programme.plan import Budget, Costs, Planning
from pipeline.programme.settings import Settings

__all__ = ["NOTHING_PRICED", "NOT_PLANNED", "SO_FAR", "CostTables", "Spending", "costs_of", "refuse_unusable_budget"]

NOT_PLANNED: Final = "(not planned)"
SO_FAR: Final = "so far"
_UNITS: Final = {
    "grout": "bag",
    "visits": "visit",
    "crew days": "day",
    "plates": "plate-day",
    "permit overrun": "core-day",
    "penalties": "core",
}
_BY: Final = ["district", "register", "crew"]
_DAY: Final = pd.Timedelta(days=1)
_Pieces = list[pd.DataFrame]


class Spending(NamedTuple):
    """The sections ``[costs]``, ``[budget]`` and ``[plan]`` of a programme."""

    costs: Costs
    budget: Budget
    planning: Planning

    @classmethod
    def of(cls, settings: Settings) -> "Spending":
        """Return the sections of a programme."""
        return cls(settings.costs, settings.budget, settings.plan)


NOTHING_PRICED: Final = Spending(Costs(), Budget(), Planning())


class CostTables(NamedTuple):
    """``costs`` and ``budget``, as ORDER_TABLES describes them."""

    costs: pd.DataFrame
    budget: pd.DataFrame


def costs_of(
    cores: pd.DataFrame, stops: pd.DataFrame, ordering: Ordering, spending: Spending, as_of: dt.date
) -> CostTables:
    """Return what the plan and the open cores cost, by kind, district, register, crew and period.

    Grout is priced by the bags to mix. A crew's day is shared equally by its stops. A plate is hired from the day it
    was laid until the day before the core is reinstated. A permit is overrun from the day after its last one until the
    day of the reinstatement, and the penalty is due on the first of these days. A core whose reinstatement is not
    planned counts until the end of the horizon. What comes before the audit has the period "so far"; it is no part of
    the forecast.

    Parameters
    ----------
    cores
        N rows with ``is_open``, ``is_copy``, ``district``, ``register``, ``shade``, ``plated_on`` and
        ``permit_expires_on``.
    stops
        What the plan does at which core: PLAN_TABLES' ``stops``, on the index of the cores.
    ordering
        Periods, prices of grout, currency.
    spending
        What the rest costs, what may be spent, and the horizon.
    as_of
        The day of the audit.
    """
    calendar = _Calendar.of(ordering, spending.planning, as_of)
    heads = cores[["register", "shade"]].assign(district=cores["district"].fillna(NO_DISTRICT))
    pieces = [*_of_stops(heads, stops, calendar), *_of_open_cores(cores, heads, stops, calendar)]
    sums = _sums(pd.concat(pieces, ignore_index=True))
    sums = sums[sums["quantity"].gt(0)]
    price = sums["item"].map(_prices(sums["item"].unique(), ordering, spending.costs)).astype(float)
    sums = sums.assign(amount=sums["quantity"] * price)
    by = ["kind", *_BY, "at"]
    # the amount of grout without a price in one of its shades is not known
    table = sums.groupby(by, as_index=False).agg(
        quantity=("quantity", "sum"), amount=("amount", lambda amounts: amounts.sum(skipna=False))
    )
    rank = table["kind"].map({kind: number for number, kind in enumerate(_UNITS)})
    table = table.assign(rank=rank).sort_values(["rank", *_BY, "at"], ignore_index=True)
    table = table.assign(
        week=np.array(calendar.names)[table["at"]], unit=table["kind"].map(_UNITS), currency=ordering.currency
    )
    costs = table[list(names_of(ORDER_TABLES["costs"]))]
    texts = {column.name: "str" for column in ORDER_TABLES["costs"] if column.kind == "text"}
    return CostTables(costs.astype(texts | {"quantity": float, "amount": float}), _against(table, calendar, spending))


class _Calendar(NamedTuple):
    """The P periods from the audit to the end of the horizon, after a first one for what came before.

    ``starts``: first days, that of the first missing, and the day after the horizon as the last.
    """

    names: list[str]
    starts: pd.DatetimeIndex

    @classmethod
    def of(cls, ordering: Ordering, planning: Planning, as_of: dt.date) -> "_Calendar":
        first = pd.Timestamp(as_of)
        until = pd.Timestamp(planning.first_day(as_of)) + int(planning.horizon_days) * _DAY
        days = pd.Series(pd.date_range(first, max(until - _DAY, first)))
        name = periods_of(days, ordering.period, as_of)["period"]
        begins = days[~name.duplicated()]
        return cls([SO_FAR, *name.drop_duplicates()], pd.DatetimeIndex([*begins, days.iloc[-1] + _DAY]))

    @property
    def until(self) -> pd.Timestamp:
        return self.starts[-1]

    def number(self, days: pd.Series) -> np.ndarray:
        """Return the number of each day's period."""
        return np.searchsorted(self.starts[:-1].to_numpy(), days.to_numpy(), side="right")


def _of_stops(heads: pd.DataFrame, stops: pd.DataFrame, calendar: _Calendar) -> _Pieces:
    """Return grout, visits and crew days, one row per stop."""
    at = heads.loc[stops.index].assign(crew=stops["crew"], at=calendar.number(stops["day"]))
    mixed = stops["bags"].gt(0)
    share = 1 / stops.groupby(["crew", "day"])["stop"].transform("size")
    return [
        _sums(piece)
        for piece in (
            at[mixed].assign(kind="grout", item=at.loc[mixed, "shade"].map(item_of), quantity=stops.loc[mixed, "bags"]),
            at.assign(kind="visits", item="visit", quantity=1.0),
            at.assign(kind="crew days", item="crew_day", quantity=share),
        )
    ]


def _of_open_cores(cores: pd.DataFrame, heads: pd.DataFrame, stops: pd.DataFrame, calendar: _Calendar) -> _Pieces:
    """Return plates, permit overruns and penalties, one row per core and period."""
    is_open = cores["is_open"] & ~cores["is_copy"]
    done = stops[stops["task"].eq("reinstate")]
    heads = heads.assign(crew=done["crew"].reindex(cores.index).fillna(NOT_PLANNED))[is_open]
    back = done["day"].reindex(heads.index)
    plated, expires = (_day(cores.loc[is_open, name]) for name in ("plated_on", "permit_expires_on"))
    overrun = expires + _DAY
    ends = (back + _DAY).fillna(calendar.until)
    pieces = [
        *_days("plates", "plate_per_day", heads, plated, back.fillna(calendar.until), calendar),
        *_days("permit overrun", "permit_overrun_per_day", heads, overrun, ends, calendar),
    ]
    late = heads[overrun.lt(ends)]
    number = calendar.number(overrun[overrun.lt(ends)])
    return [*pieces, _sums(late.assign(kind="penalties", item="penalty", quantity=1.0, at=number))]


def _day(instants: pd.Series) -> pd.Series:
    day: pd.Series = instants.dt.tz_localize(None).dt.normalize()
    return day


def _days(kind: str, item: str, heads: pd.DataFrame, first: pd.Series, end: pd.Series, calendar: _Calendar) -> _Pieces:
    """Return the days of each period from ``first`` until the day before ``end``."""
    is_any = first.lt(end)
    heads, first, end = heads[is_any], first[is_any], end[is_any]
    pieces = []
    for number, name in enumerate(calendar.names):
        start, stop = calendar.starts[max(number - 1, 0)], calendar.starts[number]
        begins = first if name == SO_FAR else first.where(first.ge(start), start)
        days = (end.where(end.le(stop), stop) - begins).dt.days
        some = days.gt(0)
        pieces.append(_sums(heads[some].assign(kind=kind, item=item, quantity=days[some], at=number)))
    return pieces


def _sums(piece: pd.DataFrame) -> pd.DataFrame:
    return piece.groupby(["kind", *_BY, "item", "at"])["quantity"].sum().reset_index()


def _prices(items: Mapping[int, str] | np.ndarray, ordering: Ordering, costs: Costs) -> dict[str, float | None]:
    return {
        str(item): getattr(costs, item) if item in Costs.model_fields else ordering.packing_of(str(item)).price
        for item in items
    }


def _against(table: pd.DataFrame, calendar: _Calendar, spending: Spending) -> pd.DataFrame:
    """Return the forecast of each period beside its budget, and a last row for all of them; empty without prices."""
    names = list(names_of(ORDER_TABLES["budget"]))
    kinds = {"week": "str"} | dict.fromkeys(names[1:], "float")
    if table["amount"].isna().all():
        return pd.DataFrame(columns=names).astype(kinds)
    amount = table.groupby("at")["amount"].sum().reindex(range(len(calendar.names)), fill_value=0.0)
    budget = pd.Series([spending.budget.by_period.get(name) for name in calendar.names], dtype=float)
    used = np.flatnonzero((amount.gt(0) | budget.notna()).to_numpy())
    weeks = pd.DataFrame({"week": calendar.names, "amount": amount, "budget": budget}).iloc[: used.max(initial=0) + 1]
    forecast = weeks["amount"].where(weeks["week"].ne(SO_FAR))
    weeks = weeks.assign(cumulative=forecast.cumsum(), budget_cumulative=weeks["budget"].cumsum())
    total = {"week": None, "amount": forecast.sum(), "budget": spending.budget.total}
    rows = pd.concat([weeks, pd.DataFrame([total])], ignore_index=True)
    rows = rows.assign(beyond=rows["amount"] - rows["budget"].astype(float))
    return rows[names].astype(kinds)


def refuse_unusable_budget(ordering: Ordering, spending: Spending, as_of: dt.date) -> None:
    """Raise a SettingsError if the budget names no period of the plan, or nothing has a price to compare with it."""
    periods = _Calendar.of(ordering, spending.planning, as_of).names[1:]
    for name in spending.budget.by_period:
        if name not in periods:
            raise SettingsError(
                f'budget.by_period: found "{name}", expected a period of the plan, from "{periods[0]}" to '
                f'"{periods[-1]}" (orders.period is "{ordering.period}"). Correct the key.'
            )
    prices = [
        *(getattr(spending.costs, name) for name in Costs.model_fields),
        *(i.price for i in ordering.items.values()),
    ]
    if (spending.budget.total is not None or spending.budget.by_period) and all(price is None for price in prices):
        raise SettingsError(
            "budget: found a budget and no price, expected one or more prices under [costs], or a price "
            "of grout under [orders.items]. Add them, or delete the section."
        )
