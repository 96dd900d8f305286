"""How likely each segment within reach is a core's own: by position, road width, street name and level."""

from collections.abc import Callable
from typing import NamedTuple

import geopandas as gpd
import numpy as np
import numpy.typing as npt
import pandas as pd
import shapely
from scipy.special import ndtr

from pipeline.clock import uncounted
from pipeline.locate.candidates import Pairs
from pipeline.locate.street_names import match_of_pairs

__all__ = ["Evidence", "Pieces", "Weights", "name_likelihood", "pair_likelihood", "pieces_of", "road_mass"]

# how many pairs of a core and a straight piece are weighed at a time
_CHUNK = 250_000
# a core whose likelihoods add up to less lies further from every road than its error explains
_NEGLIGIBLE = 1e-250


class Evidence(NamedTuple):
    """How a programme weighs street names and levels.

    ``name_right``: share of the street names in the register that are right. ``names_near``: a wrong name is
    equally likely to be any of this many names nearby. ``underground``: how likely a core is on a segment below
    ground, relative to a segment at street level. ``learn``: whether errors that nobody stated, and the share of right
    names, are learnt from the register. ``max_reach_m``: how far segments are looked for at most, in metres, where a
    learnt error is large.
    """

    name_right: float
    names_near: float
    underground: float
    learn: bool = False
    max_reach_m: float = 0.0


class Weights(NamedTuple):
    """Why each of P cores is on its line or not.

    ``position``: the mass of its error over the road, per metre of width. ``is_beyond_error``: every road lies further
    away than that error explains, and ``position`` compares distances alone. ``match``: how well the street names
    agree, from 0 to 1, missing where either has no name. ``name`` and ``level``: the likelihood of the street name that
    was written, and of the level, given that the core is on that line.
    """

    position: npt.NDArray[np.float64]
    is_beyond_error: npt.NDArray[np.bool_]
    match: npt.NDArray[np.float64]
    name: npt.NDArray[np.float64]
    level: npt.NDArray[np.float64]
    # how well the names agree, with those beside a line without a name
    around: npt.NDArray[np.float64]

    @property
    def likelihood(self) -> npt.NDArray[np.float64]:
        """How likely each core is on its line, up to a factor common to all pairs of a core."""
        return self.position * self.name * self.level


class Pieces(NamedTuple):
    """The straight pieces of M lines.

    ``first`` and ``number``: the first piece and the number of pieces of each line. ``x``, ``y``, ``along_x``,
    ``along_y``, ``length``: start, unit direction and length of each piece, in metres.
    """

    first: npt.NDArray[np.intp]
    number: npt.NDArray[np.intp]
    x: npt.NDArray[np.float64]
    y: npt.NDArray[np.float64]
    along_x: npt.NDArray[np.float64]
    along_y: npt.NDArray[np.float64]
    length: npt.NDArray[np.float64]


def pair_likelihood(
    pairs: Pairs,
    cores: pd.DataFrame,
    segments: gpd.GeoDataFrame,
    evidence: Evidence,
    pieces: Pieces | None = None,
    told: Callable[[int], None] = uncounted,
) -> Weights:
    """Return how likely each of P cores is on its line, and why.

    Parameters
    ----------
    pairs
        P pairs, by position among ``cores`` and ``segments``.
    cores
        ``x_m``, ``y_m``, ``sigma_m`` (metres) and ``street_form``.
    segments
        ``half_width_m``, ``street_form``, ``is_underground`` and a line geometry, in the same CRS.
    evidence
        How names and levels weigh.
    pieces
        The straight pieces of the segments, where they are known.
    told
        Is told how many pairs are done.
    """
    core, line = pairs.core, pairs.line
    sigma = cores["sigma_m"].to_numpy()[core]
    half = segments["half_width_m"].to_numpy()[line]
    x, y = cores["x_m"].to_numpy()[core], cores["y_m"].to_numpy()[core]
    pieces = pieces_of(np.asarray(segments.geometry.array)) if pieces is None else pieces
    mass = road_mass(x, y, sigma, line, half, pieces, told)
    lost = np.bincount(core, mass, minlength=len(cores))[core] < _NEGLIGIBLE
    mass = _where_all_is_negligible(mass, lost, pairs, half, sigma, len(cores))
    match = match_of_pairs(cores["street_form"], segments["street_form"], core, line)
    is_nameless = segments["street_form"].isna().to_numpy(dtype=bool)[line]
    match_or_beside = np.where(is_nameless, _match_beside(pairs, match, sigma, len(cores)), match)
    is_underground = segments["is_underground"].to_numpy()[line]
    level = np.where(is_underground, evidence.underground, 1.0)
    return Weights(mass, lost, match, name_likelihood(match_or_beside, evidence), level, match_or_beside)


def _where_all_is_negligible(
    mass: npt.NDArray[np.float64],
    lost: npt.NDArray[np.bool_],
    pairs: Pairs,
    half: npt.NDArray[np.float64],
    sigma: npt.NDArray[np.float64],
    count: int,
) -> npt.NDArray[np.float64]:
    """Replace the masses of a core that lies further from every road than its error explains; ``lost`` are its pairs.

    They are then the normal density at the nearest kerb, exp(-(d - half)^2 / (2 sigma^2)), relative to the core's
    nearest road, which therefore is the likeliest by far.
    """
    core = pairs.core
    if not lost.any():
        return mass
    exponent = (np.maximum(pairs.distance - half, 0) / sigma) ** 2 / 2
    least = np.full(count, np.inf)
    np.minimum.at(least, core, exponent)
    return np.where(lost, np.exp(least[core] - exponent), mass)


def _match_beside(
    pairs: Pairs, match: npt.NDArray[np.float64], sigma: npt.NDArray[np.float64], count: int
) -> npt.NDArray[np.float64]:
    """Return how well the named segments around each core agree: what a segment without a name goes by.

    A footway has no name of its own, and people write the street beside it. Which street that is, the position does
    not settle: the agreements are averaged with the weights exp(-d^2 / (2 sigma^2)), the nearest named line's being 1.
    """
    core = pairs.core
    known = ~np.isnan(match)
    least = np.full(count, np.inf)
    np.minimum.at(least, core[known], pairs.distance[known])
    # a line without a name may be far nearer than the nearest named one, and has no weight
    with np.errstate(invalid="ignore", over="ignore"):
        weight = np.where(known, np.exp((least[core] ** 2 - pairs.distance**2) / (2 * sigma**2)), 0.0)
    total = np.bincount(core, weight, minlength=count)
    agreed = np.bincount(core, weight * np.nan_to_num(match), minlength=count)
    mean: npt.NDArray[np.float64] = np.divide(agreed, total, out=np.full(count, np.nan), where=total > 0)[core]
    return mean


def pieces_of(lines: npt.NDArray[np.object_]) -> Pieces:
    """Return the straight pieces of M lines, in metres; pieces without length are left out."""
    points, owner = shapely.get_coordinates(lines, return_index=True)
    start = np.flatnonzero(owner[:-1] == owner[1:])
    step = points[start + 1] - points[start]
    length = np.hypot(step[:, 0], step[:, 1])
    real = length > 0
    start, step, length = start[real], step[real], length[real]
    count = np.bincount(owner[start], minlength=len(lines))
    first = np.concatenate([[0], np.cumsum(count)[:-1]])
    along = step / length[:, None]
    return Pieces(first, count, points[start, 0], points[start, 1], along[:, 0], along[:, 1], length)


def road_mass(
    x: npt.NDArray[np.float64],
    y: npt.NDArray[np.float64],
    sigma: npt.NDArray[np.float64],
    line: npt.NDArray[np.intp],
    half_width: npt.NDArray[np.float64],
    pieces: Pieces,
    told: Callable[[int], None] = uncounted,
) -> npt.NDArray[np.float64]:
    """Return the likelihood of P positions, each given that the core is on its own line's road.

    A core lies anywhere along and across a road, everywhere equally likely, and the error of its position is a round
    normal distribution. The likelihood is therefore the mass of the error over the area of the road, per metre of
    its width: for each straight piece, the share across times the share along. Where pieces meet at an angle their
    areas overlap or leave a gap; at the angles of streets this is small.

    Parameters
    ----------
    x, y, sigma
        P positions and the standard deviations of their errors along one axis, in metres.
    line
        P lines, by their position among the lines of ``pieces``.
    half_width
        P half widths of the roads, in metres.
    pieces
        The pieces of all lines.
    told
        Is told how many positions are done.

    Returns
    -------
    numpy.ndarray
        P likelihoods, in one common unit.
    """
    mass = np.zeros(len(x))
    upto = np.cumsum(pieces.number[line])
    cuts = np.searchsorted(upto, np.arange(_CHUNK, upto[-1] + _CHUNK, _CHUNK)).tolist() if len(line) else []
    begin = 0
    for cut in cuts:
        end = min(cut + 1, len(line))
        here = slice(begin, end)
        number = pieces.number[line[here]]
        pair = np.repeat(np.arange(begin, end), number)
        within = np.arange(number.sum()) - np.repeat(np.cumsum(number) - number, number)
        piece = pieces.first[line[pair]] + within
        dx, dy, scale, half = x[pair] - pieces.x[piece], y[pair] - pieces.y[piece], sigma[pair], half_width[pair]
        along = dx * pieces.along_x[piece] + dy * pieces.along_y[piece]
        # both tails are taken on the side where they are small and do not cancel
        across = np.abs(pieces.along_x[piece] * dy - pieces.along_y[piece] * dx)
        sideways = ndtr((half - across) / scale) - ndtr((-half - across) / scale)
        lengthways = ndtr((pieces.length[piece] - along) / scale) - ndtr(-along / scale)
        mass[here] = np.bincount(pair - begin, sideways * lengthways / (2 * half), minlength=end - begin)
        begin = end
        told(end)
        if begin == len(line):
            break
    return mass


def name_likelihood(
    match: npt.NDArray[np.float64], evidence: Evidence, name_right: npt.NDArray[np.float64] | float | None = None
) -> npt.NDArray[np.float64]:
    """Return the likelihood of the written street name, for P pairs, given that the core is on that segment.

    The name is right with probability ``name_right``, else one of ``names_near`` others. Where no name is written, or
    there is none to compare it with, the likelihood is 1 and changes nothing. ``name_right``: one for all, or P, in
    place of the evidence's own.
    """
    right = evidence.name_right if name_right is None else name_right
    wrong = (1 - right) / evidence.names_near
    return np.where(np.isnan(match), 1.0, right * np.nan_to_num(match) + wrong)
