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

__all__ = ["STRIPS", "WIDTHS_M", "Masses", "Side", "Slopes", "Spots", "masses_of", "slopes_of"]

Floats = npt.NDArray[np.float64]

# standard deviations along one axis, each about 1.5 times the last: a fraction of a surveyor's to that of a bad phone
WIDTHS_M: Final = np.array([0.1, 0.2, 0.4, 0.7, 1.1, 1.6, 2.4, 3.5, 5.2, 7.8, 11.5, 17.0])
STRIPS: Final = ("even", "line", "middle", "left", "right", "footway")
_CENTRE: Final = [STRIPS.index("line"), STRIPS.index("middle")]
# shares of the half width: on the centre line and in the middle reach so far, a kerb's strip begins there
_LINE: Final = 0.05
_MIDDLE: Final = 0.25
_KERB: Final = 0.5
_FOOTWAY_M: Final = 2.5
# less than 1 in 1,000,000,000 errors is longer than this many standard deviations
_FAR: Final = 6.5
# pairs of a core and a straight piece weighed at a time
_CHUNK: Final = 10_000


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


class Side(NamedTuple):
    """The side of the road that cores keep to: a compass direction, and how far towards it mains lie.

    ``off``: in half widths of the road; the two strips about the centre line are moved there.
    """

    east: float
    north: float
    off: float = 0.0


class Slopes(NamedTuple):
    """Of P positions each: likelihood per metre without the lost part, and its derivatives.

    ``by_x``, ``by_y``: by a shift of the position, per metre. ``by_off``: by ``Side.off``.
    """

    known: Floats
    by_x: Floats
    by_y: Floats
    by_off: Floats


class _Legs(NamedTuple):
    """Q pairs of a position and a straight piece of its line: which position, and where it lies beside the piece."""

    spot: npt.NDArray[np.intp]
    piece: npt.NDArray[np.intp]
    along: Floats
    across: Floats

    def of(self, here: npt.NDArray[np.bool_]) -> "_Legs":
        """Return some of them."""
        return _Legs(self.spot[here], self.piece[here], self.along[here], self.across[here])


def masses_of(spots: Spots, pieces: Pieces, widths: Floats = WIDTHS_M, side: Side | None = None) -> Masses:
    """Return the likelihood of each position for each width of the error and each strip across the road.

    Parameters
    ----------
    spots
        P positions with their lines.
    pieces
        The straight pieces of all lines.
    widths
        Standard deviations along one axis, in metres.
    side
        What faces its direction counts as the left of every line.
    """
    off = 0.0 if side is None else side.off
    known = np.zeros((len(spots.x), len(widths), len(STRIPS)), dtype=np.float32)
    lost = np.zeros(len(spots.x))
    for begin, end in _chunks(spots, pieces):
        part = spots.part(slice(begin, end))
        legs = _legs(part, pieces)
        if side is not None:
            legs = legs._replace(across=legs.across * _facing(legs, pieces, side))
        near = legs
        # from the widest error to the narrowest, which reaches fewer and fewer legs
        for k in np.argsort(-widths, kind="stable"):
            scale_of_spot = np.hypot(widths[k], part.rounding)
            near = near.of(_is_within(near, part, pieces, _FAR * scale_of_spot))
            scale, half = scale_of_spot[near.spot], part.half[near.spot]
            lengthways = ndtr((pieces.length[near.piece] - near.along) / scale) - ndtr(-near.along / scale)
            strips = _strips_of(ndtr(_edges_beside(near, half, scale, off)), half)
            strips *= lengthways
            starts = np.flatnonzero(np.diff(near.spot, prepend=-1))
            known[begin + near.spot[starts], k] = np.add.reduceat(strips, starts, axis=1).T
        reach = part.reach[legs.spot]
        chord = np.sqrt(np.maximum(reach**2 - legs.across**2, 0))
        length = np.minimum(legs.along + chord, pieces.length[legs.piece]) - np.maximum(legs.along - chord, 0)
        inside = np.maximum(length, 0) / (np.pi * reach**2)
        lost[begin:end] = np.bincount(legs.spot, inside, minlength=end - begin)
    return Masses(known, lost)


def slopes_of(
    spots: Spots, pieces: Pieces, shares: Floats, widths: Floats = WIDTHS_M, side: Side | None = None
) -> Slopes:
    """Return the likelihood of each position under a mixture, and its derivatives.

    Parameters
    ----------
    spots
        P positions with their lines.
    pieces
        The straight pieces of all lines.
    shares
        Widths x strips: the mixture.
    widths
        Standard deviations along one axis, in metres.
    side
        What faces its direction counts as the left of every line.
    """
    slopes = Slopes(*(np.zeros(len(spots.x)) for _ in Slopes._fields))
    off = 0.0 if side is None else side.off
    for begin, end in _chunks(spots, pieces):
        part = spots.part(slice(begin, end))
        legs = _legs(part, pieces)
        facing = np.ones(len(legs.spot))
        if side is not None:
            facing = _facing(legs, pieces, side)
            legs = legs._replace(across=legs.across * facing)
        starts = np.flatnonzero(np.diff(legs.spot, prepend=-1))
        here = begin + legs.spot[starts]
        mass, along, across, centre = (np.zeros(len(legs.spot)) for _ in range(4))
        near, at = legs, np.arange(len(legs.spot))
        for k in np.argsort(-widths, kind="stable"):
            scale_of_spot, own = np.hypot(widths[k], part.rounding), shares[k]
            is_near = _is_within(near, part, pieces, _FAR * scale_of_spot)
            near, at = near.of(is_near), at[is_near]
            scale, half = scale_of_spot[near.spot], part.half[near.spot]
            start, stop = -near.along / scale, (pieces.length[near.piece] - near.along) / scale
            lengthways = ndtr(stop) - ndtr(start)
            beside = _edges_beside(near, half, scale, off)
            sideways = np.einsum("s,sq->q", own, _strips_of(ndtr(beside), half))
            by_across = _strips_of(_density(beside), half)
            by_across *= -lengthways / scale
            mass[at] += sideways * lengthways
            along[at] += sideways * (_density(start) - _density(stop)) / scale
            across[at] += np.einsum("s,sq->q", own, by_across)
            centre[at] += np.einsum("s,sq->q", own[_CENTRE], by_across[_CENTRE])
        ux, uy = pieces.along_x[legs.piece], pieces.along_y[legs.piece]
        across *= facing
        slopes.known[here] = np.add.reduceat(mass, starts)
        slopes.by_x[here] = np.add.reduceat(along * ux - across * uy, starts)
        slopes.by_y[here] = np.add.reduceat(along * uy + across * ux, starts)
        # a strip that moves towards a position does what the position would do by moving the other way
        slopes.by_off[here] = np.add.reduceat(-centre * part.half[legs.spot], starts)
    return slopes


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


def _facing(legs: _Legs, pieces: Pieces, side: Side) -> Floats:
    """Return 1 where the left of a piece faces a compass direction, and -1 where its right does."""
    faces = pieces.along_x[legs.piece] * side.north - pieces.along_y[legs.piece] * side.east >= 0
    signs: Floats = np.where(faces, 1.0, -1.0)
    return signs


def _density(z: Floats) -> Floats:
    density: Floats = np.exp(-(z**2) / 2) / np.sqrt(2 * np.pi)
    return density


def _edges_beside(legs: _Legs, half: Floats, scale: Floats, off: float) -> Floats:
    """Return how far the edges of the strips lie from Q positions, from right to left, 10 x Q, in standard deviations.

    Where the strips about the centre line are moved, their edges follow, 14 x Q.
    """
    centre = [-_MIDDLE, -_LINE, _LINE, _MIDDLE]
    places = [-1, -1, -_KERB, *centre, _KERB, 1, 1, *([at + off for at in centre] if off else [])]
    edges: Floats = np.multiply.outer(places, half)
    edges[0] -= _FOOTWAY_M
    edges[9] += _FOOTWAY_M
    edges -= legs.across
    edges /= scale
    return edges


def _is_within(legs: _Legs, part: Spots, pieces: Pieces, far: Floats) -> npt.NDArray[np.bool_]:
    """Return which legs errors reach that are so long: the others have no mass worth adding."""
    reach = far[legs.spot]
    near: npt.NDArray[np.bool_] = np.abs(legs.across) < part.half[legs.spot] + _FOOTWAY_M + reach
    near &= (legs.along > -reach) & (legs.along < pieces.length[legs.piece] + reach)
    return near


def _strips_of(cut: Floats, half: Floats) -> Floats:
    """Return what lies between the edges of each strip, per metre of its width: strips x Q."""
    centre = cut[3:7] if len(cut) == 10 else cut[10:]
    strips: Floats = np.stack(
        [
            (cut[8] - cut[1]) / 2,
            (centre[2] - centre[1]) / (2 * _LINE),
            (centre[3] - centre[0]) / (2 * _MIDDLE),
            (cut[8] - cut[7]) / (1 - _KERB),
            (cut[2] - cut[1]) / (1 - _KERB),
            (cut[1] - cut[0] + cut[9] - cut[8]) * half / (2 * _FOOTWAY_M),
        ]
    )
    strips /= half
    return strips
