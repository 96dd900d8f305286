"""The rule book: every rule registers here with what it needs, and is given its severity and thresholds."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from types import SimpleNamespace
from typing import Any, Final, Literal

import pandas as pd

from pipeline.audit.disclosure import revealed_by
from pipeline.audit.limits import Limit, read_limit, with_place
from pipeline.contracts import AUDIT_COLUMNS
from pipeline.errors import ContractError, SettingsError
from pipeline.programme.catalogue import Catalogue
from pipeline.programme.thresholds import Saying

__all__ = ["RULES", "BoundRule", "Limits", "Rule", "bind_rules", "rule"]

# what a rule is told besides the cores: its thresholds by name, the run's date, the reach of matching
Limits = SimpleNamespace
Check = Callable[[pd.DataFrame, Limits], pd.DataFrame]
# which cores a rule speaks of: all, those not back yet, those that are back
Concern = Literal["all", "open", "back"]


@dataclass(frozen=True)
class Rule:
    """One way in which a core can be wrong or doubtful.

    ``needs``: columns that a core must have for the rule to be assessed. ``needs_any``: of these it must have
    ``at_least`` so many. ``limits``: name of each threshold and the unit the check wants it in ("date" for a
    date, "bands" for a limit by width). ``concerns``: the cores it speaks of. ``shows``: further columns that its
    sentence or its condition reads, which may be missing; a check is handed no others. ``quotes_numbers``: the cells
    that it quotes as they were written have been read as numbers, so that nothing else can stand in them.
    """

    slug: str
    family: str
    title: str
    check: Check
    needs: tuple[str, ...] = ()
    needs_any: tuple[str, ...] = ()
    at_least: int = 1
    limits: dict[str, str] = field(default_factory=dict)
    concerns: Concern = "all"
    shows: tuple[str, ...] = ()
    quotes_numbers: bool = False

    @property
    def columns(self) -> list[str]:
        """Everything that the check reads."""
        return list(dict.fromkeys(("core_id", *self.needs, *self.needs_any, *self.shows)))

    @property
    def reveals(self) -> frozenset[str]:
        """The columns of the register and of the table of cores that its sentence can reveal; see ``revealed_by``."""
        return frozenset().union(*(revealed_by(name, is_number=self.quotes_numbers) for name in self.columns))


@dataclass(frozen=True)
class BoundRule:
    """A rule with its severity and the thresholds in force, in the order in which a later one beats an earlier."""

    rule: Rule
    severity: str
    source: str
    said: list[tuple[Saying, Limit]]

    def concerned(self, cores: pd.DataFrame) -> pd.Series:
        """Tell which of N cores the rule speaks of; one that may be open or back is not passed over."""
        if self.rule.concerns == "all":
            return pd.Series(data=True, index=cores.index)
        other = cores["reinstated_at"].notna() if self.rule.concerns == "open" else cores["is_open"]
        return ~other

    def assessed(self, cores: pd.DataFrame) -> pd.Series:
        """Tell which of N cores the rule speaks of and have what it needs."""
        able = cores[list(self.rule.needs)].notna().all(axis="columns")
        if self.rule.needs_any:
            able &= cores[list(self.rule.needs_any)].notna().sum(axis="columns") >= self.rule.at_least
        if self.rule.concerns == "open":
            able &= cores["is_open"]
        elif self.rule.concerns == "back":
            able &= cores["reinstated_at"].notna()
        return able

    def limits(self, cores: pd.DataFrame) -> dict[str, Any]:
        """Return each threshold: one value where it is the same for all N cores, else a column."""
        found: dict[str, Any] = {}
        for saying, limit in self.said:
            if not saying.place:
                found[saying.name] = limit
            elif (here := saying.holds(cores)).any():
                found[saying.name] = with_place(found[saying.name], here, limit)
        return found

    def written(self) -> dict[str, Any]:
        """Return each threshold as it is written for everywhere."""
        return {saying.name: saying.written for saying, _ in self.said if not saying.place}


RULES: Final[dict[str, Rule]] = {}


def rule(
    slug: str,
    *,
    family: str,
    needs: Sequence[str] = (),
    needs_any: Sequence[str] = (),
    at_least: int = 1,
    limits: dict[str, str] | None = None,
    concerns: Concern = "all",
    shows: Sequence[str] = (),
    quotes_numbers: bool = False,
) -> Callable[[Check], Check]:
    """Register a rule; its docstring is its title.

    Raises
    ------
    ContractError
        The slug is taken, or a column is needed that no stage hands on.
    """

    def register(check: Check) -> Check:
        unknown = {*needs, *needs_any, *shows} - AUDIT_COLUMNS
        if unknown or slug in RULES or not check.__doc__:
            raise ContractError(f"rule {slug}: taken, without a title, or needs unknown columns {sorted(unknown)}")
        title = check.__doc__.strip().split("\n", 1)[0]
        RULES[slug] = Rule(
            slug, family, title, check, tuple(needs), tuple(needs_any), at_least, limits or {}, concerns, tuple(shows),
            quotes_numbers,
        )  # fmt: skip
        # a column of which no contract says what it reveals is refused here
        _ = RULES[slug].reveals
        return check

    return register


def bind_rules(catalogue: Catalogue, where: str) -> list[BoundRule]:
    """Give every rule its severity and thresholds.

    Raises
    ------
    SettingsError
        A threshold is missing, unknown or of another dimension.
    """
    bound = []
    for slug, one in RULES.items():
        if slug not in catalogue.rules:
            raise SettingsError(f"{where}: catalogue.rules.{slug}: missing. Add its severity and source.")
        said = [saying for saying in catalogue.said if saying.rule == slug]
        named = {saying.name for saying in said}
        strange = sorted(named - set(one.limits)) + sorted(set(one.limits) - named)
        if strange:
            known = ", ".join(one.limits) or "none"
            raise SettingsError(
                f"{where}: catalogue.rules.{slug}.{strange[0]}: the thresholds of this rule are: {known}."
            )
        limits = [
            (saying, read_limit(saying.written, one.limits[saying.name], f"{where}: {_key(saying)}")) for saying in said
        ]
        everywhere = [saying for saying in said if not saying.place]
        source = everywhere[-1].source if everywhere else catalogue.rules[slug].source
        bound.append(BoundRule(one, catalogue.rules[slug].severity, source, limits))
    return bound


def _key(saying: Saying) -> str:
    place = f" where {saying.where}" if saying.place else ""
    return f"catalogue.rules.{saying.rule}.{saying.name}{place}"
