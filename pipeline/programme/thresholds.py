"""Which thresholds apply, where, and who set them: shipped defaults, a code of practice, the programme.

Programme settings override the code of practice, which overrides the shipped defaults. In each of them a threshold for
certain roads overrides the one for all roads, and of two that apply to a core the later one is used. A limit that a
code does not set is the shipped default, never that of another code. Each threshold has a source of its own, written
as ``max_step = { value = "5 mm", source = "..." }``; without one it has the source of its rule.
"""

import tomllib
from collections.abc import Iterable
from dataclasses import dataclass, replace
from typing import Any, Final

import pandas as pd

from pipeline.errors import SettingsError
from pipeline.programme.names import folded
from pipeline.programme.ranges import shortened
from pipeline.programme.resources import shipped
from pipeline.programme.settings import Thresholds
from pipeline.programme.sources import kind_of, set_by

__all__ = [
    "NO_THRESHOLD",
    "SCOPE_COLUMNS",
    "ThresholdSetting",
    "code_of_practice",
    "codes",
    "plain_value",
    "threshold_settings",
    "unknown_threshold",
]

# what a threshold can be limited to, as columns of the located cores
SCOPE_COLUMNS: Final = ("road_authority", "road_class", "surface")
# the same for all roads
_EVERYWHERE: Final = ("severity", "urgency")
# keys of a rule that are no threshold
NO_THRESHOLD: Final = (*_EVERYWHERE, "source")
# the United Kingdom has a law for each of its countries
_SEVERAL_COUNTRIES: Final = ("uk", "gb", "united-kingdom", "great-britain")
_ORIGIN_OF_CODE: Final = "code "


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
    def kind(self) -> str:
        """The kind of its source: a code, our default, common practice, or the programme."""
        return kind_of(self.source)

    @property
    def where(self) -> str:
        """Where it applies, in words."""
        return " and ".join(f"{name.replace('_', ' ')} {value}" for name, value in self.scope.items()) or "everywhere"


def codes() -> list[str]:
    """Return the names of the codes of practice that are shipped."""
    return sorted(file.name.removesuffix(".toml") for file in (shipped("config") / "codes").iterdir())


def code_of_practice(code: str, where: str) -> dict[str, Any]:
    """Return a shipped code of practice: its ``title``, its ``rules``, and ``where`` other limits apply.

    Raises
    ------
    SettingsError
        There is no such code.
    """
    if code.casefold() in _SEVERAL_COUNTRIES:
        raise SettingsError(
            f"{where}: found {shortened(code)}, which has several laws, expected one of: {', '.join(codes())}. "
            'Write "england", "wales" or "scotland"; Northern Ireland is not covered.'
        )
    if code not in codes():
        raise SettingsError(f"{where}: found {shortened(code)}, expected one of: {', '.join(codes())}.")
    written: dict[str, Any] = tomllib.loads((shipped("config") / "codes" / f"{code}.toml").read_text("utf-8"))
    return written


def plain_value(written: object) -> object:
    """Return a threshold without the source that may be written with it."""
    return written.get("value") if isinstance(written, dict) else written


def threshold_settings(
    shipped_rules: dict[str, dict[str, Any]],
    settings: Thresholds,
    own: dict[str, dict[str, Any]],
    where: str,
    programme: str = "the programme",
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
    programme
        Name of the programme, which is the source of what it sets.

    Raises
    ------
    SettingsError
        A code, a rule or a threshold does not exist, or a severity is set for certain roads only.
    """
    defaults = _settings(shipped_rules, "shipped", {}, where)
    found = [*defaults]
    if settings.code is not None:
        found += _of_code(settings.code, {}, f"{where}: thresholds.code")
    found += _by_programme(_settings(own, "programme", {}, where), programme)
    for number, one in enumerate(settings.where, start=1):
        here = f"{where}: thresholds.where no. {number}"
        if one.code is not None:
            # what this code does not set is not that of the code that applies elsewhere
            found += _instead_of_codes(found, defaults, one.scope)
            found += _of_code(one.code, one.scope, f"{here}.code")
        for name in _EVERYWHERE:
            if any(name in rule for rule in one.rules.values() if isinstance(rule, dict)):
                raise SettingsError(
                    f"{here}.rules: found {name}, which is the same everywhere. Set it under catalogue.rules."
                )
        found += _by_programme(_settings(one.rules, "programme", one.scope, here, one.source), programme)
    for setting in found:
        if setting.rule not in shipped_rules:
            raise SettingsError(f"{where}: no rule is called {setting.rule!r}. `kerfbook rules` lists them.")
        known = {
            name: plain_value(value) for name, value in shipped_rules[setting.rule].items() if name not in NO_THRESHOLD
        }
        if setting.name not in known:
            raise SettingsError(
                unknown_threshold(f"{where}: catalogue.rules.{setting.rule}", setting.name, known, [*known])
            )
    return found


def _by_programme(settings: Iterable[ThresholdSetting], programme: str) -> list[ThresholdSetting]:
    return [replace(one, source=set_by(programme, one.source or None)) for one in settings]


def _instead_of_codes(
    found: list[ThresholdSetting], defaults: list[ThresholdSetting], scope: dict[str, str]
) -> list[ThresholdSetting]:
    """Return the defaults, where ``scope`` is met, of the thresholds that a code has set and the programme has not."""
    by_code = {(one.rule, one.name) for one in found if one.origin.startswith(_ORIGIN_OF_CODE)}
    by_programme = {(one.rule, one.name) for one in found if one.origin == "programme" and not one.scope}
    return [replace(one, scope=scope) for one in defaults if (one.rule, one.name) in by_code - by_programme]


def unknown_threshold(rule: str, name: str, written: dict[str, Any], known: list[str]) -> str:
    """Return the error for a threshold that a rule does not have, with those that it has and their values."""
    shown = [f"{key} (now {written[key]!r})" if key in written else key for key in known]
    if not shown:
        return f"{rule}.{name}: unknown threshold, the rule has none. Remove the line."
    return f"{rule}.{name}: unknown threshold. Use {' or '.join(shown)}."


def _settings(
    rules: dict[str, dict[str, Any]], origin: str, scope: dict[str, str], where: str, source: str = ""
) -> list[ThresholdSetting]:
    """Return the thresholds that a file sets, each with its own source, its rule's, or ``source``."""
    found = []
    for slug, one in rules.items():
        if not isinstance(one, dict):
            raise SettingsError(
                f"{where}: rules.{slug}: found {shortened(one)}, expected a table of thresholds. "
                f'Write a line such as rules.{slug}.max_step = "5 mm", with the names that `kerfbook rules` shows.'
            )
        for name, written in one.items():
            if name in NO_THRESHOLD:
                continue
            if isinstance(written, dict) and set(written) not in ({"value"}, {"value", "source"}):
                raise SettingsError(
                    f"{where}: rules.{slug}.{name}: found {shortened(written)}, expected a value with its source. "
                    f'Write rules.{slug}.{name} = {{ value = "5 mm", source = "the permit" }}, or the value alone.'
                )
            its = written.get("source") if isinstance(written, dict) else None
            said = its or one.get("source") or source
            found.append(ThresholdSetting(slug, name, plain_value(written), said, origin, scope))
    return found


def _of_code(code: str, scope: dict[str, str], where: str) -> list[ThresholdSetting]:
    written = code_of_practice(code, where)
    origin = f"{_ORIGIN_OF_CODE}{code}"
    found = _settings(written["rules"], origin, scope, where)
    for one in written.get("where", []):
        # both scopes must hold; where the two exclude each other nothing is left
        own = {name: one[name] for name in SCOPE_COLUMNS if name in one}
        if all(folded(scope.get(name, value)) == folded(value) for name, value in own.items()):
            found += _settings(one["rules"], origin, scope | own, where)
    return found
