"""Which row of one run is which row of another: by id, and where the id does not tell, by id and place."""

from typing import Final, NamedTuple

import numpy as np
import numpy.typing as npt
import pandas as pd

__all__ = ["Matched", "match_rows", "plain_ids"]

Places = npt.NDArray[np.intp]

# of several rows with one id at one place, those that say the same are matched first
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
    """Places (0-based) in the two tables.

    ``before`` and ``after`` pair up. ``vanished`` and ``new`` have an id that the other run lacks. ``aside_before``
    and ``aside_after`` cannot be told. Every place of a table stands in exactly one of its three arrays.
    """

    before: Places
    after: Places
    vanished: Places
    new: Places
    aside_before: Places
    aside_after: Places


def plain_ids(core_id: pd.Series) -> pd.Series:
    """Return ids without case and spaces, missing where nothing is left: two that are alike name one core."""
    plain = core_id.str.casefold().str.replace(r"\s+", "", regex=True)
    return plain.where(plain.ne(""))


def match_rows(before: pd.DataFrame, after: pd.DataFrame) -> Matched:
    """Match the rows of two tables of cores.

    An id that stands once in each table is one core. An id that stands several times in either, or is missing, does
    not tell which row is which: then rows at the very same longitude and latitude are matched, first those that say
    the same, then the rest in the order of their tables, the n-th with the n-th. What is left is set aside.

    Parameters
    ----------
    before, after
        N and M rows with the columns of ``cores.parquet``.

    Returns
    -------
    Matched
        Swapped arguments give the same pairs, swapped.
    """
    codes, _ = pd.factorize(pd.concat([plain_ids(before["core_id"]), plain_ids(after["core_id"])], ignore_index=True))
    ids = codes[: len(before)], codes[len(before) :]
    # a row without an id has code -1: it counts under the code beyond the last, which is never asked for
    most = int(codes.max(initial=-1)) + 1
    times = [np.bincount(np.where(one < 0, most, one), minlength=most + 1) for one in ids]
    has_id = [one >= 0 for one in ids]
    vanished = has_id[0] & (times[1][ids[0]] == 0)
    new = has_id[1] & (times[0][ids[1]] == 0)
    several = np.maximum(*times) > 1
    unsure = [~has | several[one] for has, one in zip(has_id, ids, strict=True)]

    sure = np.flatnonzero(~unsure[0] & ~vanished)
    place = np.zeros(most + 1, dtype=np.intp)
    place[ids[1]] = np.arange(len(after))
    pairs = [(sure, place[ids[0][sure]])]
    left = [
        _clues(table, one, places)
        for table, one, places in zip((before, after), ids, (unsure[0] & ~vanished, unsure[1] & ~new), strict=True)
    ]
    for keys in (["id", "lon", "lat", "content"], ["id", "lon", "lat"]):
        pair = _nth_with_nth(left[0], left[1], keys)
        pairs.append(pair)
        left = [clues[~clues["place"].isin(taken)] for clues, taken in zip(left, pair, strict=True)]
    paired = [np.concatenate(sides) for sides in zip(*pairs, strict=True)]
    order = np.argsort(paired[1], kind="stable")
    return Matched(
        paired[0][order],
        paired[1][order],
        np.flatnonzero(vanished),
        np.flatnonzero(new),
        *(np.sort(clues["place"].to_numpy(np.intp)) for clues in left),
    )


def _clues(table: pd.DataFrame, ids: Places, unsure: npt.NDArray[np.bool_]) -> pd.DataFrame:
    rows = table[unsure]
    content = pd.Series("", rows.index, dtype="str")
    for name in _CONTENT:
        content = content + "\x1f" + rows[name].astype("str").fillna("")
    return pd.DataFrame(
        {
            "place": np.flatnonzero(unsure),
            "id": ids[unsure],
            "lon": rows["lon"].to_numpy(),
            "lat": rows["lat"].to_numpy(),
            "content": content.to_numpy(),
        }
    )


def _nth_with_nth(before: pd.DataFrame, after: pd.DataFrame, keys: list[str]) -> tuple[Places, Places]:
    """Pair rows with equal keys, the n-th of one table with the n-th of the other; a row without a place has no key."""
    numbered = [
        placed.assign(nth=placed.groupby(keys, sort=False).cumcount())
        for placed in (clues.dropna(subset=["lon", "lat"]) for clues in (before, after))
    ]
    both = numbered[0].merge(numbered[1], on=[*keys, "nth"], suffixes=("_before", "_after"), validate="one_to_one")
    return both["place_before"].to_numpy(np.intp), both["place_after"].to_numpy(np.intp)
