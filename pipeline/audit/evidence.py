"""Inputs that are missing for the rules, ranked by the number of cores that each would make it possible to assess."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any, NamedTuple

import numpy as np
import numpy.typing as npt
import pandas as pd

from pipeline.audit.registry import BoundRule
from pipeline.contracts import AUDIT_TABLES, LOCATED_COLUMNS, MADE_FROM, REGISTER_COLUMNS, names_of

__all__ = ["rank_evidence"]

# inputs that come from elsewhere than the register
_LAYERS = {
    "joint_m": "layer [joints]",
    "resurfaced_known": "layer [resurfaced]",
    "planned_works_known": "layer [planned_works]",
    "slope_percent": "roads.columns.slope",
    "district_how": "layer [districts]",
    "surface_on_map": "surface of the map",
}
_POSITION = "position"
_RECORDED = {column.name for column in REGISTER_COLUMNS}
# what no record can supply: it follows from the position
_FOUND = {column.name for column in LOCATED_COLUMNS if column.made_from is None} - set(_LAYERS) | {"x_m", "spacing_x_m"}
_COLUMNS = list(names_of(AUDIT_TABLES["evidence"]))
Truths = npt.NDArray[np.bool_]


@dataclass
class _Lacking:
    """An input that is missing: for which of N cores alone or at all, how often alone, and for which rules."""

    alone: Truths
    beside: Truths
    assessments: int
    rules: list[str]


def rank_evidence(
    cores: pd.DataFrame,
    rules: list[BoundRule],
    asked: dict[str, tuple[pd.Series, pd.Series]],
    kept: Mapping[str, frozenset[str]],
) -> pd.DataFrame:
    """Return the inputs that are missing, the most useful first.

    Parameters
    ----------
    cores
        N rows with the audit's columns.
    rules
        The rules in force.
    asked
        By slug: which cores the rule could assess, and to which it applies.
    kept
        By contract column, the names of the registers that keep it.

    Returns
    -------
    pandas.DataFrame
        One row per input: ``input``; ``cores`` that at least one more rule could assess if this input alone were there;
        ``assessments``, the same counted for every rule; ``cores_with_others`` for which it is missing together with
        other inputs; ``rules`` that would use it; of all these cores, those whose register does not keep a column for
        it (``not_kept``), those where it is ``left_empty`` or cannot be read, and the ``registers`` that do not keep
        it; none of them for what no register has. A core to which a rule does not apply is not counted, and a core in
        several rows is counted once.
    """
    counted = ~cores["is_copy"].to_numpy()
    found: dict[str, _Lacking] = {}
    known = _known_of(cores, rules)
    for bound in rules:
        able, applies = (truths.to_numpy() for truths in asked[bound.rule.slug])
        lacking = applies & ~able & counted
        if lacking.any():
            _add_lacking(found, bound, known, lacking)
    register, names = pd.factorize(cores["register"])
    rows = [
        {
            "input": source,
            "cores": int(one.alone.sum()),
            "assessments": one.assessments,
            "cores_with_others": int((one.beside & ~one.alone).sum()),
            "rules": ", ".join(one.rules),
            **_kept_or_empty(register, names, one.alone | one.beside, source, kept),
        }
        for source, one in found.items()
    ]
    ranked = pd.DataFrame(rows, columns=_COLUMNS)
    return ranked.sort_values(
        ["cores", "assessments", "cores_with_others", "input"], ascending=[False, False, False, True]
    ).reset_index(drop=True)


def _kept_or_empty(
    register: npt.NDArray[np.intp], names: pd.Index, lacking: Truths, source: str, kept: Mapping[str, frozenset[str]]
) -> dict[str, Any]:
    """Return how many cores that lack an input are in registers without a column for it, and which these are."""
    if source not in (*_RECORDED, _POSITION):
        return {"not_kept": 0, "left_empty": 0, "registers": ""}
    # every register has positions
    without = ~(names.isin(kept.get(source, frozenset())) | (source == _POSITION))
    # a core without a register has the place after the last one
    not_kept = lacking & np.append(without, source != _POSITION)[register]
    return {
        "not_kept": int(not_kept.sum()),
        "left_empty": int((lacking & ~not_kept).sum()),
        "registers": ", ".join(names[pd.unique(register[not_kept])]),
    }


class _Known(NamedTuple):
    """What N cores lack: by column, where it has no value; which have a position; of which the state is unknown."""

    absent: Mapping[str, Truths]
    is_placed: Truths
    is_state_unknown: Truths


def _known_of(cores: pd.DataFrame, rules: Sequence[BoundRule]) -> _Known:
    needs = {need for bound in rules for need in bound.rule.needs}
    sources = {source for need in needs for source in MADE_FROM.get(need, ()) if source in _RECORDED}
    return _Known(
        {name: cores[name].isna().to_numpy() for name in needs | sources},
        cores["x_m"].notna().to_numpy(),
        ~cores["is_open"].to_numpy() & cores["reinstated_at"].isna().to_numpy(),
    )


def _add_lacking(found: dict[str, _Lacking], bound: BoundRule, known: _Known, lacking: Truths) -> None:
    """Add the inputs that a rule lacks for those of N cores that it cannot assess."""
    missing, reachable = _missing(bound, known)
    reachable = reachable & lacking
    only = np.sum([*missing.values()], axis=0, dtype=np.int8) == 1 if missing else lacking
    for source, absent in missing.items():
        wanted = absent & reachable
        if wanted.any():
            one = found.setdefault(source, _Lacking(np.zeros_like(wanted), np.zeros_like(wanted), 0, []))
            one.alone |= wanted & only
            one.beside |= wanted
            one.assessments += int((wanted & only).sum())
            one.rules.append(bound.rule.slug)


def _missing(bound: BoundRule, known: _Known) -> tuple[dict[str, Truths], Truths]:
    """For N cores: which inputs a rule misses, and whether inputs alone would be enough."""
    placed = known.is_placed
    missing: dict[str, Truths] = {}
    reachable = np.ones(len(placed), dtype=bool)

    def lacks(source: str, where: Truths) -> None:
        missing[source] = missing[source] | where if source in missing else where

    if bound.rule.applies_to != "all":
        lacks("reinstated_at", known.is_state_unknown)
    for need in bound.rule.needs:
        absent = known.absent[need]
        if need in _LAYERS:
            lacks(_LAYERS[need], absent & placed)
            lacks(_POSITION, absent & ~placed)
        elif need in _FOUND:
            lacks(_POSITION, absent & ~placed)
            # no segment within reach, no confidence without a layer: no record can supply that
            reachable &= ~(absent & placed)
        elif need in _RECORDED:
            lacks(need, absent)
        elif need in MADE_FROM:
            sources = MADE_FROM[need]
            for source in sources:
                several = len(sources) > 1 and source in _RECORDED
                lacks(source, absent & known.absent[source] if several else absent)
        else:
            reachable &= ~absent
    return missing, reachable
