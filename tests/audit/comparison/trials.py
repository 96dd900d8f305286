"""The trial of equal crews with bad days, of one rule: how often any is called different, with design effects and without."""

from typing import NamedTuple

import numpy as np
import pandas as pd

from pipeline.audit.comparison.tails import corrected, lower_tail, rate_intervals, upper_tail, with_few_clusters
from pipeline.audit.comparison.tallies import cells_of, clusters_by_group, counted, expected, pieces
from pipeline.audit.outcomes import FOUND, PASSED
from pipeline.intervals import CONFIDENCE


class Trial(NamedTuple):
    """Shares of the worlds with any call, ``plain`` without design effects; of the intervals that cover; mean effect."""

    plain: float
    called: float
    covered: float
    effect: float


def false_calls(correlation, worlds, seed, crews=20, per_crew=200, per_day=8, rate=0.1):
    """Make worlds of equal crews whose findings of a day have this correlation, by a beta-binomial, and compare them."""
    rng = np.random.default_rng(seed)
    crew = np.repeat(np.arange(crews), per_crew)
    day = np.tile(np.arange(per_crew) // per_day, crews) + crew * per_crew
    cells = cells_of(crew, np.zeros_like(crew), crews)
    of_core, of_piece = pieces(day, crew, crews)
    apart = (1 - correlation) / correlation
    found = []
    for _ in range(worlds):
        chance = rng.beta(rate * apart, (1 - rate) * apart, len(of_piece))[of_core]
        codes = np.where(rng.random(len(crew)) < chance, FOUND, PASSED).astype("int8")
        tally = expected(cells, counted(cells.of_core, codes, len(cells.group)))
        clustering = clusters_by_group(of_piece, crews, counted(of_core, codes, len(of_piece)))
        (effect, overall), degrees = clustering.effects(), clustering.degrees()
        low, high = rate_intervals(tally.found, tally.at_limit, tally.checks, effect, degrees)
        compared = effect * (1 - 1 / crews) + overall / crews
        found.append(
            (
                _any(tally, np.ones(crews), np.inf),
                _any(tally, compared, degrees),
                ((low <= rate) & (rate <= high)).mean(),
                effect.mean(),
            )
        )
    return Trial(*(float(mean) for mean in np.mean(found, axis=0)))


def _any(tally, effect, degrees):
    upper = upper_tail(tally.more_found, tally.more, tally.more_variance, tally.more_most, effect)
    lower = lower_tail(tally.less_found, tally.less, tally.less_variance, tally.less_most, effect)
    p = pd.Series(np.minimum(2 * with_few_clusters(np.minimum(upper, lower), degrees), 1.0))
    return bool((corrected(p) < 1 - CONFIDENCE).any())
