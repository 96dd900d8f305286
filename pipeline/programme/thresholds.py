"""Whose thresholds hold where: the shipped ones, a code of practice's, the programme's; everywhere or in some places.

What a programme says beats its code, which beats what is shipped; of each, what is said of a place beats what is
said of everywhere, and of two places the later one.
"""

import tomllib
from copy import deepcopy
from dataclasses import dataclass
from typing import Any, Final

import pandas as pd

from pipeline.errors import SettingsError
from pipeline.programme.resources import shipped
from pipeline.programme.settings import Thresholds

__all__ = ["PLACES", "Saying", "codes", "say_thresholds"]

# what a place is told by, as columns of the located cores
PLACES: Final = ("road_authority", "road_class", "surface")
_NO_THRESHOLD: Final = {"severity", "source"}


@dataclass(frozen=True)
class Saying:
    """One threshold of one rule, as one hand wrote it; ``place`` is empty where it holds everywhere."""

    rule: str
    name: str
    written: Any
    source: str
    origin: str
    place: dict[str, str]

    def holds(self, cores: pd.DataFrame) -> pd.Series:
        """Tell for which of N located cores it is said."""
        here = pd.Series(data=True, index=cores.index)
        for column, wanted in self.place.items():
            here &= cores[column].str.strip().str.casefold().eq(wanted.strip().casefold())
        return here

    @property
    def where(self) -> str:
        """The place in words."""
        return " and ".join(f"{name.replace('_', ' ')} {value}" for name, value in self.place.items()) or "everywhere"


def codes() -> list[str]:
    """Name the codes of practice that are shipped."""
    return sorted(file.name.removesuffix(".toml") for file in (shipped("config") / "codes").iterdir())


def say_thresholds(
    shipped_rules: dict[str, dict[str, Any]], settings: Thresholds, own: dict[str, dict[str, Any]], where: str
) -> list[Saying]:
    """Bring every threshold into the order in which a later one beats an earlier.

    Parameters
    ----------
    shipped_rules
        ``config/rules.toml`` as it is shipped.
    settings
        The programme's code and places.
    own
        The programme's own ``[catalogue.rules]``.
    where
        The programme file, for errors.

    Raises
    ------
    SettingsError
        A code, a rule or a threshold that does not exist.
    """
    said = _sayings(shipped_rules, "shipped", {}, where)
    if settings.code is not None:
        said += _of_code(settings.code, {}, f"{where}: thresholds.code")
    said += _sayings(own, "programme", {}, where)
    for number, one in enumerate(settings.where):
        here = f"{where}: thresholds.where.{number}"
        if one.code is not None:
            said += _of_code(one.code, one.place, f"{here}.code")
        sourced = {slug: {"source": one.source, **deepcopy(rule)} for slug, rule in one.rules.items()}
        if any("severity" in rule for rule in sourced.values()):
            raise SettingsError(f"{here}.rules: a severity is the same everywhere. Set it under catalogue.rules.")
        said += _sayings(sourced, "programme", one.place, here)
    known = {(one.rule, one.name) for one in said if one.origin == "shipped"}
    for saying in said:
        if saying.rule not in shipped_rules:
            raise SettingsError(f"{where}: no rule is called {saying.rule!r}. `kerfbook rules` lists them.")
        if (saying.rule, saying.name) not in known:
            names = ", ".join(name for rule, name in sorted(known) if rule == saying.rule) or "none"
            raise SettingsError(f"{where}: catalogue.rules.{saying.rule}.{saying.name}: its thresholds are: {names}.")
    return said


def _sayings(rules: dict[str, dict[str, Any]], origin: str, place: dict[str, str], where: str) -> list[Saying]:
    for slug, one in rules.items():
        if not isinstance(one, dict):
            raise SettingsError(f"{where}: rules.{slug}: found {one!r}, expected a table of thresholds.")
    return [
        Saying(slug, name, value, one.get("source", "programme file"), origin, place)
        for slug, one in rules.items()
        for name, value in one.items()
        if name not in _NO_THRESHOLD
    ]


def _of_code(code: str, place: dict[str, str], where: str) -> list[Saying]:
    if code not in codes():
        raise SettingsError(f"{where}: found {code!r}, expected one of: {', '.join(codes())}.")
    written = tomllib.loads((shipped("config") / "codes" / f"{code}.toml").read_text("utf-8"))
    said = _sayings(written["rules"], f"code {code}", place, where)
    for one in written.get("where", []):
        # a place within the place, unless the two exclude each other
        own = {name: one[name] for name in PLACES if name in one}
        if all(place.get(name, value) == value for name, value in own.items()):
            said += _sayings(one["rules"], f"code {code}", place | own, where)
    return said
