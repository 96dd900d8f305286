"""The changes added up: by rule, by district, and how the counts changed from one run to the other."""

import numpy as np
import numpy.typing as npt
import pandas as pd

from pipeline.contracts import NO_DISTRICT
from pipeline.history.matching import Matched

__all__ = ["count_by_district", "count_by_rule", "count_stock"]

Flags = npt.NDArray[np.bool_]


def count_by_rule(lines: pd.DataFrame) -> pd.DataFrame:
    """Return ``rule`` and the number of cores with a new finding (``found``) and a cleared one (``gone``)."""
    counts = {
        "found": lines.loc[lines["change"].eq("new finding"), "after"].value_counts(),
        "gone": lines.loc[lines["change"].eq("cleared finding"), "before"].value_counts(),
    }
    table = pd.DataFrame(counts).fillna(0).astype("int64").sort_index()
    return table.rename_axis(index="rule").reset_index()


def count_by_district(lines: pd.DataFrame, kinds: list[str], was: pd.DataFrame, now: pd.DataFrame) -> pd.DataFrame:
    """Return one row per district, one column per kind, and the bags that its open cores needed before and after.

    Where one of the runs does not have the bags, neither has the table.
    """
    counts = pd.crosstab(lines["district"].fillna(NO_DISTRICT), lines["change"])
    if "bags" not in was or "bags" not in now:
        names = sorted({*counts.index, *was["district"].fillna(NO_DISTRICT), *now["district"].fillna(NO_DISTRICT)})
        return (
            counts.reindex(index=names, columns=kinds, fill_value=0)
            .rename_axis(index="district", columns=None)
            .reset_index()
        )
    bags = [
        cores["bags"].mask(cores["is_reinstated"]).groupby(cores["district"].fillna(NO_DISTRICT)).sum()
        for cores in (was, now)
    ]
    names = sorted({*counts.index, *bags[0].index, *bags[1].index})
    table = counts.reindex(index=names, columns=kinds, fill_value=0).rename_axis(index="district", columns=None)
    table["bags_before"], table["bags_after"] = (needed.reindex(names, fill_value=0.0).round(6) for needed in bags)
    table["bags_difference"] = (table["bags_after"] - table["bags_before"]).round(6)
    return table.reset_index()


def count_stock(matched: Matched, was: pd.DataFrame, now: pd.DataFrame) -> pd.DataFrame:
    """Return how the number of all, of flagged and of open cores changed from one run to the other."""
    everything = (np.ones(len(was), dtype=bool), np.ones(len(now), dtype=bool))
    flagged = (was["is_flagged"].to_numpy(), now["is_flagged"].to_numpy())
    still_open = (~was["is_reinstated"].to_numpy(), ~now["is_reinstated"].to_numpy())
    held_by = {"all": everything, "flagged": flagged, "open": still_open}
    return pd.DataFrame([{"cores": name, **_flow(matched, *held)} for name, held in held_by.items()])


def _flow(matched: Matched, was: Flags, now: Flags) -> dict[str, int]:
    old, new = was[matched.before], now[matched.after]
    return {
        "before": int(was.sum()),
        "added": int(now[matched.added].sum()),
        "newly": int((~old & new).sum()),
        "no_longer": int((old & ~new).sum()),
        "removed": int(was[matched.removed].sum()),
        "not_comparable": int(now[matched.aside_after].sum()) - int(was[matched.aside_before].sum()),
        "after": int(now.sum()),
    }
