"""Which thresholds apply, where, and who set them: shipped defaults, a code of practice, the programme.

Programme settings override the code of practice, which overrides the shipped defaults. In each of them a threshold for
certain roads overrides the one for all roads, and of two that apply to a core the later one is used.
"""

import tomllib
from copy import deepcopy
from dataclasses import dataclass
from typing import Any, Final

import pandas as pd

from pipeline.errors import SettingsError
from pipeline.programme.names import folded
from pipeline.programme.ranges import shortened
from pipeline.programme.resources import shipped
from pipeline.programme.settings import Thresholds

__all__ = ["SCOPE_COLUMNS", "ThresholdSetting", "codes", "threshold_settings", "unknown_threshold"]

# what a threshold can be limited to, as columns of the located cores
SCOPE_COLUMNS: Final = ("road_authority", "road_class", "surface")
# the same for all roads
_EVERYWHERE: Final = ("severity", "urgency")
_NO_THRESHOLD: Final = {*_EVERYWHERE, "source"}


@dataclass(frozen=True)
class ThresholdSetting:
    """One threshold of one rule as one file sets it; ``scope`` is empty where it applies everywhere."""

    rule: str
    name: str
    written: Any
    source: str
    origin: str
    scope: dict[str, str]

    def applies(self, cores: pd.DataFrame) -> pd.Series:
        """Return for each of N located cores whether the setting applies to it."""
        here = pd.Series(data=True, index=cores.index)
        for column, wanted in self.scope.items():
            names = cores[column].dropna().unique()
            here &= cores[column].isin([name for name in names if folded(name) == folded(wanted)])
        return here

    @property
    def where(self) -> str:
        """Where it applies, in words."""
        return " and ".join(f"{name.replace('_', ' ')} {value}" for name, value in self.scope.items()) or "everywhere"


def codes() -> list[str]:
    """Return the names of the codes of practice that are shipped."""
    return sorted(file.name.removesuffix(".toml") for file in (shipped("config") / "codes").iterdir())


def threshold_settings(
    shipped_rules: dict[str, dict[str, Any]], settings: Thresholds, own: dict[str, dict[str, Any]], where: str
) -> list[ThresholdSetting]:
    """Return every threshold that is set, in an order in which a later one overrides an earlier one.

    Parameters
    ----------
    shipped_rules
        ``config/rules.toml`` as it is shipped.
    settings
        The programme's code of practice, and its thresholds for certain roads.
    own
        The programme's own ``[catalogue.rules]``.
    where
        The programme file, for errors.

    Raises
    ------
    SettingsError
        A code, a rule or a threshold does not exist, or a severity is set for certain roads only.
    """
    found = _settings(shipped_rules, "shipped", {}, where)
    if settings.code is not None:
        found += _of_code(settings.code, {}, f"{where}: thresholds.code")
    found += _settings(own, "programme", {}, where)
    for number, one in enumerate(settings.where, start=1):
        here = f"{where}: thresholds.where no. {number}"
        if one.code is not None:
            found += _of_code(one.code, one.scope, f"{here}.code")
        sourced = {slug: {"source": one.source, **deepcopy(rule)} for slug, rule in one.rules.items()}
        for name in _EVERYWHERE:
            if any(name in rule for rule in sourced.values()):
                raise SettingsError(
                    f"{here}.rules: found {name}, which is the same everywhere. Set it under catalogue.rules."
                )
        found += _settings(sourced, "programme", one.scope, here)
    for setting in found:
        if setting.rule not in shipped_rules:
            raise SettingsError(f"{where}: no rule is called {setting.rule!r}. `kerfbook rules` lists them.")
        known = {name: value for name, value in shipped_rules[setting.rule].items() if name not in _NO_THRESHOLD}
        if setting.name not in known:
            raise SettingsError(
                unknown_threshold(f"{where}: catalogue.rules.{setting.rule}", setting.name, known, [*known])
            )
    return found


def unknown_threshold(rule: str, name: str, written: dict[str, Any], known: list[str]) -> str:
    """Return the error for a threshold that a rule does not have, with those that it has and their values."""
    shown = [f"{key} (now {written[key]!r})" if key in written else key for key in known]
    if not shown:
        return f"{rule}.{name}: unknown threshold, the rule has none. Remove the line."
    return f"{rule}.{name}: unknown threshold. Use {' or '.join(shown)}."


def _settings(
    rules: dict[str, dict[str, Any]], origin: str, scope: dict[str, str], where: str
) -> list[ThresholdSetting]:
    for slug, one in rules.items():
        if not isinstance(one, dict):
            raise SettingsError(
                f"{where}: rules.{slug}: found {shortened(one)}, expected a table of thresholds. "
                f'Write a line such as rules.{slug}.max_step = "5 mm", with the names that `kerfbook rules` shows.'
            )
    return [
        ThresholdSetting(slug, name, value, one.get("source", "programme file"), origin, scope)
        for slug, one in rules.items()
        for name, value in one.items()
        if name not in _NO_THRESHOLD
    ]


def _of_code(code: str, scope: dict[str, str], where: str) -> list[ThresholdSetting]:
    if code not in codes():
        raise SettingsError(f"{where}: found {shortened(code)}, expected one of: {', '.join(codes())}.")
    written = tomllib.loads((shipped("config") / "codes" / f"{code}.toml").read_text("utf-8"))
    found = _settings(written["rules"], f"code {code}", scope, where)
    for one in written.get("where", []):
        # both scopes must hold; where the two exclude each other nothing is left
        own = {name: one[name] for name in SCOPE_COLUMNS if name in one}
        if all(scope.get(name, value) == value for name, value in own.items()):
            found += _settings(one["rules"], f"code {code}", scope | own, where)
    return found
