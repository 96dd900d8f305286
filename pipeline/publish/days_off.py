"""Which days off a run counted with."""

import datetime as dt
from typing import Any, Final, NamedTuple

import pandas as pd
from markupsafe import Markup

from pipeline.programme.calendars import substitute_days_of
from pipeline.programme.sources import outside_source
from pipeline.publish.words import Words
from pipeline.results import RunResult
from pipeline.workdays import holiday_days

__all__ = ["DaysOff", "days_off", "days_off_in_words", "days_off_record"]

_PACKAGE: Final = "the holidays package"
# a date that is wrong by a century lists no century of holidays
_MOST_YEARS: Final = 10


class DaysOff(NamedTuple):
    """The public holidays from Monday to Friday that a run counted with.

    ``substitutes``: whether days are off in place of holidays on a weekend, or which; ``source``: who says so.
    """

    region: str
    substitutes: bool | list[dt.date]
    source: str
    days: list[dt.date]


def days_off(result: RunResult) -> DaysOff | None:
    """Return the days off from the first reinstatement to the year after the audit; None without a region."""
    programme = result.settings.programme
    if programme.holidays is None:
        return None
    setting = substitute_days_of(programme.holidays, programme.substitute_days)
    last = result.as_of.year + 1
    done = result.cores["reinstated_at"].dt.year.min()
    first = max(min(result.as_of.year, last if pd.isna(done) else int(done)), last - _MOST_YEARS)
    known = holiday_days(programme.calendar, (first, last)).tolist()
    days = [day for day in known if day.weekday() < 5 and first <= day.year <= last]
    return DaysOff(programme.holidays, setting.days, setting.source or _PACKAGE, days)


def days_off_record(result: RunResult) -> dict[str, Any] | None:
    """Return the same for the record of the run."""
    found = days_off(result)
    if found is None:
        return None
    stated = found.substitutes
    return {
        "region": found.region,
        "substitute_days": stated if isinstance(stated, bool) else [day.isoformat() for day in stated],
        "substitute_days_from": found.source,
        "days": [day.isoformat() for day in found.days],
    }


def days_off_in_words(result: RunResult, words: Words) -> list[Markup]:
    """Return the same in sentences for the report; the days are those of the year of the audit and the next."""
    found = days_off(result)
    if found is None:
        return [words.say("method.weekends_off")]
    days = [words.date(day) for day in found.days if day.year >= result.as_of.year]
    sentences = [words.say("method.days_off", region=words.own(found.region), days=words.listed(days))]
    stated = found.substitutes
    if not isinstance(stated, bool):
        sentences.append(words.say("method.substitutes_listed", days=words.listed(map(words.date, stated))))
    else:
        sentences.append(words.say("method.substitutes" if stated else "method.no_substitutes"))
    source = (
        words.say("method.by_programme") if found.source == "programme" else words.own(outside_source(found.source))
    )
    return [*sentences, words.say("method.substitutes_source", source=source)]
