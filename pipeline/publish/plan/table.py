"""The plan as tables: a row per stop, a row per crew day, and what is not planned."""

from typing import Final

import numpy as np
import pandas as pd

from pipeline.contracts import PLAN_TABLE, names_of
from pipeline.programme.cautions import cautions_by_core
from pipeline.publish.tables import as_cells, rounded
from pipeline.results import RunResult

__all__ = ["PLAN_COLUMNS", "clock_times", "day_table", "not_planned_table", "plan_table", "with_day_times"]

_HOUR: Final = 60
_DAY: Final = 24 * _HOUR
# in this order; crews and programs read the columns by their names
PLAN_COLUMNS: Final = names_of(PLAN_TABLE)
_DAY_TIMES: Final = {
    "start": "start_min", "end": "end_min", "shift_start": "shift_start_min", "shift_end": "shift_end_min"
}  # fmt: skip
# decimal places: a metre of street, a hundredth of a bag; a position to a centimetre
_DIGITS: Final = {
    "chainage_m": 1, "lon": 7, "lat": 7, "diameter_mm": 1, "depth_mm": 1, "weight_kg": 0, "bags": 3, "net_bags": 3,
    "water_l": 2, "gravel_kg": 1, "air_c": 1,
}  # fmt: skip


# what a stop shows of its core under the same name
_OF_CORES: Final = (
    "chainage_m", "lon", "lat", "diameter_mm", "depth_mm", "state", "register", "side", "surface", "findings",
)  # fmt: skip


def plan_table(result: RunResult, stops: pd.DataFrame | None = None) -> pd.DataFrame:
    """Return the plan on the index of its cores, by crew, day and stop: PLAN_COLUMNS.

    Times are local, as HH:MM; what falls on a later day has the number of days behind it. A core that nothing is mixed
    for has no mix, bags, water or gravel. ``stops``: those of the plan's stops that are wanted; None for all.
    """
    stops = result.plan.stops if stops is None else stops
    cores = result.cores[["street", "street_matched", "core_kg", *_OF_CORES]].loc[stops.index]
    is_mixed = stops["mix"].notna()
    table = stops.assign(
        arrival=clock_times(stops["arrival_min"]),
        pour=clock_times(stops["pour_min"]),
        # grout may not be driven on before its time: a minute that has begun counts as a whole one
        earliest_traffic=clock_times(np.ceil(stops["traffic_min"].round(6))),
        street=cores["street_matched"].fillna(cores["street"]),
        weight_kg=cores["core_kg"],
        cautions=cautions_by_core(
            result.catalogue.core_cautions, cores["state"], cores["surface"], cores["core_kg"]
        ).to_numpy(),
        **{name: cores[name] for name in _OF_CORES},
        **{name: stops[name].where(is_mixed) for name in ("bags", "water_l", "net_bags", "shade")},
    )
    table = table.sort_values(["crew", "day", "stop"], kind="stable")
    return table[list(PLAN_COLUMNS)].round(_DIGITS)


def day_table(result: RunResult) -> pd.DataFrame:
    """Return a row per crew day, by crew and day, with its times as HH:MM."""
    days = with_day_times(result.plan.days.sort_values(["crew", "day"], kind="stable"))
    order = ["crew", "day", "stops", *_DAY_TIMES]
    others = [name for name in days if name not in order and name not in _DAY_TIMES.values()]
    table = days[[*order, *others]]
    return as_cells(table.round(dict.fromkeys(table.select_dtypes("float"), 1)))


def with_day_times(days: pd.DataFrame) -> pd.DataFrame:
    """Return crew days with their times as HH:MM: ``start``, ``end``, ``shift_start`` and ``shift_end``."""
    return days.assign(**{name: clock_times(days[minutes]) for name, minutes in _DAY_TIMES.items()})


def not_planned_table(result: RunResult) -> pd.DataFrame:
    """Return the work that is not planned, with the reason and what would be needed."""
    return as_cells(rounded(result.plan.not_planned))


def clock_times(minutes: pd.Series) -> pd.Series:
    """Return N minutes from midnight as HH:MM, with "+1 d" behind what falls on the next day; missing stays missing."""
    # many stops share a minute: each is written once
    codes, different = pd.factorize(minutes.round())
    texts = pd.Series([_clock_time(int(minute)) for minute in different.tolist()], dtype="str")
    return pd.Series(texts.reindex(codes).to_numpy(), minutes.index, dtype="str")


def _clock_time(minute: int) -> str:
    later, at = divmod(minute, _DAY)
    return f"{at // _HOUR:02}:{at % _HOUR:02}" + (f" +{later} d" if later else "")
