"""What a rehearsal found: how each kind of fault came out, and what the figures rest on."""

import datetime as dt
from dataclasses import dataclass
from typing import Final

import pandas as pd

from pipeline.intervals import true_rate
from pipeline.programme.settings import Settings
from pipeline.rehearse.making import Kind
from pipeline.rehearse.score import tally

__all__ = ["Rehearsal", "by_kind", "summed_up"]

# from the size on from which at least this share is found in each band
_MOST_FOUND: Final = 0.5
_COUNTS: Final = ["planted", "found", "noticed", "missed", "blamed"]


@dataclass(frozen=True)
class Rehearsal:
    """The results of a rehearsal.

    ``rows``: of all registers. ``audits``: how often they were audited with faults in them. ``faults``: one row per
    planted fault, as ``score.judge`` describes it, with the ``audit`` it was in. ``kinds``: one row per kind: ``kind``,
    ``group``, ``has_size``, ``rules`` (joined by commas), ``lacks`` (register columns without which it cannot be
    planted, absent or blank in every row, joined by commas), and the counts and interval of ``score.tally``, which is
    missing where none was planted.
    ``sizes``: by how far a slip moved the core. ``remedies``: what would let rules judge faults that were missed.
    ``narrower``: plausible ranges that would find more of them.
    ``accuracy_m``, ``accuracy_from``: middle of the accuracies of the positions, missing where they were learnt, and
    where most of them are from. ``inaccurate``: slips of a position missed because of that.
    """

    settings: Settings
    as_of: dt.date
    seed: int
    rows: int
    audits: int
    faults: pd.DataFrame
    kinds: pd.DataFrame
    sizes: pd.DataFrame
    remedies: pd.DataFrame
    narrower: pd.DataFrame
    accuracy_m: float
    accuracy_from: str
    inaccurate: int

    @property
    def known(self) -> pd.Series:
        """Counts over all kinds that a rule knows, with ``share``, ``low`` and ``high``; none of these if none."""
        return summed_up(self.kinds[self.kinds["rules"].ne("")])

    @property
    def unknown(self) -> pd.Series:
        """The same over the kinds that no rule knows."""
        return summed_up(self.kinds[self.kinds["rules"].eq("")])

    @property
    def smallest_m(self) -> float:
        """The smallest slip of a position that was found, in metres; missing if none was."""
        faults = self.faults
        is_sized = faults["kind"].isin(self.kinds.loc[self.kinds["has_size"], "kind"])
        is_found = is_sized & faults["outcome"].eq("found") & faults["moved_m"].gt(0)
        return float(faults.loc[is_found, "moved_m"].min())

    @property
    def mostly_m(self) -> float:
        """The size of a slip in metres from which on at least half are found in each band; missing if there is none."""
        below = self.sizes[self.sizes["share"].lt(_MOST_FOUND)]
        above = self.sizes[self.sizes["from_m"].gt(below["from_m"].max() if len(below) else -1)]
        return float(above["from_m"].min())


def summed_up(kinds: pd.DataFrame) -> pd.Series:
    """Return the sums of the counts of some kinds, and the share that was found with its exact interval."""
    counts = kinds[_COUNTS].fillna(0).sum().astype("int64")
    if not counts["planted"]:
        return counts
    low, high = true_rate(int(counts["found"]), int(counts["planted"]))
    return pd.Series({**counts.to_dict(), "share": counts["found"] / counts["planted"], "low": low, "high": high})


def by_kind(faults: pd.DataFrame, kinds: tuple[Kind, ...], lacks: dict[str, list[str]]) -> pd.DataFrame:
    """Return one row per kind, as :class:`Rehearsal` describes it; ``lacks``: by kind, the columns it has not."""
    every = pd.DataFrame(
        {
            "kind": [kind.name for kind in kinds],
            "group": [kind.group for kind in kinds],
            "has_size": [kind.has_size for kind in kinds],
            "rules": [", ".join(kind.rules) for kind in kinds],
            "lacks": [", ".join(lacks[kind.name]) for kind in kinds],
        }
    )
    table = every.join(tally(faults, "kind"), on="kind")
    counts = {name: table[name].fillna(0).astype("int64") for name in _COUNTS}
    return table.assign(**counts)
