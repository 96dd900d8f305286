"""Inputs that are missing for the rules, ranked by the number of cores that each would make it possible to assess."""

from collections.abc import Mapping
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


class _Wanted(NamedTuple):
    """An input that a rule lacks, with N truths each: it lacks this input alone, or this input at all."""

    source: str
    rule: str
    alone: npt.NDArray[np.bool_]
    beside: npt.NDArray[np.bool_]


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
    wanted = [one for bound in rules for one in _wanted(bound, cores, *asked[bound.rule.slug])]
    rows = []
    for source in dict.fromkeys(one.source for one in wanted):
        its = [one for one in wanted if one.source == source]
        alone = np.logical_or.reduce([one.alone for one in its])
        beside = np.logical_or.reduce([one.beside for one in its])
        rows.append(
            {
                "input": source,
                "cores": int(alone.sum()),
                "assessments": sum(int(one.alone.sum()) for one in its),
                "cores_with_others": int((beside & ~alone).sum()),
                "rules": ", ".join(one.rule for one in its),
                **_kept_or_empty(cores["register"], alone | beside, source, kept),
            }
        )
    ranked = pd.DataFrame(rows, columns=_COLUMNS)
    return ranked.sort_values(
        ["cores", "assessments", "cores_with_others", "input"], ascending=[False, False, False, True]
    ).reset_index(drop=True)


def _kept_or_empty(
    register: pd.Series, lacking: npt.NDArray[np.bool_], source: str, kept: Mapping[str, frozenset[str]]
) -> dict[str, Any]:
    """Return how many cores that lack an input are in registers without a column for it, and which these are."""
    if source not in (*_RECORDED, _POSITION):
        return {"not_kept": 0, "left_empty": 0, "registers": ""}
    # every register has positions
    is_kept = register.isin(kept.get(source, frozenset())).to_numpy() | (source == _POSITION)
    not_kept = lacking & ~is_kept
    return {
        "not_kept": int(not_kept.sum()),
        "left_empty": int((lacking & ~not_kept).sum()),
        "registers": ", ".join(register[not_kept].drop_duplicates()),
    }


def _wanted(bound: BoundRule, cores: pd.DataFrame, assessed: pd.Series, applies: pd.Series) -> list[_Wanted]:
    """The inputs that a rule lacks for any of N cores."""
    lacking = (applies & ~assessed & ~cores["is_copy"]).to_numpy()
    if not lacking.any():
        return []
    missing, reachable = _missing(bound, cores[lacking])
    only = missing.sum(axis="columns").eq(1)
    found = []
    for source in map(str, missing.columns):
        wanted = missing[source] & reachable
        if wanted.any():
            alone, beside = np.zeros(len(cores), dtype=bool), np.zeros(len(cores), dtype=bool)
            alone[lacking], beside[lacking] = wanted & only, wanted
            found.append(_Wanted(source, bound.rule.slug, alone, beside))
    return found


def _missing(bound: BoundRule, cores: pd.DataFrame) -> tuple[pd.DataFrame, pd.Series]:
    """For N cores that a rule cannot assess: which inputs are missing, and whether inputs alone would be enough."""
    placed = cores["x_m"].notna()
    missing: dict[str, pd.Series] = {}
    reachable = pd.Series(data=True, index=cores.index)

    def lacks(source: str, where: pd.Series) -> None:
        missing[source] = missing.get(source, pd.Series(data=False, index=cores.index)) | where

    if bound.rule.applies_to != "all":
        lacks("reinstated_at", ~cores["is_open"] & cores["reinstated_at"].isna())
    for need in bound.rule.needs:
        absent = cores[need].isna()
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
                lacks(source, absent & cores[source].isna() if several else absent)
        else:
            reachable &= ~absent
    return pd.DataFrame(missing, index=cores.index), reachable
