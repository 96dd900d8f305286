"""Whether what is stated by position alone holds, judged by the street names that the register writes."""

from typing import Final

import numpy as np
import numpy.typing as npt
import pandas as pd

from pipeline.locate.learning.fit import Batch

__all__ = ["RELIABILITY_COLUMNS", "agreements", "reliability_table"]

Floats = npt.NDArray[np.float64]

RELIABILITY_COLUMNS: Final = ("batch", "when", "group", "cores", "stated", "agreed")
_GROUPS: Final = 10
# names that agree this well are the same street
_AGREES: Final = 0.5
# share of lines without a name up to which a core is judged
_MOST_NAMELESS: Final = 0.05


def agreements(batch: Batch, street: npt.NDArray[np.intp], position: Floats, name_right: Floats) -> pd.DataFrame:
    """Return how likely the written name of each core agrees with its likeliest street, and whether it does.

    Parameters
    ----------
    batch
        P pairs of N cores.
    street
        P numbers of the streets of the lines, -1 without a name.
    position
        P likelihoods of the positions; names play no part in them.
    name_right
        P shares of right names.

    Returns
    -------
    pandas.DataFrame
        On the number of the core: ``stated``, ``agreed`` (0 or 1). Cores without a name are left out, and those
        that may well be on a line without one: whether a footway agrees goes by the streets beside it.
    """
    pairs = pd.DataFrame(
        {
            "core": batch.core,
            "street": street,
            "weight": position * batch.level,
            "match": batch.match,
            "right": name_right,
        }
    )
    total = pairs.groupby("core")["weight"].transform("sum")
    pairs["share"] = np.divide(pairs["weight"], total, out=np.zeros(len(pairs)), where=total.to_numpy() > 0)
    own = pairs.groupby(["core", "street"], sort=True).agg(
        share=("share", "sum"), match=("match", "max"), right=("right", "max")
    )
    own = own.reset_index().sort_values(["core", "share", "street"], ascending=[True, False, True])
    nameless = own[own["street"].lt(0)].groupby("core")["share"].sum()
    best = own.drop_duplicates("core").set_index("core")
    is_judged = best["match"].notna() & ~best.index.isin(nameless.index[nameless.gt(_MOST_NAMELESS)])
    best = best[is_judged]
    wrong = (1 - best["right"]) / batch.names_near
    stated = best["share"] * best["right"] + (1 - best["share"]) * wrong
    return pd.DataFrame({"stated": stated, "agreed": best["match"].ge(_AGREES).astype(float)})


def reliability_table(batch: pd.Series, found: dict[str, pd.DataFrame]) -> pd.DataFrame:
    """Return RELIABILITY_COLUMNS: stated and found shares by batch and by tenths of what was stated.

    ``batch``: name of the batch by number of the core. ``found``: "before" and "after", as :func:`agreements` gives
    them.
    """
    parts = []
    for when, each in found.items():
        of_core = each.assign(batch=batch.reindex(each.index).to_numpy())
        of_core["group"] = np.minimum((of_core["stated"] * _GROUPS).astype(int), _GROUPS - 1)
        table = of_core.groupby(["batch", "group"]).agg(
            cores=("stated", "size"), stated=("stated", "mean"), agreed=("agreed", "mean")
        )
        parts.append(table.reset_index().assign(when=when))
    return pd.concat(parts)[list(RELIABILITY_COLUMNS)].reset_index(drop=True)
