"""How likely each segment within reach is a core's own: position, width of road, street name, level."""

from typing import NamedTuple

import numpy as np
import numpy.typing as npt
import shapely
from scipy.special import ndtr

__all__ = ["Evidence", "Pieces", "name_likelihood", "pieces_of", "road_mass"]

# so many pairs of a core and a piece are weighed at a time
_CHUNK = 2_000_000


class Evidence(NamedTuple):
    """What the likelihoods of a programme's names and levels are.

    ``name_right``: share of the street names in the register that are right. ``names_near``: a wrong one is
    taken for any of so many names thereabouts. ``underground``: how likely a core is on a segment below ground,
    against one at grade.
    """

    name_right: float
    names_near: float
    underground: float


class Pieces(NamedTuple):
    """The straight pieces of M lines: ``first`` piece and ``number`` of each line; start, direction, length of each."""

    first: npt.NDArray[np.intp]
    number: npt.NDArray[np.intp]
    x: npt.NDArray[np.float64]
    y: npt.NDArray[np.float64]
    along_x: npt.NDArray[np.float64]
    along_y: npt.NDArray[np.float64]
    length: npt.NDArray[np.float64]


def pieces_of(lines: npt.NDArray[np.object_]) -> Pieces:
    """Take M lines apart into their straight pieces, in metres."""
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
) -> npt.NDArray[np.float64]:
    """Likelihood of P positions, each given that the core is on its own line's road.

    A core lies anywhere along and across a road, as likely here as there, and the position errs by a round normal
    distribution. The likelihood is then the mass of the error over the road's area, for each metre of its width:
    for each straight piece, the share across times the share along. Where pieces meet at an angle the areas
    overlap or part a little; at the angles of streets that is small.

    Parameters
    ----------
    x, y, sigma
        P positions and the standard deviations of their errors along one axis, in metres.
    line
        P lines, by their place among ``pieces``.
    half_width
        P half widths of the roads, in metres.
    pieces
        All lines' pieces.

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
        if begin == len(line):
            break
    return mass


def name_likelihood(match: npt.NDArray[np.float64], evidence: Evidence) -> npt.NDArray[np.float64]:
    """Likelihood of the written street name, for P pairs, given that the core is on that segment.

    The right name with probability ``name_right``, else any of ``names_near`` others. Where no name is written, or
    none to compare it with, it tells nothing.
    """
    wrong = (1 - evidence.name_right) / evidence.names_near
    return np.where(np.isnan(match), 1.0, evidence.name_right * np.nan_to_num(match) + wrong)
