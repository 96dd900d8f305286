"""Which row of one run is the same core as which row of another: by id, or else by id and position."""

from typing import Final, NamedTuple

import numpy as np
import numpy.typing as npt
import pandas as pd

from pipeline.contracts import plain_ids

__all__ = ["Matched", "match_rows"]

Positions = npt.NDArray[np.intp]

# of several rows with one id at one position, rows with the same values here are matched first
_CONTENT: Final = (
    "diameter_mm",
    "depth_mm",
    "status",
    "findings",
    "segment_id",
    "street",
    "surface",
    "district",
    "shade",
)


class Matched(NamedTuple):
    """Positions (0-based) in the two tables.

    ``before`` and ``after`` are the matched pairs. ``removed`` and ``added`` have an id that the other run lacks.
    ``aside_before`` and ``aside_after`` could not be matched. Every row of a table is in exactly one of its arrays.
    """

    before: Positions
    after: Positions
    removed: Positions
    added: Positions
    aside_before: Positions
    aside_after: Positions


def match_rows(before: pd.DataFrame, after: pd.DataFrame) -> Matched:
    """Match the rows of two tables of cores.

    An id that occurs once in each table is one core. Rows with an id that occurs several times in either table, or
    without an id, are matched if they have exactly the same longitude and latitude: first those with the same values,
    then the others in the order of their tables, the n-th with the n-th. The remaining rows are set aside.

    Parameters
    ----------
    before, after
        N and M rows with the columns of ``cores.parquet``, or those of a pack: rows with one id at one position are
        told apart by the values that both have.

    Returns
    -------
    Matched
        Swapped arguments give the same pairs, swapped.
    """
    codes, _ = pd.factorize(pd.concat([plain_ids(before["core_id"]), plain_ids(after["core_id"])], ignore_index=True))
    ids = codes[: len(before)], codes[len(before) :]
    # a row without an id has code -1: it is counted under one code beyond the last, which is never looked up
    most = int(codes.max(initial=-1)) + 1
    times = [np.bincount(np.where(of_table < 0, most, of_table), minlength=most + 1) for of_table in ids]
    has_id = [of_table >= 0 for of_table in ids]
    removed = has_id[0] & (times[1][ids[0]] == 0)
    added = has_id[1] & (times[0][ids[1]] == 0)
    several = np.maximum(*times) > 1
    unsure = [~has | several[of_table] for has, of_table in zip(has_id, ids, strict=True)]

    sure = np.flatnonzero(~unsure[0] & ~removed)
    position = np.zeros(most + 1, dtype=np.intp)
    position[ids[1]] = np.arange(len(after))
    pairs = [(sure, position[ids[0][sure]])]
    content = [name for name in _CONTENT if name in before and name in after]
    left = [
        _clues(table, of_table, rows, content)
        for table, of_table, rows in zip((before, after), ids, (unsure[0] & ~removed, unsure[1] & ~added), strict=True)
    ]
    for keys in (["id", "lon", "lat", "content"], ["id", "lon", "lat"]):
        pair = _nth_with_nth(left[0], left[1], keys)
        pairs.append(pair)
        left = [clues[~clues["position"].isin(taken)] for clues, taken in zip(left, pair, strict=True)]
    paired = [np.concatenate(sides) for sides in zip(*pairs, strict=True)]
    order = np.argsort(paired[1], kind="stable")
    return Matched(
        paired[0][order],
        paired[1][order],
        np.flatnonzero(removed),
        np.flatnonzero(added),
        *(np.sort(clues["position"].to_numpy(np.intp)) for clues in left),
    )


def _clues(table: pd.DataFrame, ids: Positions, unsure: npt.NDArray[np.bool_], names: list[str]) -> pd.DataFrame:
    rows = table[unsure]
    content = pd.Series("", rows.index, dtype="str")
    for name in names:
        content = content + "\x1f" + rows[name].astype("str").fillna("")
    return pd.DataFrame(
        {
            "position": np.flatnonzero(unsure),
            "id": ids[unsure],
            "lon": rows["lon"].to_numpy(),
            "lat": rows["lat"].to_numpy(),
            "content": content.to_numpy(),
        }
    )


def _nth_with_nth(before: pd.DataFrame, after: pd.DataFrame, keys: list[str]) -> tuple[Positions, Positions]:
    """Return pairs of rows with equal keys, the n-th of each table with the n-th; none without a position."""
    numbered = [
        placed.assign(nth=placed.groupby(keys, sort=False).cumcount())
        for placed in (clues.dropna(subset=["lon", "lat"]) for clues in (before, after))
    ]
    both = numbered[0].merge(numbered[1], on=[*keys, "nth"], suffixes=("_before", "_after"), validate="one_to_one")
    return both["position_before"].to_numpy(np.intp), both["position_after"].to_numpy(np.intp)
