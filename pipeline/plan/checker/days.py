"""Checks of a crew's day: its shift with the break, and what its truck carries."""

import pandas as pd

from pipeline.plan.checker.given import BOTH, CLOSE, Given, Tables, faults

__all__ = ["loads", "shifts"]


def shifts(tables: Tables, given: Given) -> pd.DataFrame:  # noqa: ARG001 - every check takes the same two
    """A day lies within the shift, holds all of its stops, and has the break."""
    own = tables.crews[["crew", "shift_start_min", "shift_end_min", "break_min"]]
    stops = tables.stops.groupby(BOTH, as_index=False).agg(
        first=("arrival_min", "min"), last=("leave_min", "max"), counted=("stop", "size")
    )
    days = tables.days[[*BOTH, "stops", "start_min", "end_min", "work_min", "travel_min"]]
    days = days.merge(stops, on=BOTH, how="outer", validate="one_to_one")
    days = days.merge(own, on="crew", how="left", validate="many_to_one")
    early = days["start_min"].lt(days["shift_start_min"] - CLOSE)
    over = days["end_min"] - days["shift_end_min"]
    within = days["first"].ge(days["start_min"] - CLOSE) & days["last"].le(days["end_min"] + CLOSE)
    miscounted = within & days["stops"].ne(days["counted"])
    spent = days["work_min"] + days["travel_min"] + days["break_min"]
    return pd.concat(
        [
            faults(days[early], "The day begins before the shift."),
            faults(days[over.gt(CLOSE)], "The day ends {over:.0f} min after the shift.", over=over),
            faults(days[~within], "A stop lies outside the hours of the day, or the day has none."),
            faults(days[miscounted], "The day shows {shown:.0f} stops and has {counted:.0f}.",
                   shown=days["stops"], counted=days["counted"]),
            faults(days[spent.gt(days["end_min"] - days["start_min"] + CLOSE)],
                   "Work, travel and break take longer than the day."),
        ]
    )  # fmt: skip


def loads(tables: Tables, given: Given) -> pd.DataFrame:
    """A truck carries the bags, the water and the gravel of its day, and the day shows no less."""
    stops = tables.stops
    weight = stops["bags"].fillna(0) * given.bag_kg + stops["job_gravel_kg"].fillna(0)
    days = stops.assign(weight=weight).groupby(BOTH, as_index=False)["weight"].sum()
    days = days.merge(tables.crews[["crew", "carries_kg"]], on="crew", how="left", validate="many_to_one")
    days = days.merge(tables.days[[*BOTH, "load_kg"]], on=BOTH, how="left", validate="one_to_one")
    over = days[["weight", "load_kg"]].max(axis="columns").gt(days["carries_kg"] + CLOSE)
    hidden = ~days["load_kg"].ge(days["weight"] - CLOSE)
    return pd.concat(
        [
            faults(days[over], "The load of {weight:.0f} kg is more than the truck carries ({carries:.0f} kg).",
                   weight=days[["weight", "load_kg"]].max(axis="columns"), carries=days["carries_kg"]),
            faults(days[hidden], "The load shown is less than the {weight:.0f} kg that the stops need.",
                   weight=days["weight"]),
        ]
    )  # fmt: skip
