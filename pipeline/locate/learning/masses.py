"""How much of each possible error lies on the road of each candidate: by width of the error and place across the road.

A core lies anywhere along its road. Across it, it lies in one of a few strips: anywhere, in the middle, near the
left or the right kerb, or in the footway beyond. The error of its position is one of a dozen round normals, or the
core is lost: anywhere within reach. Any mixture of these is a weighted sum of the masses worked out here once.
"""

from typing import Final, NamedTuple

import numpy as np
import numpy.typing as npt
from scipy.special import ndtr

from pipeline.locate.posterior import Pieces

__all__ = ["STRIPS", "WIDTHS_M", "Masses", "Spots", "masses_of", "slopes_of"]

Floats = npt.NDArray[np.float64]

# standard deviations along one axis, each about 1.5 times the last: a fraction of a surveyor's to that of a bad phone
WIDTHS_M: Final = np.array([0.1, 0.2, 0.4, 0.7, 1.1, 1.6, 2.4, 3.5, 5.2, 7.8, 11.5, 17.0])
STRIPS: Final = ("even", "line", "middle", "left", "right", "footway")
# shares of the half width: on the centre line and in the middle reach so far, a kerb's strip begins there
_LINE: Final = 0.05
_MIDDLE: Final = 0.25
_KERB: Final = 0.5
_FOOTWAY_M: Final = 2.5
# less than 1 in 1,000,000,000 errors is longer than this many standard deviations
_FAR: Final = 6.5
# pairs of a core and a straight piece weighed at a time
_CHUNK: Final = 100_000


class Spots(NamedTuple):
    """P positions, each with a candidate line.

    ``x``, ``y``: metres, in the CRS of the lines. ``rounding``: standard deviation that rounded digits add along one
    axis, in metres. ``line``: position among the lines. ``half``: half the width of its road, in metres. ``reach``: how
    far a lost position may lie from its road, in metres.
    """

    x: Floats
    y: Floats
    rounding: Floats
    line: npt.NDArray[np.intp]
    half: Floats
    reach: Floats

    def part(self, here: npt.NDArray[np.intp] | slice) -> "Spots":
        """Return some of them."""
        return Spots(
            self.x[here], self.y[here], self.rounding[here], self.line[here], self.half[here], self.reach[here]
        )


class Masses(NamedTuple):
    """Likelihoods of P positions, per metre, each given its line.

    ``known``: P x widths x strips. ``lost``: P, given that the core may lie anywhere within reach.
    """

    known: npt.NDArray[np.float32]
    lost: Floats

    def part(self, here: npt.NDArray[np.bool_]) -> "Masses":
        """Return those of some positions."""
        return Masses(self.known[here], self.lost[here])


class _Legs(NamedTuple):
    """Q pairs of a position and a straight piece of its line: which position, and where it lies beside the piece."""

    spot: npt.NDArray[np.intp]
    piece: npt.NDArray[np.intp]
    along: Floats
    across: Floats


def masses_of(
    spots: Spots, pieces: Pieces, widths: Floats = WIDTHS_M, side: tuple[float, float] | None = None
) -> Masses:
    """Return the likelihood of each position for each width of the error and each strip across the road.

    Parameters
    ----------
    spots
        P positions with their lines.
    pieces
        The straight pieces of all lines.
    widths
        Standard deviations along one axis, in metres.
    """
    known = np.zeros((len(spots.x), len(widths), len(STRIPS)), dtype=np.float32)
    lost = np.zeros(len(spots.x))
    for begin, end in _chunks(spots, pieces):
        part = spots.part(slice(begin, end))
        legs = _legs(part, pieces)
        if side is not None:
            faces = pieces.along_x[legs.piece] * side[1] - pieces.along_y[legs.piece] * side[0] >= 0
            legs = legs._replace(across=np.where(faces, legs.across, -legs.across))
        for k, width in enumerate(widths):
            near = _within(part, legs, pieces, width)
            scale = np.hypot(width, part.rounding[near.spot])
            lengthways = _share(-near.along, pieces.length[near.piece] - near.along, scale)
            strips = _strips_of(ndtr((_lines_across(part, near) - near.across[:, None]) / scale[:, None]), part, near)
            for strip in range(len(STRIPS)):
                mass = np.bincount(near.spot, strips[:, strip] * lengthways, minlength=end - begin)
                known[begin:end, k, strip] = mass
        reach = part.reach[legs.spot]
        chord = np.sqrt(np.maximum(reach**2 - legs.across**2, 0))
        length = np.minimum(legs.along + chord, pieces.length[legs.piece]) - np.maximum(legs.along - chord, 0)
        inside = np.maximum(length, 0) / (np.pi * reach**2)
        lost[begin:end] = np.bincount(legs.spot, inside, minlength=end - begin)
    return Masses(known, lost)


def slopes_of(spots: Spots, pieces: Pieces, shares: Floats, widths: Floats = WIDTHS_M) -> tuple[Floats, Floats, Floats]:
    """Return the likelihood of each position under a mixture, and its derivatives by a shift of the position.

    Parameters
    ----------
    spots
        P positions with their lines.
    pieces
        The straight pieces of all lines.
    shares
        Widths x strips, or P x widths x strips: the mixture.
    widths
        Standard deviations along one axis, in metres.

    Returns
    -------
    tuple
        Of P each: likelihood per metre without the lost part, and its derivatives by x and by y, per metre squared.
    """
    total, by_x, by_y = (np.zeros(len(spots.x)) for _ in range(3))
    shares = np.broadcast_to(shares, (len(spots.x), *np.shape(shares)[-2:]))
    for begin, end in _chunks(spots, pieces):
        part = spots.part(slice(begin, end))
        legs = _legs(part, pieces)
        starts = np.flatnonzero(np.diff(legs.spot, prepend=-1))
        here = begin + legs.spot[starts]
        own = shares[begin + legs.spot]
        mass, along, across = (np.zeros(len(legs.spot)) for _ in range(3))
        for k, width in enumerate(widths):
            scale = np.hypot(width, part.rounding[legs.spot])
            near, far = -legs.along, pieces.length[legs.piece] - legs.along
            lengthways = _share(near, far, scale)
            by_along = (_density(near / scale) - _density(far / scale)) / scale
            edges = _lines_across(part, legs)
            sideways = np.einsum(
                "ql,ql->q", _strips_of(ndtr((edges - legs.across[:, None]) / scale[:, None]), part, legs), own[:, k]
            )
            by_across = np.einsum(
                "ql,ql->q",
                _strips_of(-_density((edges - legs.across[:, None]) / scale[:, None]) / scale[:, None], part, legs),
                own[:, k],
            )
            mass += sideways * lengthways
            along += sideways * by_along
            across += by_across * lengthways
        ux, uy = pieces.along_x[legs.piece], pieces.along_y[legs.piece]
        total[here] = np.add.reduceat(mass, starts)
        by_x[here] = np.add.reduceat(along * ux - across * uy, starts)
        by_y[here] = np.add.reduceat(along * uy + across * ux, starts)
    return total, by_x, by_y


def _chunks(spots: Spots, pieces: Pieces) -> list[tuple[int, int]]:
    upto = np.cumsum(pieces.number[spots.line])
    if not len(upto):
        return []
    cuts = np.unique(np.searchsorted(upto, np.arange(_CHUNK, upto[-1] + _CHUNK, _CHUNK), side="left") + 1)
    cuts = np.unique(np.minimum(cuts, len(upto)))
    return list(zip([0, *cuts[:-1].tolist()], cuts.tolist(), strict=True))


def _legs(part: Spots, pieces: Pieces) -> _Legs:
    number = pieces.number[part.line]
    spot = np.repeat(np.arange(len(part.line)), number)
    within = np.arange(number.sum()) - np.repeat(np.cumsum(number) - number, number)
    piece = pieces.first[part.line[spot]] + within
    dx, dy = part.x[spot] - pieces.x[piece], part.y[spot] - pieces.y[piece]
    along = dx * pieces.along_x[piece] + dy * pieces.along_y[piece]
    # to the left of the line is above zero
    across = pieces.along_x[piece] * dy - pieces.along_y[piece] * dx
    return _Legs(spot, piece, along, across)


def _share(near: Floats, far: Floats, scale: Floats) -> Floats:
    share: Floats = ndtr(far / scale) - ndtr(near / scale)
    return share


def _density(z: Floats) -> Floats:
    density: Floats = np.exp(-(z**2) / 2) / np.sqrt(2 * np.pi)
    return density


def _lines_across(part: Spots, legs: _Legs) -> Floats:
    """Return the edges of the strips from right to left, Q x 10, in metres from the centre line."""
    half = part.half[legs.spot]
    inside = np.array([-1, -_KERB, -_MIDDLE, -_LINE, _LINE, _MIDDLE, _KERB, 1])
    return np.column_stack([-half - _FOOTWAY_M, half[:, None] * inside, half + _FOOTWAY_M])


def _within(part: Spots, legs: _Legs, pieces: Pieces, width: float) -> _Legs:
    """Return the legs that an error of this width reaches: the others have no mass worth adding."""
    far = _FAR * np.hypot(width, part.rounding[legs.spot])
    near = np.abs(legs.across) < part.half[legs.spot] + _FOOTWAY_M + far
    near &= (legs.along > -far) & (legs.along < pieces.length[legs.piece] + far)
    return _Legs(legs.spot[near], legs.piece[near], legs.along[near], legs.across[near])


def _strips_of(cut: Floats, part: Spots, legs: _Legs) -> Floats:
    """Return what lies between the edges of each strip, per metre of its width: Q x strips."""
    half = part.half[legs.spot]
    between = np.diff(cut, axis=1)
    right_foot, right, middle, left, left_foot = (between[:, at] for at in (0, 1, [3, 4, 5], 7, 8))
    return np.column_stack(
        [
            between[:, 1:8].sum(axis=1) / (2 * half),
            between[:, 4] / (2 * _LINE * half),
            middle.sum(axis=1) / (2 * _MIDDLE * half),
            left / ((1 - _KERB) * half),
            right / ((1 - _KERB) * half),
            (left_foot + right_foot) / (2 * _FOOTWAY_M),
        ]
    )
