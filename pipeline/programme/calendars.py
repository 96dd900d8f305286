"""Which public holidays a programme's region has, and which days are off where they fall on a weekend."""

import datetime as dt
import tomllib
from typing import NamedTuple

from pydantic import BaseModel, ConfigDict, Field

from pipeline.programme.resources import shipped
from pipeline.workdays import Calendar

__all__ = ["SubstituteSetting", "bool_or_dates", "calendar_of", "substitute_days_of"]

# True: those of the holidays package; False: none; a list: these
SubstituteDays = bool | list[dt.date]


class _Law(BaseModel):
    """What the law of one region says about holidays on a weekend."""

    model_config = ConfigDict(extra="forbid", frozen=True)
    substitute_days: bool
    sunday_to_monday: list[str] = Field(default_factory=list)
    source: str = Field(min_length=1)


class SubstituteSetting(NamedTuple):
    """Whether days are off in place of holidays on a weekend, and who says so: "" for the holidays package."""

    days: SubstituteDays
    source: str


def bool_or_dates(written: object) -> object:
    """Return what may be a setting of substitute days, and refuse all else in one sentence."""
    if isinstance(written, bool) or written is None or (isinstance(written, list) and all(map(_is_day, written))):
        return written
    raise ValueError("expected true, false or a list of dates, such as [2026-12-28]")


def _is_day(written: object) -> bool:
    return isinstance(written, dt.date) and not isinstance(written, dt.datetime)


def _law_of(region: str) -> _Law | None:
    written = tomllib.loads((shipped("config") / "holidays.toml").read_text("utf-8"))
    found = written.get(region.strip().upper())
    return None if found is None else _Law.model_validate(found)


def substitute_days_of(region: str, stated: SubstituteDays | None) -> SubstituteSetting:
    """Return the setting in force: as stated (its source is "programme"), else the region's law, else the package."""
    if stated is not None:
        return SubstituteSetting(stated, "programme")
    law = _law_of(region)
    return SubstituteSetting(True, "") if law is None else SubstituteSetting(law.substitute_days, law.source)


def calendar_of(region: str | None, stated: SubstituteDays | None) -> Calendar | None:
    """Return the holidays of a region; None where there are none."""
    if region is None:
        return None
    days, law = substitute_days_of(region, stated).days, _law_of(region)
    return Calendar(
        region,
        has_substitutes=days is True,
        sunday_to_monday=tuple(law.sunday_to_monday) if law else (),
        also=tuple(days) if isinstance(days, list) else (),
    )
