"""What the rules would have needed and the inputs lack, ranked by the cores that each would bring into assessment."""

import pandas as pd

from pipeline.audit.registry import BoundRule
from pipeline.contracts import LOCATED_COLUMNS, MADE_FROM, REGISTER_COLUMNS

__all__ = ["rank_evidence"]

# where a rule's need comes from that no crew writes into a register
_LAYERS = {
    "joint_m": "layer [joints]",
    "resurfaced_known": "layer [resurfaced]",
    "planned_works_known": "layer [planned_works]",
    "slope_percent": "roads.columns.slope",
    "district_how": "layer [districts]",
    "surface_on_map": "surface of the map",
}
_RECORDED = {column.name for column in REGISTER_COLUMNS}
# what no record can mend: it follows from the position
_FOUND = ({column.name for column in LOCATED_COLUMNS if column.made_from is None} | {"x_m"}) - set(_LAYERS)
_COLUMNS = ["input", "cores", "assessments", "cores_with_others", "rules"]


def rank_evidence(
    cores: pd.DataFrame, rules: list[BoundRule], able: dict[str, tuple[pd.Series, pd.Series]]
) -> pd.DataFrame:
    """Rank the inputs that are lacking.

    Parameters
    ----------
    cores
        N rows with the audit's columns.
    rules
        The rules in force.
    able
        By slug: which cores the rule could assess, and which it speaks of.

    Returns
    -------
    pandas.DataFrame
        One row an input, the most telling first: ``input``; ``cores`` that at least one more rule could assess if this
        input alone were there; ``assessments``, the same counted for every rule; ``cores_with_others`` for which it is
        wanted beside others; ``rules`` it would serve. A core that a rule does not speak of is not counted.
    """
    alone: dict[str, pd.Series] = {}
    beside: dict[str, pd.Series] = {}
    assessments: dict[str, int] = {}
    served: dict[str, list[str]] = {}
    for bound in rules:
        assessed, concerned = able[bound.rule.slug]
        lacking = concerned & ~assessed
        if not lacking.any():
            continue
        missing, reachable = _missing(bound, cores[lacking])
        count = missing.sum(axis="columns")
        for source in map(str, missing.columns):
            wanted = missing[source] & reachable
            if not wanted.any():
                continue
            by_itself = (wanted & count.eq(1)).reindex(cores.index, fill_value=False)
            nothing = pd.Series(data=False, index=cores.index)
            alone[source] = alone.get(source, nothing) | by_itself
            beside[source] = beside.get(source, nothing) | wanted.reindex(cores.index, fill_value=False)
            assessments[source] = assessments.get(source, 0) + int(by_itself.sum())
            served.setdefault(source, []).append(bound.rule.slug)
    rows = [
        {
            "input": source,
            "cores": int(alone[source].sum()),
            "assessments": assessments[source],
            "cores_with_others": int((beside[source] & ~alone[source]).sum()),
            "rules": ", ".join(served[source]),
        }
        for source in alone
    ]
    ranked = pd.DataFrame(rows, columns=_COLUMNS)
    return ranked.sort_values(
        ["cores", "assessments", "cores_with_others", "input"], ascending=[False, False, False, True]
    ).reset_index(drop=True)


def _missing(bound: BoundRule, cores: pd.DataFrame) -> tuple[pd.DataFrame, pd.Series]:
    """For N cores that a rule cannot assess: which inputs are missing, and whether inputs alone can mend it."""
    placed = cores["x_m"].notna()
    missing: dict[str, pd.Series] = {}
    reachable = pd.Series(data=True, index=cores.index)

    def lacks(source: str, where: pd.Series) -> None:
        missing[source] = missing.get(source, pd.Series(data=False, index=cores.index)) | where

    if bound.rule.concerns != "all":
        lacks("reinstated_at", ~cores["is_open"] & cores["reinstated_at"].isna())
    for need in bound.rule.needs:
        absent = cores[need].isna()
        if need in _LAYERS:
            lacks(_LAYERS[need], absent & placed)
            lacks("position", absent & ~placed)
        elif need in _FOUND:
            lacks("position", absent & ~placed)
            # no segment within reach, no confidence without a layer: nobody can write that down
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
