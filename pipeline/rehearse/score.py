"""What the rules found of the planted faults, what they missed, and which rows they blamed wrongly."""

from collections.abc import Sequence
from typing import Final, NamedTuple

import numpy as np
import numpy.typing as npt
import pandas as pd
from scipy.spatial import KDTree

from pipeline.audit.outcomes import FOUND
from pipeline.intervals import true_rates
from pipeline.rehearse.making import Kind
from pipeline.rehearse.planting import Planted

__all__ = ["SIZES_M", "Audited", "judge", "refused", "tally", "tally_sizes"]

# slips of a position are counted between these, in metres
SIZES_M: Final = (0.0, 1.0, 3.0, 10.0, 30.0, 100.0, 300.0, 1000.0, np.inf)


class Audited(NamedTuple):
    """What an audit says of N rows: the rows as read, with ``x_m`` and ``y_m``, and the outcome of each rule."""

    cores: pd.DataFrame
    outcomes: pd.DataFrame


def judge(planted: Planted, kinds: Sequence[Kind], before: Audited, after: Audited) -> pd.DataFrame:
    """Return one row per planted fault, in their order.

    A fault is found if its row gains a finding of a rule that knows its kind, and noticed if it gains one of another
    rule alone. A row that was not spoiled, is no partner and gains a finding is blamed wrongly, and counts for the
    fault that lies nearest to it, where its core was or where the fault puts it.

    Returns
    -------
    pandas.DataFrame
        ``row``, ``core_id`` (before), ``kind``, ``written``, ``outcome`` (``found``, ``noticed`` or ``missed``),
        ``found_by`` (rules that know the kind, joined by ``;``), ``noticed_by`` (others), ``moved_m`` (how far the
        core was moved; missing where it has no position any more), ``blamed`` (rows blamed wrongly).
    """
    gained = after.outcomes.eq(FOUND).to_numpy() & ~before.outcomes.eq(FOUND).to_numpy()
    names = after.outcomes.columns
    knows = np.array([names.isin(kind.rules) for kind in kinds])[planted.kinds]
    mine = gained[planted.rows]
    found, noticed = (mine & knows).any(axis=1), (mine & ~knows).any(axis=1)
    innocent = gained.any(axis=1)
    innocent[planted.rows] = False
    innocent[planted.partners] = False
    old, new = (one.cores[["x_m", "y_m"]].to_numpy() for one in (before, after))
    rows = before.cores.iloc[planted.rows]
    return pd.DataFrame(
        {
            "row": rows["row"].to_numpy(),
            "core_id": rows["core_id"].to_numpy(),
            "kind": [kinds[number].name for number in planted.kinds],
            "written": planted.written.to_numpy(),
            "outcome": np.select([found, noticed], ["found", "noticed"], "missed"),
            "found_by": _joined(mine & knows, names),
            "noticed_by": _joined(mine & ~knows, names),
            "moved_m": np.hypot(*(new - old)[planted.rows].T),
            "blamed": _blamed(np.flatnonzero(innocent), planted.rows, old, new),
        }
    )


def refused(planted: Planted, kinds: Sequence[Kind], before: Audited, message: str) -> pd.DataFrame:
    """Return the rows of faults with which an audit refuses the register: they are found, by no rule."""
    rows = before.cores.iloc[planted.rows]
    return pd.DataFrame(
        {
            "row": rows["row"].to_numpy(),
            "core_id": rows["core_id"].to_numpy(),
            "kind": [kinds[number].name for number in planted.kinds],
            "written": planted.written.to_numpy(),
            "outcome": "found",
            "found_by": "",
            "noticed_by": message,
            "moved_m": np.nan,
            "blamed": 0,
        }
    )


def _joined(which: npt.NDArray[np.bool_], names: pd.Index) -> npt.NDArray[np.object_]:
    """Return for each row the names of the columns that are true, joined."""
    texts = np.full(len(which), "", dtype=object)
    for at, name in enumerate(names):
        here = which[:, at]
        texts[here] = texts[here] + np.where(texts[here] == "", "", ";") + name
    return texts


def _blamed(
    innocent: npt.NDArray[np.intp],
    rows: npt.NDArray[np.intp],
    old: npt.NDArray[np.float64],
    new: npt.NDArray[np.float64],
) -> npt.NDArray[np.intp]:
    """Return for each planted fault the number of rows that are blamed wrongly and nearer to it than to any other."""
    places = np.concatenate([old[rows], new[rows]])
    fault = np.tile(np.arange(len(rows)), 2)
    is_there = np.isfinite(places).all(axis=1)
    at = old[innocent]
    # a row without a position is counted for the fault that is nearest in the register
    after = np.minimum(np.searchsorted(rows, innocent), len(rows) - 1)
    before = np.maximum(after - 1, 0)
    nearest = np.where(innocent - rows[before] <= rows[after] - innocent, before, after)
    known = np.isfinite(at).all(axis=1)
    if is_there.any() and known.any():
        nearest[known] = fault[is_there][KDTree(places[is_there]).query(at[known])[1]]
    return np.bincount(nearest, minlength=len(rows))


def tally(faults: pd.DataFrame, by: str) -> pd.DataFrame:
    """Return the counts of faults and the exact interval of the share found, by the values of a column.

    Returns
    -------
    pandas.DataFrame
        By value: ``planted``, ``found``, ``noticed``, ``missed``, ``blamed``, ``share`` found, ``low`` and ``high``,
        the ends of its 95 % interval (Clopper and Pearson).
    """
    counts = pd.crosstab(faults[by], faults["outcome"]).reindex(columns=["found", "noticed", "missed"], fill_value=0)
    planted = counts.sum(axis="columns")
    low, high = true_rates(counts["found"], planted)
    blamed = faults.groupby(by, observed=True)["blamed"].sum().reindex(counts.index)
    table = counts.assign(planted=planted, blamed=blamed, share=counts["found"] / planted, low=low, high=high)
    return table[["planted", "found", "noticed", "missed", "blamed", "share", "low", "high"]]


def tally_sizes(faults: pd.DataFrame, kinds: Sequence[Kind]) -> pd.DataFrame:
    """Return the same by how far a slip moved the core, for kinds that have a size; ``from_m`` and ``to_m`` by band.

    Bands without a fault are left out. A slip that moves nothing has no size, and one after which the core has no
    position has none either.
    """
    sized = faults[faults["kind"].isin([kind.name for kind in kinds if kind.has_size]) & faults["moved_m"].gt(0)]
    band = pd.cut(sized["moved_m"], list(SIZES_M), right=False, labels=False)
    table = tally(sized.assign(band=band.astype("int64")), "band")
    edges = np.array(SIZES_M)
    at = table.index.to_numpy(dtype=np.intp)
    return table.assign(from_m=edges[at], to_m=edges[at + 1]).reset_index(drop=True)
