"""Checks of the mixes: shade, order, working time, steps, and bags that add up from stop to mix to day."""

import numpy as np
import pandas as pd

from pipeline.plan.checker.given import BOTH, CLOSE, Given, Tables, faults

__all__ = ["bags_of_mixes", "bags_of_stops", "consecutive", "pours", "shades", "spans", "steps"]

_DIGITS = 9


def _mixed(tables: Tables) -> pd.DataFrame:
    stops = tables.stops[tables.stops["mix"].notna()].reset_index(drop=True)
    return stops.assign(mix=stops["mix"].astype(int))


def shades(tables: Tables, given: Given) -> pd.DataFrame:  # noqa: ARG001 - every check takes the same two
    """A mix has one shade: that of each of its cores, and the one shown."""
    stops = _mixed(tables).merge(tables.mixes[["mix", "shade"]], on="mix", how="left", suffixes=("", "_mix"))
    wrong = stops["job_shade"].ne(stops["shade_mix"]) | stops["shade"].ne(stops["shade_mix"])
    return faults(stops[wrong], "Mix {mix} is {has}, the core needs {needs}.",
                  mix=stops["mix"], has=stops["shade_mix"], needs=stops["job_shade"])  # fmt: skip


def consecutive(tables: Tables, given: Given) -> pd.DataFrame:  # noqa: ARG001 - every check takes the same two
    """The cores of a mix follow each other on one day of one crew, which is the one shown."""
    stops = _mixed(tables)
    group = stops.groupby("mix")
    gap = group["stop"].transform("max") - group["stop"].transform("min") + 1 - group["stop"].transform("size")
    days = group["day"].transform("nunique") + group["crew"].transform("nunique")
    shown = stops[["mix"]].merge(tables.mixes[["mix", *BOTH, "cores"]], on="mix", how="left")
    same = shown["crew"].eq(stops["crew"]) & shown["day"].eq(stops["day"])
    same &= shown["cores"].eq(group["stop"].transform("size"))
    wrong = (gap.ne(0) | days.ne(2) | ~same) & ~stops.duplicated("mix")
    return faults(stops[wrong], "The cores of mix {mix} do not follow each other on one crew's day.", mix=stops["mix"])


def _ages(stops: pd.DataFrame, smallest: float) -> pd.Series:
    """Return, for each stop, how old its grout is once the core is pressed, counted from the pour of the oldest bag.

    Between two pours lie pressing, the way and the mixing of the bags opened at the second; the bags of one stop are
    mixed together.
    """
    order = stops.groupby("mix").cumcount()
    mixing = np.ceil(stops["bags"] - CLOSE).clip(lower=0) * stops["job_mix_min"]
    hands = stops["job_pour_min"] + stops["job_press_min"]
    gap = (stops["travel_min"] + mixing).where(order.gt(0), 0.0)
    begun = (gap + hands.groupby(stops["mix"]).shift(fill_value=0.0)).groupby(stops["mix"]).cumsum()
    # grout that is left over when the next bags are opened goes into the core where they are opened
    opened = (stops["bags"] / smallest).round().groupby(stops["mix"]).cumsum()
    used = (stops["job_net_bags"] / smallest).groupby(stops["mix"]).cumsum().round(_DIGITS)
    opened_at = begun.where(stops["bags"].gt(0)).groupby(stops["mix"]).ffill()
    left = opened.gt(used).groupby(stops["mix"]).shift(fill_value=False)
    oldest = opened_at.groupby(stops["mix"]).shift().where(left, begun)
    age: pd.Series = begun + hands - oldest
    return age


def spans(tables: Tables, given: Given) -> pd.DataFrame:
    """What is shared is poured, carried to the next core and pressed within the working time."""
    stops = _mixed(tables)
    group = stops.groupby("mix")
    order, size = group.cumcount(), group["stop"].transform("size")
    taken = stops["job_pour_min"] + stops["job_press_min"] + stops["travel_min"].where(order.gt(0), 0.0)
    span = taken.groupby(stops["mix"]).transform("sum")
    first = size.gt(1) & order.eq(0)
    age = _ages(stops, given.smallest)
    shown = stops[["mix"]].merge(tables.mixes[["mix", "span_min"]], on="mix", how="left")["span_min"]
    differs = order.eq(0) & ~shown.sub(span).abs().le(CLOSE)
    return pd.concat(
        [
            faults(stops[first & span.gt(given.working_min + CLOSE)],
                   "Mix {mix} takes {span:.1f} min to pour and press.", mix=stops["mix"], span=span),
            faults(stops[size.gt(1) & age.gt(given.working_min + CLOSE)],
                   "Grout of mix {mix} is {age:.1f} min old once the core is pressed.", mix=stops["mix"], age=age),
            faults(stops[differs], "Mix {mix} shows a span of {shown:.1f} min and takes {span:.1f} min.",
                   mix=stops["mix"], shown=shown, span=span),
        ]
    )  # fmt: skip


def steps(tables: Tables, given: Given) -> pd.DataFrame:  # noqa: ARG001 - every check takes the same two
    """All cores of a mix are fitted, then each is mixed for, poured and pressed in turn, then all are cleaned."""
    stops = _mixed(tables)
    group = stops.groupby("mix")
    order, last = group.cumcount(), ~stops.duplicated("mix", keep="last")
    fitted = stops["arrival_min"] + stops["job_set_up_min"] + stops["job_dry_fit_min"]
    mixing = np.ceil(stops["bags"] - CLOSE).clip(lower=0) * stops["job_mix_min"]
    walk = stops["travel_min"].where(order.gt(0), 0.0)
    pressed = stops["pour_min"] + stops["job_pour_min"] + stops["job_press_min"]
    ready = fitted.groupby(stops["mix"]).transform("max")
    poured = pressed.groupby(stops["mix"]).shift().fillna(ready)
    early = stops["pour_min"].lt(poured + walk + mixing - CLOSE)
    early |= stops["arrival_min"].lt(fitted.groupby(stops["mix"]).shift().fillna(-np.inf) + walk - CLOSE)
    cleaned = pressed + stops["job_clean_min"].groupby(stops["mix"]).transform("sum")
    left = stops["leave_min"].lt(pressed.where(~last, cleaned) - CLOSE)
    open_early = stops["traffic_min"].lt(pressed - CLOSE)
    missing = stops[["pour_min", "traffic_min", "leave_min"]].isna().any(axis="columns")
    return pd.concat(
        [
            faults(stops[early | missing], "The core is poured before the steps that come first are done."),
            faults(stops[left], "The crew leaves before the core is pressed and all are cleaned."),
            faults(stops[open_early], "Traffic returns before the core is pressed."),
        ]
    )


def bags_of_mixes(tables: Tables, given: Given) -> pd.DataFrame:
    """A mix covers the net need of its cores, with no bag too many; a core that needs grout has a mix."""
    stops = tables.stops.reset_index(drop=True)
    needs = stops["job_net_bags"].gt(0)
    dry = needs.ne(stops["mix"].notna())
    differs = stops["net_bags"].fillna(0).sub(stops["job_net_bags"].fillna(0)).abs().gt(CLOSE)
    net = _mixed(tables).groupby("mix", as_index=False)["job_net_bags"].sum()
    mixes = tables.mixes.merge(net, on="mix", how="left")
    due = np.ceil((mixes["job_net_bags"] / given.smallest).round(_DIGITS)) * given.smallest
    wrong = ~mixes["bags"].sub(due).abs().le(CLOSE)
    return pd.concat(
        [
            faults(stops[dry], "The core needs grout and has no mix, or needs none and has one."),
            faults(stops[differs], "The net grout shown is not that of the core."),
            faults(mixes[wrong], "Mix {mix} has {bags:g} bags and needs {due:g}.", mix=mixes["mix"],
                   bags=mixes["bags"], due=due),
        ]
    )  # fmt: skip


def bags_of_stops(tables: Tables, given: Given) -> pd.DataFrame:
    """Bags opened at the stops add up to those of their mix and of their day, and are open before they are poured."""
    stops = _mixed(tables)
    opened = stops.groupby("mix", as_index=False).agg(opened=("bags", "sum"))
    mixes = tables.mixes.merge(opened, on="mix", how="left")
    unlike = ~mixes["bags"].sub(mixes["opened"]).abs().le(CLOSE)
    by_day = tables.stops.groupby(BOTH, as_index=False).agg(opened=("bags", "sum"))
    days = tables.days.merge(by_day, on=BOTH, how="left", validate="one_to_one")
    astray = ~days["bags"].sub(days["opened"]).abs().le(CLOSE)
    so_far = stops.groupby("mix")[["bags", "job_net_bags"]].cumsum()
    dry = so_far["bags"].lt(so_far["job_net_bags"] - CLOSE)
    parts = (stops["bags"] / given.smallest).sub((stops["bags"] / given.smallest).round()).abs().gt(CLOSE)
    return pd.concat(
        [
            faults(mixes[unlike], "Mix {mix} has {bags:g} bags, its stops open {opened:g}.", mix=mixes["mix"],
                   bags=mixes["bags"], opened=mixes["opened"]),
            faults(days[astray], "The day shows {bags:g} bags, its stops open {opened:g}.", bags=days["bags"],
                   opened=days["opened"]),
            faults(stops[dry | parts | stops["bags"].lt(0)],
                   "The bags opened so far are not enough, or not whole."),
        ]
    )  # fmt: skip


def pours(tables: Tables, given: Given) -> pd.DataFrame:
    """Grout is poured on the days and in the hours that are neither too cold nor too warm for it."""
    stops = _mixed(tables)
    hours = given.pour_hours.reindex(pd.Index(stops["day"])).reset_index(drop=True)
    within = stops["pour_min"].ge(hours["first_min"] - CLOSE) & stops["pour_min"].le(hours["last_min"] + CLOSE)
    return faults(stops[~within], "It is too cold or too warm for a pour at that time.")
