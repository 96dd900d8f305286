"""The sheets of the crews as one page that prints: what to hand out, then a sheet of paper per crew and day."""

import datetime as dt
from collections import defaultdict
from collections.abc import Iterator, Mapping
from typing import Any, Final, NamedTuple

import numpy as np
import pandas as pd
from markupsafe import Markup

from pipeline.clock import Counted, in_parts, uncounted
from pipeline.contracts import SEVERITIES, URGENCIES
from pipeline.publish.pages.page import render_page
from pipeline.publish.plan.day_sheets import Page, SheetStop, SheetTop, cut_of, pages_of, stop_of
from pipeline.publish.plan.day_stops import Cells, StopsByDay, sheet_days, stops_by_day
from pipeline.publish.plan.position_code import position_codes
from pipeline.publish.plan.sheet_cautions import day_cautions, stop_cautions
from pipeline.publish.plan.sheet_layout import HIGHS, MAP_WIDE, Layout
from pipeline.publish.plan.sheet_units import SheetUnits
from pipeline.publish.plan.stop_lines import StopLines
from pipeline.publish.plan.street_map import DayMap, draw_street_maps
from pipeline.publish.plan.streets import Streets
from pipeline.publish.plan.table import with_day_times
from pipeline.publish.report.pdf import Paper
from pipeline.publish.urgent_first import rank_of
from pipeline.publish.words import Words, title_text
from pipeline.results import RunResult

__all__ = ["draw_crew_sheets"]

_LONGEST: Final = 60
_WORST_FIRST: Final = {"urgency": URGENCIES, "severity": SEVERITIES}
_DAYS_PER_PAGE: Final = 14
# days whose sheets are drawn at a time; more of them take more memory and no less time
_DAYS_AT_ONCE: Final = 50
_TASKS: Final = ("reinstate", "survey", "make safe")


def draw_crew_sheets(
    result: RunResult,
    words: Words,
    paper: Paper = "Letter",
    by_day: StopsByDay | None = None,
    tell: Counted = uncounted,
    *,
    with_days: bool = True,
) -> str:
    """Return the page; the same run gives the same text.

    ``paper``: what it is printed on. A sheet for Letter fits A4 too. ``by_day``: the stops of the days that have
    sheets, where they are known already. ``tell``: is told the days drawn. ``with_days``: whether the files for phones
    and calendars lie beside it.
    """
    days = sheet_days(result)
    days = days if days.empty else with_day_times(days)
    planned = result.plan.days
    programme = result.settings.programme
    return render_page(
        "crew_sheets.html",
        words,
        sheet="crew_sheets.css",
        page_title=words.plainly("sheet.window", title=title_text(programme.name), day=words.day(result.as_of)),
        programme=programme.name,
        as_of=result.as_of,
        weeks=_weeks(days, words, SheetUnits(words, result.settings.orders.units)),
        days=len(days),
        of=len(planned),
        first=None if days.empty else days["day"].min().date(),
        last=None if days.empty else days["day"].max().date(),
        end=None if planned.empty else planned["day"].max().date(),
        not_planned=len(result.plan.not_planned),
        cautions=[words.translated(text) for text in result.catalogue.cautions],
        # drawn as the page takes them
        pages=_Drawn(result, words, HIGHS[paper], stops_by_day(result) if by_day is None else by_day).pages(days, tell),
        with_days=with_days,
    )


def _weeks(days: pd.DataFrame, words: Words, units: SheetUnits) -> list[list[Cells]]:
    """Return the rows of the first page, two weeks in each list."""
    if days.empty:
        return []
    number = (days["day"] - days["day"].min()).dt.days // _DAYS_PER_PAGE
    return [[_day_row(day, words, units) for day in mine.to_dict("records")] for _, mine in days.groupby(number)]


def _day_row(day: Mapping[Any, Any], words: Words, units: SheetUnits) -> Cells:
    return {
        "crew": words.own(title_text(day["crew"], _LONGEST)),
        "day": day["day"].date(),
        "stops": int(day["stops"]),
        "start": day["start"],
        "end": day["end"],
        "bags": words.measure(day["bags"]),
        "load": units.one(day["load_kg"], "kg", "lb"),
        "carries": units.one(day["carries_kg"], "kg", "lb"),
        "is_full": bool(day["load_kg"] > day["carries_kg"]),
    }


class _Sheet(NamedTuple):
    """A crew's day, cut into the stops of each page, with what its map shows."""

    crew: Markup
    day: dt.date
    top: SheetTop
    layout: Layout
    cut: list[list[SheetStop]]
    map: DayMap


class _Drawn:
    """Draws the days of a run; what all days share is made once."""

    def __init__(self, result: RunResult, words: Words, high: float, by_day: StopsByDay) -> None:
        self._result, self._words, self._high = result, words, high
        self._streets = Streets(result.inputs.segments)
        rules = result.audit.rules
        ranks = {name: rank_of(rules[name], known) for name, known in _WORST_FIRST.items()}
        worst = rules.assign(**ranks).sort_values([*ranks], kind="stable")
        self._cautions = result.catalogue.core_cautions
        titles = dict(zip(worst["rule"], worst["title"], strict=True))
        self._units = result.settings.orders.units
        self._lines = StopLines(words, self._units, titles)
        self._by_day = by_day
        places = dict.fromkeys((row["lon"], row["lat"]) for rows in self._by_day.values() for row in rows)
        self._codes = dict(zip(places, position_codes(places), strict=True))
        self._names = {task: words.say(f"sheet.task_{task.replace(' ', '_')}") for task in _TASKS} | {
            shade: words.own(words.translated(shade).upper(), _LONGEST) for shade in result.catalogue.shades
        }

    def pages(self, days: pd.DataFrame, tell: Counted) -> Iterator[Page]:
        """Yield the pages of all days."""
        rows = [{str(key): day[key] for key in day} for day in days.to_dict("records")]
        for part in in_parts(len(rows), _DAYS_AT_ONCE, tell, "days"):
            sheets = [self._sheet(day) for day in rows[part]]
            maps = draw_street_maps(self._streets, [one.map for one in sheets], self._words, self._units)
            for sheet, drawn in zip(sheets, maps, strict=True):
                yield from pages_of(sheet.crew, sheet.day, sheet.top, drawn, sheet.layout, sheet.cut)

    def _sheet(self, day: Cells) -> _Sheet:
        rows = self._by_day[day["crew"], day["day"]]
        shared, own = stop_cautions(rows, self._cautions, self._words)
        mixes: dict[int, list[Mapping[str, Any]]] = defaultdict(list)
        for row in rows:
            if pd.notna(row["mix"]):
                mixes[int(row["mix"])].append(row)
        stops = [
            stop_of(
                row,
                mixes[int(row["mix"])] if pd.notna(row["mix"]) else [],
                own[int(row["row"])],
                self._lines,
                self._names,
                self._codes[row["lon"], row["lat"]],
            )
            for row in rows
        ]
        top = self._top(day, rows, shared)
        layout, cut = cut_of(top, stops, self._high)
        crew = self._words.own(title_text(day["crew"], _LONGEST))
        return _Sheet(crew, day["day"].date(), top, layout, cut, self._map(day["crew"], rows, layout.map_high))

    def _map(self, crew: str, rows: list[Cells], high: float) -> DayMap:
        points = np.array([[row["x_m"], row["y_m"]] for row in rows], float)
        ways = self._result.plan.ways.of_day(crew, pd.Index([row["at"] for row in rows]))
        names = [row["street"] if isinstance(row["street"], str) else "" for row in rows]
        tasks = [str(row["task"]) for row in rows]
        title = self._words.plainly("sheet.map", n=len(rows))
        return DayMap(points, ways, tasks, names, (MAP_WIDE, high), title)

    def _top(self, day: Cells, rows: list[Cells], shared: list[Markup]) -> SheetTop:
        words, units = self._words, self._lines.units
        air = [row["air_c"] for row in rows if pd.notna(row["air_c"])]
        lines = [
            words.say("sheet.shift", start=day["shift_start"], end=day["shift_end"], home=day["end"]),
            words.say("sheet.coldest", air=units.air(min(air))) if air else words.say("sheet.no_forecast"),
        ]
        always = day_cautions(rows, self._cautions, words)
        if any(pd.notna(row["mix"]) for row in rows):
            always.append(words.say("sheet.traffic_note"))
            what = ", ".join(words.translated(text) for text in self._cautions.sheet.inspect)
            shared = [words.say("sheet.inspect", what=what), *shared]
        cautions = [Markup(" ").join(always), *([Markup(" ").join(shared)] if shared else [])]
        return SheetTop(tuple(self._load(rows)), (*self._also(day, rows), *lines), tuple(cautions))

    def _load(self, rows: list[Cells]) -> list[tuple[str, Markup, Markup]]:
        """Return what to load of each shade: the shade, what it is called, and how many bags."""
        bags: dict[str, float] = defaultdict(float)
        for row in rows:
            if pd.notna(row["mix"]):
                bags[str(row["shade"])] += float(row["bags"])
        return [(shade, self._names[shade], self._lines.bags(count)) for shade, count in sorted(bags.items())]

    def _also(self, day: Cells, rows: list[Cells]) -> list[Markup]:
        """Return what else to load, and the weight of all against what the truck carries."""
        words, units = self._words, self._lines.units
        gravel: dict[str, float] = defaultdict(float)
        for row in rows:
            if pd.notna(row["gravel_kg"]) and row["gravel_kg"] > 0:
                gravel[str(row["bedding"])] += float(row["gravel_kg"])
        lines = []
        for bedding, weight in sorted(gravel.items()):
            packs = int(np.ceil(round(weight / self._result.catalogue.materials.bedding[bedding].pack.value, 9)))
            name = words.own(words.translated(bedding).capitalize(), _LONGEST)
            lines.append(words.say("sheet.packs", item=name, n=packs, weight=units.one(weight, "kg", "lb")))
        water = sum(float(row["water_l"]) for row in rows if pd.notna(row["water_l"]))
        if water > 0:
            lines.append(words.say("sheet.water", water=units.one(water, "L", "gal", 1)))
        if day["load_kg"] > 0:
            weighs, carries = (units.one(day[name], "kg", "lb") for name in ("load_kg", "carries_kg"))
            lines.append(words.say("sheet.load_weight", load=weighs, carries=carries))
        else:
            lines.append(words.say("sheet.no_load"))
        return lines
