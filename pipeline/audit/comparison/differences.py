"""Which differences between groups hold: raw, among alike cores, and after a correction for all comparisons."""

from collections.abc import Sequence
from dataclasses import fields
from typing import Final

import numpy as np
import pandas as pd

from pipeline.audit.comparison.measures import Tally
from pipeline.audit.comparison.tails import (
    Numbers,
    corrected,
    lower_tail,
    rate_intervals,
    upper_tail,
    with_few_clusters,
)
from pipeline.audit.comparison.tallies import Expected
from pipeline.intervals import CONFIDENCE

__all__ = ["FEWEST", "judged", "table_of", "with_chances"]

# a smaller group shows nothing; of cores, and of the clusters that they come in
FEWEST: Final = 5


def table_of(tallies: Sequence[Tally]) -> pd.DataFrame:
    """Return one row per measure and group that it applies to: its share, those of the others, the chances of each.

    ``p_more``, ``p_less``: of findings as many and as few, in raw comparison; ``p_more_alike``, ``p_less_alike``: among
    alike cores. ``is_few``: the group, or all others together, have too few cores or clusters to be compared;
    ``is_alone``: the others have none.
    """
    sizes = [len(tally.names) for tally in tallies]
    raw, alike = (_all_of([getattr(tally, name) for tally in tallies]) for name in ("raw", "alike"))
    pairs = [_effects(tally) for tally in tallies]
    effect, compared = (np.concatenate([pair[at] for pair in pairs]) for at in (0, 1))
    degrees = np.repeat([min(one.degrees for one in tally.spreads) for tally in tallies], sizes)
    own = [np.min([one.clusters for one in tally.spreads], axis=0) for tally in tallies]
    clusters, rest = np.concatenate(own), np.concatenate([few.sum() - few for few in own])
    low, high = rate_intervals(raw.found, raw.at_limit, raw.checks, effect, degrees)
    not_recorded = np.concatenate([tally.not_recorded for tally in tallies])
    names = {
        "measure": np.repeat(np.array([tally.measure for tally in tallies], dtype=object), sizes),
        "by": np.repeat(np.array([tally.by for tally in tallies], dtype=object), sizes),
        "group": [name for tally in tallies for name in tally.names],
        "adjusted_for": np.repeat(np.array([", ".join(tally.adjusted_for) for tally in tallies], dtype=object), sizes),
    }
    table = pd.DataFrame(
        {
            **{name: pd.Series(texts, dtype="str") for name, texts in names.items()},
            "cores": np.concatenate([tally.cores for tally in tallies]),
            "with_findings": raw.found,
            "rate": _per(raw.found, raw.checks),
            "low": low,
            "high": high,
            "others_rate": _per(raw.alike_found, raw.alike_checks),
            "checks": raw.checks,
            "at_limit": raw.at_limit,
            "not_recorded": not_recorded,
            "design_effect": np.where(raw.checks > 0, effect, np.nan),
            "alike_share": _per(alike.alike_checks, raw.checks),
            "alike_rate": _per(alike.alike_found, alike.alike_checks),
            "p_more": _more(raw, compared, degrees),
            "p_less": _less(raw, compared, degrees),
            "p_more_alike": _more(alike, compared, degrees),
            "p_less_alike": _less(alike, compared, degrees),
            "is_alone": raw.rest_checks == 0,
            "is_few": (raw.checks < FEWEST) | (raw.rest_checks < FEWEST) | (clusters < FEWEST) | (rest < FEWEST),
        }
    )
    applies: pd.DataFrame = table[(raw.checks + not_recorded) > 0]
    return applies.reset_index(drop=True)


def _all_of(parts: Sequence[Expected]) -> Expected:
    return Expected(*(np.concatenate([getattr(part, one.name) for part in parts]) for one in fields(Expected)))


def _more(sums: Expected, effect: Numbers, degrees: Numbers) -> Numbers:
    tail = upper_tail(sums.more_found, sums.more, sums.more_variance, sums.more_most, effect)
    return with_few_clusters(tail, degrees)


def _less(sums: Expected, effect: Numbers, degrees: Numbers) -> Numbers:
    tail = lower_tail(sums.less_found, sums.less, sums.less_variance, sums.less_most, effect)
    return with_few_clusters(tail, degrees)


def _effects(tally: Tally) -> tuple[Numbers, Numbers]:
    """Return the design effects of the groups' own shares, and of their comparisons with all others.

    Of two ways in which findings come together, the one that makes more of it.
    """
    own = np.max([one.effect for one in tally.spreads], axis=0)
    overall = max(one.overall for one in tally.spreads)
    share = _per(tally.raw.checks, tally.raw.checks + tally.raw.rest_checks)
    # what the spread of the smaller side adds to a difference weighs the more
    return own, np.where(np.isnan(share), own, (1 - share) * own + share * overall)


def _per(part: Numbers, whole: Numbers) -> Numbers:
    shares: Numbers = np.divide(part, whole, out=np.full(len(part), np.nan), where=whole > 0)
    return shares


def with_chances(table: pd.DataFrame) -> pd.DataFrame:
    """Add to the rows of all comparisons ``p`` and ``p_adjusted``, missing where a group is not compared.

    They are the chances of so large a difference in either direction if there were none, raw and among alike cores.
    """
    is_compared = table["checks"].gt(0) & ~table["is_few"]
    sides = {"p": ["p_more", "p_less"], "p_adjusted": ["p_more_alike", "p_less_alike"]}
    return table.assign(
        **{
            name: (2 * table[pair].min(axis="columns")).clip(upper=1.0).where(is_compared)
            for name, pair in sides.items()
        }
    )


def judged(table: pd.DataFrame) -> pd.DataFrame:
    """Add to the rows of all comparisons whether each difference holds.

    ``p_corrected``, ``p_adjusted_corrected``: the chances, for all the comparisons of the table (Holm). ``differs``:
    "more" or "less" where both hold in one direction; "raw only" and "adjusted only" where they disagree; "not shown",
    "too few", "not recorded", and "no others" where no other group has records.
    """
    table = table.assign(**{f"{name}_corrected": corrected(table[name]) for name in ("p", "p_adjusted")})
    raw, adjusted = (table[f"{name}_corrected"].lt(1 - CONFIDENCE) for name in ("p", "p_adjusted"))
    is_more, is_more_alike = (table[f"p_more{end}"].lt(table[f"p_less{end}"]) for end in ("", "_alike"))
    both = raw & adjusted & is_more.eq(is_more_alike)
    table["differs"] = np.select(
        [table["checks"].eq(0), table["is_alone"], table["is_few"], both & is_more, both, raw, adjusted],
        ["not recorded", "no others", "too few", "more", "less", "raw only", "adjusted only"],
        "not shown",
    )
    return table
