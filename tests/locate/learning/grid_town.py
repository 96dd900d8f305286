"""A town of straight streets, and registers of cores in it whose errors are known.

N-S streets     |     |     |      every 150 m, 900 m long, 8 m wide
E-W streets   --+-----+-----+--    the same
"""

from types import SimpleNamespace

import numpy as np
import pandas as pd
import shapely

from pipeline.locate.candidates import pairs_within_reach
from pipeline.locate.learning import Question, Subjects, applied, outcomes_of
from pipeline.locate.learning.fit import Batch
from pipeline.locate.learning.masses import Spots, masses_of
from pipeline.locate.posterior import pieces_of, road_mass

HALF_M = 4.0
REACH_M = 15.0
# the default of 5 m that hold 95 %, along one axis
DEFAULT_M = 5 / 2.4477
_EACH, _APART_M, _LONG_M = 12, 75.0, 900.0
# no core lies so near to an end of its street that the end would show in its position
_INSIDE_M = 50.0


class Cores:
    """N cores: ``x``, ``y`` as written, their true ``line``, and the ``street`` that is written (a line's number)."""

    def __init__(self, x, y, line, street):
        self.x, self.y, self.line, self.street = x, y, line, street

    def part(self, here):
        return Cores(self.x[here], self.y[here], self.line[here], self.street[here])


def streets(ways=("east", "north")):
    at = [_APART_M * k for k in range(_EACH)]
    ends = {
        "east": [[(0, place), (_LONG_M, place)] for place in at],
        "north": [[(place, 0), (place, _LONG_M)] for place in at],
    }
    return np.array([shapely.LineString(line[:: (-1) ** k]) for way in ways for k, line in enumerate(ends[way])])


def draw(lines, count, sigma, seed, shift=(0, 0), names_right=0.9, across=None, half=HALF_M):
    """Draw cores on the streets, away from their ends; ``across``: east and north part of the side that all lie on.

    ``half``: half the width of the streets, one for all or one each.
    """
    rng = np.random.default_rng(seed)
    line = rng.integers(0, len(lines), count)
    ends = shapely.get_coordinates(lines).reshape(-1, 2, 2)[line]
    along = (ends[:, 1] - ends[:, 0]) / _LONG_M
    left = np.column_stack([-along[:, 1], along[:, 0]])
    half = np.broadcast_to(half, len(lines))[line]
    sideways = rng.uniform(-half, half, count)
    if across is not None:
        sideways = 0.75 * half * np.sign(left @ np.array(across))
    place = ends[:, 0] + rng.uniform(_INSIDE_M, _LONG_M - _INSIDE_M, count)[:, None] * along + sideways[:, None] * left
    written = place + rng.normal(0, 1, (count, 2)) * np.broadcast_to(sigma, count)[:, None] + shift
    street = np.where(rng.uniform(size=count) < names_right, line, rng.integers(0, len(lines), count))
    return Cores(*written.T, line, street)


def pairs_of(cores, lines):
    pairs = pairs_within_reach(shapely.points(cores.x, cores.y), lines, shapely.STRtree(lines), REACH_M)
    order = np.lexsort((pairs.line, pairs.core))
    return type(pairs)(*(values[order] for values in pairs))


def spots_of(cores, pairs, half=HALF_M):
    core = pairs.core
    every = np.ones(len(core))
    own = half * every if np.ndim(half) == 0 else half[pairs.line]
    return Spots(cores.x[core], cores.y[core], 0 * every, pairs.line, own, REACH_M * every)


def batch_of(cores, lines, half=HALF_M):
    """Return the spots, pieces and batch of cores that all lie within reach of a street."""
    pairs = pairs_of(cores, lines)
    spots, pieces = spots_of(cores, pairs, half), pieces_of(lines)
    match = (cores.street[pairs.core] == pairs.line).astype(float)
    return spots, pieces, Batch(pairs.core, masses_of(spots, pieces), match, np.ones(len(match)), 5)


def question_of(cores, lines, register=None, crew=None, may_learn=None):
    pairs = pairs_of(cores, lines)
    spots, pieces, count = spots_of(cores, pairs), pieces_of(lines), len(cores.x)
    scale = np.full(len(pairs.core), DEFAULT_M)
    return Question(
        subjects=Subjects(
            np.full(count, "register", dtype=object) if register is None else np.asarray(register, dtype=object),
            pd.DataFrame(index=range(count)) if crew is None else pd.DataFrame({"crew": pd.Series(crew, dtype="str")}),
            np.ones(count, dtype=bool) if may_learn is None else may_learn,
        ),
        spots=spots,
        pieces=pieces,
        core=pairs.core,
        match=(cores.street[pairs.core] == pairs.line).astype(float),
        level=np.ones(len(pairs.core)),
        line_street=pairs.line,
        by_default=road_mass(spots.x, spots.y, scale, pairs.line, spots.half, pieces),
        street=cores.line,
        name_right=0.9,
        names_near=5,
    )


def learn(asked):
    """Return what is learnt and what follows from it, as one."""
    outcomes = outcomes_of(asked)
    return SimpleNamespace(outcomes=outcomes, **applied(asked, outcomes)._asdict())
