"""The order as a buyer wants it: a workbook with a sheet a district, a total, purchases, sharing, what is left out."""

import re
from pathlib import Path
from typing import Final

import pandas as pd

from pipeline.contracts import NO_DISTRICT
from pipeline.publish.tables import rounded, write_workbook
from pipeline.results import RunResult
from pipeline.units import convert

__all__ = ["in_units", "order_sheets", "write_order_book"]

# what a sheet's name may not hold, and how long it may be
_BARRED: Final = re.compile(r"[\[\]:*?/\\]")
_LONGEST_NAME: Final = 31
_US: Final = {"kg": "lb", "L": "us gal"}
_QUANTITIES: Final = ("needed", "order", "reserve", "carry")
_SHOWN_UNIT: Final = {"us gal": "US gal"}


def in_units(table: pd.DataFrame, units: str) -> pd.DataFrame:
    """Return a table of items in the units of the reader: quantities and their ``unit``; exact factors, no rounding."""
    if units == "metric":
        return table
    out = table.copy()
    for have, want in _US.items():
        here = table["unit"].eq(have)
        for name in (name for name in _QUANTITIES if name in table):
            out.loc[here, name] = convert(table.loc[here, name], have, want)
        out.loc[here, "unit"] = _SHOWN_UNIT.get(want, want)
    return out


def order_sheets(result: RunResult) -> dict[str, pd.DataFrame]:
    """Return the tables of the workbook by the name of their sheet."""
    orders = result.orders
    lines = rounded(in_units(orders.lines, result.settings.orders.units))
    sums = ["needed", "order", "reserve", "packs"]
    by_period = lines.groupby(["period", "item", "unit"], as_index=False)[sums].sum(min_count=1)
    whole = lines.groupby(["item", "unit"], as_index=False)[sums].sum(min_count=1)
    sheets = {
        "Total": pd.concat([whole.assign(period="all periods")[by_period.columns], by_period], ignore_index=True),
        "Order by district": lines,
    }
    taken = {name.casefold() for name in (*sheets, *_OTHER_SHEETS)}
    for district, mine in lines.groupby("district", sort=True):
        total = mine.groupby(["item", "unit"], as_index=False)[sums].sum(min_count=1).assign(period="all periods")
        table = pd.concat([total[by_period.columns], mine[by_period.columns]], ignore_index=True)
        sheets[_sheet_name(str(district), taken)] = table
    sheets["Purchases"] = rounded(orders.purchases)
    sheets["Sharing"] = rounded(orders.sharing)
    sheets["Reserve"] = rounded(orders.safety_stock)
    sheets["Service levels"] = rounded(_levels(orders.service_levels))
    sheets["Loads this week"] = rounded(in_units(orders.loads, result.settings.orders.units))
    sheets["Left out"] = orders.left_out
    return sheets


_OTHER_SHEETS: Final = (
    "Purchases",
    "Sharing",
    "Reserve",
    "Service levels",
    "Loads this week",
    "Left out",
    "How to read it",
    "History",
)


def _levels(totals: pd.DataFrame) -> pd.DataFrame:
    """What each level of service asks for, a row a level and shade."""
    shown = totals.assign(
        service_level=totals["level"].map("{:.0%}".format), shade=totals["shade"].fillna("all shades")
    )
    return shown[["service_level", "shade", *(name for name in totals if name not in {"level", "shade"})]]


def _sheet_name(district: str, taken: set[str]) -> str:
    plain = _BARRED.sub(" ", district).strip().strip("'") or "district"
    name, number = plain[:_LONGEST_NAME], 1
    while name.casefold() in taken:
        number += 1
        ending = f" ({number})"
        name = plain[: _LONGEST_NAME - len(ending)] + ending
    taken.add(name.casefold())
    return name


def write_order_book(result: RunResult, path: Path) -> None:
    """Write the workbook; the same run gives the same bytes."""
    title = f"{result.settings.programme.name}, orders"
    write_workbook(order_sheets(result), title, result.as_of, path, _notes(result))


def _notes(result: RunResult) -> list[str]:
    grout, ordering = result.catalogue.materials.grout, result.settings.orders
    sharing = result.orders.sharing
    alone, shared, bound = (sharing[name].sum() for name in ("alone", "shared", "bound"))
    needed = sharing["needed"].sum()
    sentences = f"""\
Needed: the exact sum over {result.orders.cores} open cores; {grout.overfill.value:.0%} overfill included.
Order: what whole packs come to. Reserve: the part of it beyond the need. Packs: their number.
Grout comes in bags of {grout.bag.value:g} kg; each takes exactly {grout.water_per_bag.value:g} L of water.
Why so many bags: the needs come to {needed:,.1f} bags, but a bag is mixed whole and firms within about 20 minutes. \
A mix serves cores of one shade, crew and day that lie within {ordering.reach_m:,.0f} m of each other \
(orders.working_time, speed, detour, or share_within). Alone every core would take {alone:,.0f} bags in all; with \
sharing {shared:,.0f}, which are ordered; fewer than {bound:,.0f} are proven to be impossible on these days. The sheet \
Sharing has them by district, period and shade. Planned for fewer days, more can be shared (cores.planned_on).
A period is that of the planned day; without one, of the day the core falls due by rule; without that, of its turn in \
a level plan, if the programme states a rate (orders.cores_per_week); else there is no date.
Purchases: per yard, what stock and leftovers do not cover, in whole pallets; order_by is the day by which it must be \
ordered, late_days how many days ago that was; packs_reserve is the reserve of its districts, spread over the periods.
Reserve: bags beside the plan that are enough in {ordering.service_level:.0%} of the simulations \
(orders.service_level), and what each source alone would ask for: shades that are not sure, sizes not yet known, \
bags that are lost, and the model (kerf, gap, bed, density, overfill), which is the same at all cores and does not \
average out. Not covered: a map that is wrong about a whole street.
Service levels: what 90, 95 and 99 % ask for in all, so what one more costs.
Loads this week: what each crew carries on each of the next seven days.
Left out: open cores whose need is not known, and why; nothing is ordered for them.
Nothing is ordered for cores that are back, flagged or not. Cores without a district are listed under {NO_DISTRICT}."""
    return [*sentences.splitlines(), *result.catalogue.cautions]
