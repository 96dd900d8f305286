"""The values of a core that differ between two runs: position, size, state, urgency, permit."""

from collections.abc import Iterator
from typing import Final, NamedTuple

import numpy as np
import pandas as pd
from pyproj import Geod

from pipeline.history.matching import Matched, Positions

__all__ = ["MOVED_M", "SAME_SIZE_MM", "SIZES", "Found", "alone", "positions", "sizes", "states", "texts"]

# up to this distance, a position was measured again, and the core did not move
MOVED_M: Final = 1.0
# up to this difference, a size was written again, often in another unit: 450 mm are 17.72 in, which are 450.1 mm
SAME_SIZE_MM: Final = 1.0
SIZES: Final = ("diameter_mm", "depth_mm")
# as a reader calls it
_STATE_WORDS: Final = {"back": "reinstated"}
_NOTHING_URGENT: Final = "none"
_GEOD: Final = Geod(ellps="WGS84")


class Found(NamedTuple):
    """Cores with one kind of change: their positions in both tables (-1: none), and values before and after."""

    kind: str
    at_before: Positions
    at_after: Positions
    before: pd.Series
    after: pd.Series


def alone(kind: str, positions: Positions, cores: pd.DataFrame, *, is_after: bool) -> Found:
    label, none = cores["label"].iloc[positions], np.full_like(positions, -1)
    nothing = pd.Series("", label.index, dtype="str")
    if is_after:
        return Found(kind, none, positions, nothing, label)
    return Found(kind, positions, none, label, nothing)


# of N cores that both runs have: the kind, the texts before and after, and which of them changed
Compared = tuple[str, pd.Series, pd.Series, pd.Series]


def texts(kind: str, before: pd.Series, after: pd.Series) -> Compared:
    """Return where a text differs; a missing one is empty."""
    return kind, before, after, before.fillna("").ne(after.fillna(""))


def states(old: pd.DataFrame, new: pd.DataFrame, looked_for: list[str]) -> Iterator[Compared]:
    """Yield where the urgency or the state differs; a core that was closed or reopened is listed as that."""
    if "urgency changed" in looked_for:
        was, now = (cores["urgency"].fillna(_NOTHING_URGENT).replace("", _NOTHING_URGENT) for cores in (old, new))
        yield texts("urgency changed", was, now)
    if "state changed" in looked_for:
        was, now = (cores["state"].replace(_STATE_WORDS) for cores in (old, new))
        is_listed = old["is_reinstated"].ne(new["is_reinstated"]) & ("closed" in looked_for)
        yield "state changed", was, now, was.ne(now) & ~is_listed


def positions(matched: Matched, old: pd.DataFrame, new: pd.DataFrame) -> Iterator[Found]:
    had, has = (cores[["lon", "lat"]].notna().all(axis="columns") for cores in (old, new))
    both = had & has
    apart = pd.Series(0.0, old.index)
    there, here = (cores.loc[both] for cores in (old, new))
    apart[both] = _GEOD.inv(
        there["lon"].to_numpy(), there["lat"].to_numpy(), here["lon"].to_numpy(), here["lat"].to_numpy()
    )[2]
    for kind, hit in (("moved", apart.gt(MOVED_M)), ("position found", ~had & has), ("position lost", had & ~has)):
        is_at = _lon_lat(new[hit])
        if kind == "moved":
            is_at = is_at + " (" + apart[hit].round(1).astype("str") + " m away)"
        yield Found(kind, matched.before[hit], matched.after[hit], _lon_lat(old[hit]), is_at)


def _lon_lat(cores: pd.DataFrame) -> pd.Series:
    text = cores["lon"].round(7).astype("str") + ", " + cores["lat"].round(7).astype("str")
    return text.where(cores["lon"].notna() & cores["lat"].notna(), "")


def sizes(matched: Matched, old: pd.DataFrame, new: pd.DataFrame) -> Found:
    hit = pd.Series(data=False, index=old.index)
    for name in SIZES:
        # rounded, so that a difference of exactly 1 mm does not depend on how fractions are stored
        differs = (old[name] - new[name]).abs().round(3).gt(SAME_SIZE_MM)
        hit |= differs | old[name].isna().ne(new[name].isna())
    return Found("size changed", matched.before[hit], matched.after[hit], _size(old[hit]), _size(new[hit]))


def _size(cores: pd.DataFrame) -> pd.Series:
    diameter, depth = (
        # the type is given for a table without rows
        cores[name].map("{:g} mm".format).astype("str").where(cores[name].notna(), "unknown")
        for name in SIZES
    )
    return diameter + " by " + depth
