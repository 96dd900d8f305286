"""What the map of a run shows: its cores, findings and layers, from the run's results."""

from typing import Final

import pandas as pd

from pipeline.contracts import DATES_UNDERSTOOD
from pipeline.intake.crs import name_of
from pipeline.publish.map.cards import DAYS, REGISTER_SHOWN, SECOND_CHOICES
from pipeline.publish.map.page import Background, MapInput
from pipeline.publish.report.places import districts_shown, streets_shown
from pipeline.publish.since import Since, changed_cores
from pipeline.publish.words import load_words, words_of
from pipeline.results import RunResult

__all__ = ["map_input"]

_DRAWN: Final = "EPSG:4326"


def _planned(result: RunResult, table: pd.DataFrame) -> pd.Series:
    """Return the day and crew that the plan has for a core, as the page writes them; missing without a stop."""
    words, stops = words_of(result.settings.programme.language), result.plan.stops
    written = {day: words.day(day.date()) for day in stops["day"].unique()}
    planned: pd.Series = stops["day"].map(written).astype("str") + ", " + stops["crew"].astype("str")
    return planned.reindex(table.index)


def map_input(result: RunResult, since: Since | None) -> MapInput:
    """Return what the map shows of a run, and of what changed since the run before."""
    cores, table = result.counted_cores, result.counted_table
    present = [name for name in REGISTER_SHOWN if name in result.inputs.register.present]
    days = [*DATES_UNDERSTOOD, *(name for name in DAYS if name in present)]
    dates = {name: cores[name].dt.strftime("%Y-%m-%d") for name in days}
    kept = {name: cores[name] for name in present if name not in DAYS}
    second_choices = {name: cores[name] for name in SECOND_CHOICES}
    # without a road segment, the street that the register records may help to find the core
    before, _, after = str(load_words(result.settings.programme.language)["card.street_recorded"]).partition("{street}")
    street = table["street"].fillna(before + cores["street"] + after)
    districts = result.inputs.districts
    shown, has_report = result.settings.map, result.settings.publish.writes("report.html")
    return MapInput(
        title=result.settings.programme.name,
        as_of=result.as_of,
        crs=name_of(result.inputs.crs),
        cores=table.assign(street=street, planned=_planned(result, table), **kept, **dates, **second_choices),
        findings=result.counted_findings,
        segments=result.inputs.segments,
        districts=None if districts is None else districts.to_crs(_DRAWN),
        orders=result.orders.lines,
        unplaced=result.account["unplaced"],
        sources=result.inputs.credits,
        cautions=result.catalogue.cautions,
        core_cautions=result.catalogue.core_cautions,
        background=None if shown.background is None else Background(shown.background, shown.background_credit),
        units=shown.units or result.settings.orders.units,
        language=result.settings.programme.language,
        since=None if since is None else since.before.as_of,
        changes=None if since is None else changed_cores(since.changes),
        short_words=result.catalogue.short_words,
        has_report=has_report,
        report_districts=districts_shown(result) if has_report else (),
        report_streets=streets_shown(result) if has_report else (),
        works=None if result.works is None else result.works.works.to_crs(_DRAWN),
        in_works=None if result.works is None else result.works.cores[["row", "works_id"]],
    )
