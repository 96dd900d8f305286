"""The mix that one row's core takes its grout from, and the order lines that it is part of."""

from collections.abc import Mapping
from typing import Any

import pandas as pd

from pipeline.publish.explain.parts import Cell, Grid, Paragraph, Section, Shown, is_given
from pipeline.readback.basis import CoreBasis

__all__ = ["supply_section"]


def supply_section(row: CoreBasis, ids: Mapping[int, str], lines: pd.DataFrame, show: Shown) -> Section:
    """Return when the core is to be reinstated, from which mix, and in which order lines.

    Parameters
    ----------
    row
        The row's tables.
    ids
        Core ids by row, for the cores that share the mix.
    lines
        The order lines of the core's district and period, every cell text.
    show
        How values are shown.
    """
    say, words, plan = show.words.say, show.words, row.plan
    title = say("explain.supply")
    if plan is None:
        return Section(title, (Paragraph(_why_not(row.core, show)),))
    day = words.date(plan["day"].date()) if is_given(plan["day"]) else say("explain.no_day")
    parts: list[Paragraph | Grid] = [
        Paragraph(
            say(
                "explain.planned",
                day=day,
                crew=show.named(plan["crew"]),
                stop=words.number(plan["stop"]),
                period=show.named(plan["period"]),
            )
        ),
        *_mix(row, ids, show),
    ]
    if len(lines):
        heads = tuple(say(f"explain.head_{name}") for name in ("item", "needed", "order", "packs"))
        rows = tuple(_line(line, show) for line in lines.to_dict("records"))
        district = show.named(lines["district"].iloc[0])
        caption = say("explain.lines_of", district=district, period=show.named(plan["period"]))
        parts.append(Grid(caption, heads, rows))
    return Section(title, tuple(parts))


def _why_not(core: Mapping[str, Any], show: Shown) -> Cell:
    say = show.words.say
    if core["is_copy"]:
        return say("explain.not_ordered_copy", row=int(core["copy_of"]))
    return say("explain.not_ordered" if core["is_open"] else "explain.not_ordered_reinstated")


def _mix(row: CoreBasis, ids: Mapping[int, str], show: Shown) -> list[Paragraph | Grid]:
    """The cores of the mix, each with its need and its share of the bags."""
    say, words, plan = show.words.say, show.words, row.plan
    if plan is None or not is_given(plan["mix"]):
        return [Paragraph(say("explain.no_mix"))]
    total = float(row.mix["bags_mixed"].sum())
    number, bags = words.number(plan["mix"]), show.measure(round(total, 6))
    if len(row.mix) == 1:
        return [Paragraph(say("explain.own_mix", mix=number, bags=bags))]
    rows = tuple(
        (
            show.named(ids.get(int(one["row"]))),
            words.number(one["row"]),
            show.measure(float(f"{one['bags_mixed']:.4g}")),
        )
        for one in row.mix.sort_values("row").to_dict("records")
    )
    heads = tuple(say(f"explain.head_{name}") for name in ("core", "row", "bags_mixed"))
    return [
        Paragraph(say("explain.shared_mix", mix=number, bags=bags, n=len(row.mix))),
        Grid(say("explain.sharing", mix=number), heads, rows),
    ]


def _line(line: Mapping[Any, Any], show: Shown) -> tuple[Cell, ...]:
    needed, order = (show.measure(float(line[name]), str(line["unit"])) for name in ("needed", "order"))
    packs = show.words.number(int(line["packs"])) if is_given(line["packs"]) and line["packs"] != "" else ""
    return show.words.translated(str(line["item"])), needed, order, packs
