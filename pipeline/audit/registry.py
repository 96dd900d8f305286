"""The rule book: every rule registers here with what it needs, and is given its severity, urgency and limits."""

import ast
import inspect
import tokenize
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any, Final, Literal, TypeVar, get_type_hints

import numpy as np
import pandas as pd

from pipeline.audit.disclosure import revealed_by
from pipeline.audit.findings import Findings, nothing_found
from pipeline.audit.limit_pairs import crossed_limits, pilot_hole_without_room
from pipeline.audit.limits import Limit, LimitField, limit_fields, read_limit, vary_limit
from pipeline.contracts import AUDIT_COLUMNS
from pipeline.errors import ContractError, SettingsError
from pipeline.programme.catalogue import Catalogue
from pipeline.programme.thresholds import SCOPE_COLUMNS, ThresholdSetting, unknown_threshold
from pipeline.workdays import Calendar

__all__ = ["RULES", "AuditContext", "BoundRule", "Rule", "bind_rules", "rule"]


@dataclass(frozen=True)
class AuditContext:
    """What a rule may ask about the run, besides the cores and its limits.

    ``as_of``: day of the audit. ``reach_m``: how far a road segment was looked for, in metres, for all cores or for
    each. ``holidays``: public holidays, which are not working days; see ``workdays``.
    """

    as_of: pd.Timestamp
    reach_m: float | pd.Series
    holidays: Calendar | None = None


# cores, then limits and context by their names, as far as the rule asks for them
Check = Callable[..., Findings]
_Check = TypeVar("_Check", bound=Check)
AppliesTo = Literal["all", "open", "reinstated"]
# how the values of the other core of a pair begin
_OF_PARTNER: Final = "other_"


@dataclass(frozen=True)
class Rule:
    """One way in which a core can be wrong or doubtful.

    ``needs``: columns that a core must have for the rule to be assessed. ``needs_any``: of these it must have
    ``at_least`` this many. ``limits``: the dataclass of its limits, None if it has none. ``applies_to``: which cores.
    ``shows``: further columns that it reads, which may be missing; a check is given no others. ``quotes_numbers``: the
    cells that it quotes as they were written have been read as numbers, so they hold nothing else. ``partner``: of a
    rule about two cores, the value that tells the other one apart: its id or, where both have one id, its register;
    empty for other rules. ``moving``: values that move although nothing happens to the core, such as the days since it
    was opened, or the row of another register.
    """

    slug: str
    family: str
    title: str
    check: Check
    needs: tuple[str, ...]
    needs_any: tuple[str, ...]
    at_least: int
    limits: type | None
    asks_context: bool
    applies_to: AppliesTo
    shows: tuple[str, ...]
    quotes_numbers: bool
    partner: str = ""
    moving: tuple[str, ...] = ()

    @property
    def columns(self) -> list[str]:
        """Everything that the check reads."""
        return list(dict.fromkeys(("core_id", *self.needs, *self.needs_any, *self.shows)))

    @property
    def reveals(self) -> frozenset[str]:
        """The columns of the register and of the table of cores that its sentence can reveal; see ``revealed_by``."""
        return frozenset().union(*(revealed_by(name, is_number=self.quotes_numbers) for name in self.columns))

    @property
    def limit_fields(self) -> dict[str, LimitField]:
        """Its limits by their keys in the settings."""
        return limit_fields(self.limits)

    def find(self, cores: pd.DataFrame, limits: object, context: AuditContext) -> Findings:
        """Return the findings about N cores that all have what the rule needs.

        Raises
        ------
        ContractError
            The findings are about two cores and the rule does not declare what tells the other one apart.
        """
        asked = {"limits": limits} if self.limits else {}
        found = self.check(cores, **asked, **({"context": context} if self.asks_context else {}))
        of_other = [name for name in map(str, found.values.columns) if name.startswith(_OF_PARTNER)]
        is_without = self.partner not in found.values and len(found.templates) > 0
        if (self.partner and is_without) or (of_other and not self.partner):
            raise ContractError(
                f"rule {self.slug}: found values of another core {of_other}, expected its partner {self.partner!r} "
                "among them. Declare it with @rule(partner=...), or keep it with find(keeps=...)."
            )
        return found


@dataclass(frozen=True)
class BoundRule:
    """A rule with its severity, urgency and limits; of two settings of a limit, the later one applies."""

    rule: Rule
    severity: str
    urgency: str
    source: str
    settings: list[tuple[ThresholdSetting, Limit]]

    def applies(self, cores: pd.DataFrame) -> pd.Series:
        """Return for each of N cores whether the rule applies to it; cores of unknown state are included."""
        if self.rule.applies_to == "all":
            return pd.Series(data=True, index=cores.index)
        other = cores["reinstated_at"].notna() if self.rule.applies_to == "open" else cores["is_open"]
        return ~other

    def assessed(self, cores: pd.DataFrame) -> pd.Series:
        """Return for each of N cores whether the rule applies to it and has what it needs."""
        able = np.ones(len(cores), dtype=bool)
        for need in self.rule.needs:
            able &= cores[need].notna().to_numpy()
        if self.rule.needs_any:
            there = np.sum([cores[name].notna().to_numpy() for name in self.rule.needs_any], axis=0)
            able &= there >= self.rule.at_least
        if self.rule.applies_to == "open":
            able &= cores["is_open"].to_numpy()
        elif self.rule.applies_to == "reinstated":
            able &= cores["reinstated_at"].notna().to_numpy()
        return pd.Series(able, cores.index)

    def limits(self, cores: pd.DataFrame) -> Any:  # noqa: ANN401 - the dataclass that the rule's own signature names
        """Return the rule's limits, each one value where it is the same for all N cores, otherwise a column."""
        if self.rule.limits is None:
            return None
        found: dict[str, Any] = {}
        for setting, limit in self.settings:
            name = self.rule.limit_fields[setting.name].name
            if not setting.scope:
                found[name] = limit
            elif (here := setting.applies(cores)).any():
                found[name] = vary_limit(found[name], here, limit)
        return self.rule.limits(**found)

    def find(self, cores: pd.DataFrame, able: pd.Series, context: AuditContext) -> Findings:
        """Return the findings about those of N cores that can be assessed."""
        which = able.to_numpy()
        if not which.any():
            return nothing_found(cores.index[:0])
        scope, asked = cores[list(SCOPE_COLUMNS)], cores[self.rule.columns]
        if not which.all():
            scope, asked = scope[which], asked[which]
        return self.rule.find(asked, self.limits(scope), context)

    def written(self) -> dict[str, Any]:
        """Return each limit that applies everywhere, as it is written."""
        return {setting.name: setting.written for setting, _ in self.settings if not setting.scope}


RULES: Final[dict[str, Rule]] = {}


def rule(
    slug: str,
    *,
    needs: Sequence[str] = (),
    needs_any: Sequence[str] = (),
    at_least: int = 1,
    applies_to: AppliesTo = "all",
    shows: Sequence[str] = (),
    quotes_numbers: bool = False,
    partner: str = "",
    moving: Sequence[str] = (),
) -> Callable[[_Check], _Check]:
    """Register a rule: its docstring is its title, its module is its family, its arguments say what it asks for.

    Raises
    ------
    ContractError
        The slug is taken, the title is missing, a column is needed that no stage provides, or an argument is neither
        ``limits`` with its dataclass nor ``context``.
    """

    def register(check: _Check) -> _Check:
        unknown = {*needs, *needs_any, *shows} - AUDIT_COLUMNS
        title = _title(check)
        if unknown or slug in RULES or not title:
            raise ContractError(f"rule {slug}: taken, without a title, or needs unknown columns {sorted(unknown)}")
        asked = [*inspect.signature(check).parameters][1:]
        if strange := set(asked) - {"limits", "context"}:
            raise ContractError(f"rule {slug}: asks for {sorted(strange)}; a rule takes cores, limits, context")
        RULES[slug] = made = Rule(
            slug=slug,
            family=check.__module__.rpartition(".")[-1],
            title=title,
            check=check,
            needs=tuple(needs),
            needs_any=tuple(needs_any),
            at_least=at_least,
            limits=get_type_hints(check)["limits"] if "limits" in asked else None,
            asks_context="context" in asked,
            applies_to=applies_to,
            shows=tuple(shows),
            quotes_numbers=quotes_numbers,
            partner=partner,
            moving=tuple(moving),
        )
        # a limit without a unit, or a column for which nobody has declared what it reveals, stops here
        _ = made.reveals, made.limit_fields
        return check

    return register


def _title(check: _Check) -> str:
    """Return the first line of a check's docstring, which ``python -OO`` leaves in the source alone."""
    written = _docstring(inspect.getsource(check)) if check.__doc__ is None else check.__doc__
    return written.strip().split("\n", 1)[0]


def _docstring(source: str) -> str:
    """Return a function's docstring. From Python 3.14 on, a parser leaves it out where the interpreter does."""
    tokens = tokenize.generate_tokens(iter(source.splitlines(keepends=True)).__next__)
    for token in tokens:
        if token.type == tokenize.INDENT:
            first = next(tokens)
            return str(ast.literal_eval(first.string)) if first.type == tokenize.STRING else ""
    return ""


def bind_rules(catalogue: Catalogue, where: str) -> list[BoundRule]:
    """Return every rule with its severity, urgency and limits.

    Raises
    ------
    SettingsError
        A limit is missing, unknown, impossible, has a unit of another kind, or crosses the one it makes a pair with.
    """
    bound = []
    for slug, one in RULES.items():
        if slug not in catalogue.rules:
            raise SettingsError(
                f"{where}: catalogue.rules.{slug}: missing. "
                "Add a table with severity, urgency and source to config/rules.toml."
            )
        settings = [setting for setting in catalogue.threshold_settings if setting.rule == slug]
        wanted, named = one.limit_fields, {setting.name for setting in settings}
        if strange := sorted(named - set(wanted)):
            written = {setting.name: setting.written for setting in settings if setting.name in wanted}
            raise SettingsError(unknown_threshold(f"{where}: catalogue.rules.{slug}", strange[0], written, [*wanted]))
        if absent := [key for key in wanted if key not in named]:
            raise SettingsError(f"{where}: catalogue.rules.{slug}.{absent[0]}: missing. Add it to config/rules.toml.")
        limits = [
            (setting, read_limit(setting.written, wanted[setting.name], f"{where}: {_key(setting)}"))
            for setting in settings
        ]
        no_room = pilot_hole_without_room(limits, catalogue.materials.geometry)
        for line in (*crossed_limits(limits), *([no_room] if no_room else [])):
            raise SettingsError(f"{where}: catalogue.rules.{slug}: {line}. Correct one of them.")
        written_rule = catalogue.rules[slug]
        source = _source(written_rule.source, settings)
        bound.append(BoundRule(one, written_rule.severity, written_rule.urgency, source, limits))
    return bound


def _source(of_rule: str, settings: list[ThresholdSetting]) -> str:
    """Return the source of a rule, and of each limit that applies everywhere and has another one."""
    in_force = {setting.name: setting.source for setting in settings if not setting.scope}
    others = {name: source for name, source in in_force.items() if source != of_rule}
    if others and len(set(in_force.values())) == 1:
        return next(iter(others.values()))
    return "; ".join([of_rule, *(f"{name.replace('_', ' ')}: {source}" for name, source in others.items())])


def _key(setting: ThresholdSetting) -> str:
    scope = f" where {setting.where}" if setting.scope else ""
    return f"catalogue.rules.{setting.rule}.{setting.name}{scope}"
