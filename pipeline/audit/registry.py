"""The rule book: every rule registers here with what it needs, and is given its severity and thresholds."""

import datetime as dt
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from types import SimpleNamespace

import pandas as pd

from pipeline.catalogue import RuleSetting
from pipeline.contracts import AUDIT_COLUMNS
from pipeline.errors import ContractError, SettingsError
from pipeline.units import quantity

__all__ = ["RULES", "BoundRule", "Rule", "bind_rules", "rule"]

# what a rule is told besides the cores: its thresholds by name, the run's date, the reach of matching
Limits = SimpleNamespace
Check = Callable[[pd.DataFrame, Limits], pd.DataFrame]


@dataclass(frozen=True)
class Rule:
    """One way in which a core can be wrong or doubtful.

    ``needs``: columns that a core must have for the rule to be assessed. ``needs_any``: of these it must have
    ``at_least`` so many. ``limits``: name of each threshold and the unit the check wants it in ("date" for a
    date).
    """

    slug: str
    family: str
    title: str
    check: Check
    needs: tuple[str, ...] = ()
    needs_any: tuple[str, ...] = ()
    at_least: int = 1
    limits: dict[str, str] = field(default_factory=dict)


@dataclass(frozen=True)
class BoundRule:
    """A rule with the severity, the source and the thresholds in force."""

    rule: Rule
    severity: str
    source: str
    limits: dict[str, float | dt.date]
    written: dict[str, object]

    def assessed(self, cores: pd.DataFrame) -> pd.Series:
        """Tell which of N cores have what the rule needs."""
        able = cores[list(self.rule.needs)].notna().all(axis="columns")
        if self.rule.needs_any:
            able &= cores[list(self.rule.needs_any)].notna().sum(axis="columns") >= self.rule.at_least
        return able


RULES: dict[str, Rule] = {}


def rule(
    slug: str,
    *,
    family: str,
    needs: Sequence[str] = (),
    needs_any: Sequence[str] = (),
    at_least: int = 1,
    limits: dict[str, str] | None = None,
) -> Callable[[Check], Check]:
    """Register a rule; its docstring is its title.

    Raises
    ------
    ContractError
        The slug is taken, or a column is needed that no stage hands on.
    """

    def register(check: Check) -> Check:
        unknown = (set(needs) | set(needs_any)) - AUDIT_COLUMNS
        if unknown or slug in RULES or not check.__doc__:
            raise ContractError(f"rule {slug}: taken, without a title, or needs unknown columns {sorted(unknown)}")
        title = check.__doc__.strip().split("\n", 1)[0]
        RULES[slug] = Rule(slug, family, title, check, tuple(needs), tuple(needs_any), at_least, limits or {})
        return check

    return register


def bind_rules(settings: dict[str, RuleSetting], where: str) -> list[BoundRule]:
    """Give every rule its severity and thresholds.

    Raises
    ------
    SettingsError
        A threshold is missing, unknown or of another dimension.
    """
    bound = []
    for slug, one in RULES.items():
        if slug not in settings:
            raise SettingsError(f"{where}: catalogue.rules.{slug}: missing. Add its severity and source.")
        written = settings[slug].thresholds
        strange = sorted(set(written) - set(one.limits)) + sorted(set(one.limits) - set(written))
        if strange:
            known = ", ".join(one.limits) or "none"
            raise SettingsError(
                f"{where}: catalogue.rules.{slug}.{strange[0]}: the thresholds of this rule are: {known}."
            )
        limits = {
            name: _threshold(written[name], unit, f"{where}: catalogue.rules.{slug}.{name}")
            for name, unit in one.limits.items()
        }
        shown = {name: value.isoformat() if isinstance(value, dt.date) else value for name, value in written.items()}
        bound.append(BoundRule(one, settings[slug].severity, settings[slug].source, limits, shown))
    return bound


def _threshold(value: object, unit: str, where: str) -> float | dt.date:
    if unit == "date":
        if isinstance(value, dt.date) and not isinstance(value, dt.datetime):
            return value
        raise SettingsError(f"{where}: found {value!r}, expected a date such as 1990-01-01.")
    try:
        return quantity(value, unit)
    except ValueError as error:
        raise SettingsError(f"{where}: {error}.") from error
