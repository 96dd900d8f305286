"""What would let the rules find more of the planted faults: columns, layers, a better accuracy, narrower limits."""

from collections.abc import Mapping, Sequence
from typing import Final

import numpy as np
import pandas as pd

from pipeline.audit import BoundRule
from pipeline.audit.evidence import rank_evidence
from pipeline.audit.outcomes import FOUND
from pipeline.audit.rules.confidence import StreetNameLimits
from pipeline.rehearse.making import Kind

__all__ = ["lacking_accuracy", "narrower_limits", "rank_remedies", "with_place_before"]

_POSITION: Final = "position"
_STREET_RULE: Final = "street-differs"
# a rule that compares what is recorded with the map finds a fault only where the map has something else than before
_OF_MAP: Final = {"surface-differs": "surface_on_map", _STREET_RULE: "street_matched"}
# a rule on a plausible range, and the column that it judges
_RANGES: Final = {"diameter-implausible": "diameter_mm", "depth-implausible": "depth_mm"}
# the range that is proposed leaves out as many at either end
_BEYOND: Final = 0.005
# of fewer sizes none is out of the ordinary
_LEAST_SIZES: Final = 100


def with_place_before(missed: pd.DataFrame, before: pd.DataFrame) -> pd.DataFrame:
    """Return faults with what the map has where their cores were, as ``before_<column>``; ``before``: those facts."""
    return missed.assign(**{f"before_{name}": before[name].to_numpy() for name in _OF_MAP.values()})


def rank_remedies(
    missed: pd.DataFrame,
    kinds: Sequence[Kind],
    rules: Sequence[BoundRule],
    kept: Mapping[str, frozenset[str]],
    limits: StreetNameLimits,
) -> pd.DataFrame:
    """Return the inputs without which rules could not judge faults that were missed, the most useful first.

    Parameters
    ----------
    missed
        One row per fault that no rule found that knows its kind, with everything that the rules read of it, ``kind``,
        and what :func:`with_place_before` adds.
    kinds
        What was planted.
    rules
        The rules in force.
    kept
        By contract column, the names of the registers that keep it.
    limits
        Of the rule on street names, for ``missed``.

    Returns
    -------
    pandas.DataFrame
        ``input``, the number of ``faults`` that one more rule could have judged if this input alone had been there, and
        the ``rules``, joined by commas.
    """
    found = []
    for kind in kinds:
        cores = missed[missed["kind"].eq(kind.name)]
        if not len(cores):
            continue
        bound = [one for one in rules if one.rule.slug in kind.rules]
        asked = {one.rule.slug: (one.assessed(cores), one.applies(cores) & _could_find(one, cores)) for one in bound}
        ranked = rank_evidence(cores, bound, asked, kept)[["input", "cores", "rules"]]
        # what the kind spoiled itself is no input that was missing
        own = {*kind.spoils, *([_POSITION] if {"x", "y"} & {*kind.spoils} else [])}
        found.append(ranked[ranked["cores"].gt(0) & ~ranked["input"].isin(own)])
        if "street" not in own and any(one.rule.slug == _STREET_RULE for one in bound):
            found.append(_unnamed(cores, limits))
    if not found:
        return pd.DataFrame({"input": [], "faults": [], "rules": []}).astype({"input": "str", "rules": "str"})
    every = pd.concat(found, ignore_index=True)
    table = every.groupby("input", sort=True).agg(
        faults=("cores", "sum"),
        rules=("rules", lambda lists: ", ".join(sorted({name for text in lists for name in text.split(", ")}))),
    )
    return table.sort_values("faults", ascending=False, kind="stable").reset_index()


def _could_find(bound: BoundRule, cores: pd.DataFrame) -> pd.Series:
    """Return whether a rule could find each of N faults, had it what it lacks: what is recorded agreed with the map."""
    if bound.rule.slug not in _OF_MAP:
        return pd.Series(data=True, index=cores.index)
    name = _OF_MAP[bound.rule.slug]
    return cores[name].notna() & cores[f"before_{name}"].notna() & cores[name].ne(cores[f"before_{name}"])


def _unnamed(cores: pd.DataFrame, limits: StreetNameLimits) -> pd.DataFrame:
    """Return how many of N faults the name of their street would show, as ``rank_evidence`` has an input.

    That a name is missing is no lack of evidence to an audit, which knows the street by the position.
    """
    moved = cores["street_matched"].notna() & cores["before_street_matched"].notna()
    moved &= cores["street_matched"].ne(cores["before_street_matched"])
    least = limits.min_confidence
    is_sure = cores["segment_confidence"].ge(least.reindex(cores.index) if isinstance(least, pd.Series) else least)
    faults = int((cores["street"].isna() & moved & is_sure).sum())
    return pd.DataFrame({"input": ["street"], "cores": [faults], "rules": [_STREET_RULE]}).head(int(faults > 0))


def lacking_accuracy(missed: pd.DataFrame, kinds: Sequence[Kind], limits: StreetNameLimits) -> int:
    """Return how many slips of a position were missed because the position is too inaccurate for its street to count.

    At these the street differs, and the segment is less certain than the rule asks for.
    """
    is_sized = missed["kind"].isin([kind.name for kind in kinds if kind.has_size])
    differs = missed["name_match"].lt(limits.min_match)
    return int((is_sized & differs & missed["segment_confidence"].lt(limits.min_confidence)).sum())


def narrower_limits(
    missed: pd.DataFrame, kinds: Sequence[Kind], cores: pd.DataFrame, outcomes: pd.DataFrame
) -> pd.DataFrame:
    """Return plausible ranges as narrow as the sizes of the register, where these would find faults that were missed.

    Parameters
    ----------
    missed, kinds
        As for :func:`rank_remedies`.
    cores
        ``diameter_mm`` and ``depth_mm`` of N rows before anything is planted.
    outcomes
        Of each rule for each of these.

    Returns
    -------
    pandas.DataFrame
        ``rule``, ``low_mm``, ``high_mm``: whole millimetres between which 99 % of the sizes lie. ``faults``: of those
        missed, how many lie beyond. ``cores``: of the N, how many do that the rule does not question now.
    """
    rows = []
    for rule, column in _RANGES.items():
        if rule not in outcomes:
            continue
        sizes = cores.loc[outcomes[rule].ne(FOUND), column].dropna()
        if len(sizes) < _LEAST_SIZES:
            continue
        low = float(np.floor(sizes.quantile(_BEYOND, interpolation="lower")))
        high = float(np.ceil(sizes.quantile(1 - _BEYOND, interpolation="higher")))
        spoilt = missed.loc[missed["kind"].isin([kind.name for kind in kinds if rule in kind.rules]), column]
        if faults := int((spoilt.lt(low) | spoilt.gt(high)).sum()):
            rows.append((rule, low, high, faults, int((sizes.lt(low) | sizes.gt(high)).sum())))
    return pd.DataFrame(rows, columns=["rule", "low_mm", "high_mm", "faults", "cores"])
