"""Who has to act on each finding: the first of the owners in the settings that matches it."""

from collections.abc import Iterable, Sequence

import pandas as pd

from pipeline.audit import BoundRule
from pipeline.errors import SettingsError
from pipeline.programme.names import as_known, did_you_mean, folded, listed
from pipeline.programme.owners import OF_CORES, OF_FINDINGS, Owner

__all__ = ["owner_names", "refuse_unknown_rules", "with_owners"]


def refuse_unknown_rules(owners: Iterable[Owner], rules: Iterable[BoundRule], where: str) -> None:
    """Refuse an owner of a rule or of a family of rules that does not exist.

    Raises
    ------
    SettingsError
        There is no such rule or family.
    """
    book = [bound.rule for bound in rules]
    slugs, families = [rule.slug for rule in book], [*dict.fromkeys(rule.family for rule in book)]
    known = {
        "rule": (slugs, "a rule that `kerfbook rules` lists"),
        "family": (families, f"one of: {listed(families, len(families))}"),
    }
    for owner in owners:
        for key, (there, expected) in known.items():
            for name in owner.scope.get(key, []):
                if as_known(name, there) is None:
                    raise SettingsError(
                        f'{where}: owners "{owner.name}".{key}: found "{name}", expected {expected}.'
                        f"{did_you_mean(name, there)} Correct it."
                    )


def owner_names(owners: Iterable[Owner]) -> list[str]:
    """Return the names of the owners in the order of the settings, each once; the first spelling is used."""
    names: dict[str, str] = {}
    for owner in owners:
        names.setdefault(folded(owner.name), owner.name)
    return [*names.values()]


def with_owners(
    findings: pd.DataFrame, cores: pd.DataFrame, owners: Sequence[Owner], rules: Iterable[BoundRule]
) -> pd.DataFrame:
    """Return the findings with ``owner``: the first that matches, missing where none does.

    Parameters
    ----------
    findings
        N findings with ``row``, ``rule``, ``urgency`` and ``severity``.
    cores
        With ``row``, ``register``, ``district`` and ``road_authority``.
    owners
        Those of the settings, in their order.
    rules
        The rules in force, which have families.
    """
    families = {bound.rule.slug: bound.rule.family for bound in rules}
    facts = {name: findings[name] for name in OF_FINDINGS if name != "family"}
    facts["family"] = findings["rule"].map(families)
    by_row = cores.set_index("row")
    facts |= {name: findings["row"].map(by_row[name]) for name in OF_CORES}
    names = owner_names(owners)
    found = pd.Series(None, findings.index, dtype="str")
    for owner in owners:
        here = found.isna()
        for key, wanted in owner.scope.items():
            here &= _matches(facts[key], wanted)
        found = found.mask(here, as_known(owner.name, names))
    return findings.assign(owner=found)


def _matches(column: pd.Series, wanted: Sequence[str]) -> pd.Series:
    forms = {folded(name) for name in wanted}
    return column.isin([name for name in column.dropna().unique() if folded(str(name)) in forms])
