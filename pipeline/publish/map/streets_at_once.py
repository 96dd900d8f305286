"""Streets without forks laid end to end, all of them at once; the others are left to be laid one by one."""

from typing import Final, NamedTuple

import numpy as np
import numpy.typing as npt
import pandas as pd
from scipy import sparse

__all__ = ["Ends", "Laid", "Pieces", "lay_at_once", "pieces_of"]

Floats = npt.NDArray[np.float64]
Ints = npt.NDArray[np.int64]
Bools = npt.NDArray[np.bool_]

# an end that is the only one at its node, and the most that meet where a street has no fork
_BLIND: Final = 1
_NO_FORK: Final = 2
# of a street as long northwards as eastwards, the last digit decides: it is laid with the others, one by one
_AS_LONG: Final = 1e-9


class Ends(NamedTuple):
    """The ends of N lines that have a street.

    ``street``: code of the street of each line, from 0. ``nodes``: N by 2, the nodes of the first and the last vertex.
    ``spots``: by node, longitude and latitude in degrees.
    """

    street: Ints
    nodes: Ints
    spots: Floats


class Pieces(NamedTuple):
    """The connected lines of one street each.

    ``joints``: N by 2, the ends of each line; a joint is a node of one street. ``street`` and ``node``: of each joint.
    ``degree``: how many ends meet in each joint. ``piece``: by line, from 0. ``is_forked``: by piece. ``of_street``:
    how many pieces each street has.
    """

    joints: Ints
    street: Ints
    node: Ints
    degree: Ints
    piece: Ints
    is_forked: Bools
    of_street: Ints


class Laid(NamedTuple):
    """By line: ``along_m`` and ``is_backwards``, and whether it ``is_laid``; the others have no place yet."""

    along_m: Floats
    is_backwards: Bools
    is_laid: Bools


def pieces_of(ends: Ends) -> Pieces:
    """Return the pieces of each street: lines that meet in a node are of one piece."""
    keys = ends.street[:, None] * len(ends.spots) + ends.nodes
    codes, known = pd.factorize(keys.ravel())
    joints = codes.reshape(-1, 2)
    degree = np.bincount(codes, minlength=len(known))
    links = sparse.coo_array((np.ones(len(joints), dtype=np.int8), (joints[:, 0], joints[:, 1])), (len(known),) * 2)
    pieces, of_joint = sparse.csgraph.connected_components(links, directed=False)
    is_forked = np.zeros(pieces, dtype=bool)
    is_forked[of_joint[degree > _NO_FORK]] = True
    street = known // len(ends.spots)
    of_piece = np.zeros(pieces, dtype=np.int64)
    of_piece[of_joint] = street
    count = np.bincount(of_piece, minlength=int(ends.street.max(initial=-1)) + 1)
    return Pieces(joints, street, known % len(ends.spots), degree, of_joint[joints[:, 0]], is_forked, count)


def lay_at_once(ends: Ends, pieces: Pieces, length_m: Floats, is_left: Bools, gap_m: float) -> Laid:
    """Return the places of the lines of streets without forks.

    Parameters
    ----------
    ends, pieces
        Of the lines.
    length_m
        Of each line.
    is_left
        By street: streets that are not laid, whatever they look like.
    gap_m
        Metres between two pieces of a street.
    """
    rank, is_left = _ranks(ends, pieces, is_left.copy())
    # a gap follows only what has a length
    for some in (pieces.is_forked[pieces.piece], length_m == 0):
        is_left[ends.street[some]] = True
    is_laid = ~is_left[ends.street]
    along_m, is_backwards = np.zeros(len(length_m)), np.zeros(len(length_m), dtype=bool)
    if not is_laid.any():
        return Laid(along_m, is_backwards, is_laid)
    lines = np.flatnonzero(is_laid)
    codes, _ = pd.factorize(pieces.piece[lines])
    begins = _first_joints(pieces, lines, codes, rank)
    step, is_backwards[lines] = _walk(pieces.joints[lines], pieces.joints.max() + 1, codes, begins)
    lowest = _lowest(rank[pieces.joints[lines]].min(axis=1), codes)
    first = _first_lines(codes)
    order = np.lexsort((step, first[codes], lowest[codes], ends.street[lines]))
    along_m[lines[order]] = _sums(ends.street[lines[order]], codes[order], length_m[lines[order]], gap_m)
    return Laid(along_m, is_backwards, is_laid)


def _ranks(ends: Ends, pieces: Pieces, is_left: Bools) -> tuple[Floats, Bools]:
    """Return how far east each joint is, or how far north if its street is longer that way; and the streets left."""
    spots = ends.spots[pieces.node]
    order = np.argsort(pieces.street, kind="stable")
    streets = pieces.street[order]
    new = np.flatnonzero(np.diff(streets, prepend=-1))
    wide, high = (
        np.maximum.reduceat(spots[order, axis], new) - np.minimum.reduceat(spots[order, axis], new) for axis in (0, 1)
    )
    # a node counts once for every end that meets there
    total = np.bincount(pieces.street, pieces.degree * spots[:, 1], len(is_left))[streets[new]]
    middle = total / np.bincount(pieces.street, pieces.degree, len(is_left))[streets[new]]
    narrowed = wide * np.cos(np.radians(middle))
    is_left[streets[new[np.abs(narrowed - high) <= _AS_LONG * high]]] = True
    is_northward = np.zeros(len(is_left), dtype=bool)
    is_northward[streets[new]] = narrowed < high
    return np.where(is_northward[pieces.street], spots[:, 1], spots[:, 0]), is_left


def _first_lines(codes: Ints) -> Ints:
    """Return the position of the first line of each piece; pieces are numbered in the order of their first lines."""
    return np.flatnonzero(~pd.Series(codes).duplicated().to_numpy())


def _lowest(values: Floats, codes: Ints) -> Floats:
    found = np.full(int(codes.max()) + 1, np.inf)
    np.minimum.at(found, codes, values)
    return found


def _first_joints(pieces: Pieces, lines: Ints, codes: Ints, rank: Floats) -> Ints:
    """Return where each piece begins: at its blind end that lies lower, or a ring at its lowest joint.

    Of two that lie equally low: the first end of a single line, the blind end with the lower node, and the joint of a
    ring that comes first in the layer.
    """
    joints = pieces.joints[lines]
    ends, of_end = joints.ravel(), np.repeat(codes, 2)
    is_single = (np.bincount(codes) == 1)[of_end]
    is_blind = pieces.degree[ends] == _BLIND
    tie = np.where(is_blind & ~is_single, pieces.node[ends], np.arange(len(ends)))
    has_blind = np.zeros(int(codes.max()) + 1, dtype=bool)
    has_blind[of_end[is_blind]] = True
    is_candidate = is_blind | ~has_blind[of_end]
    ends, of_end, tie = ends[is_candidate], of_end[is_candidate], tie[is_candidate]
    order = np.lexsort((tie, rank[ends], of_end))
    begins: Ints = ends[order[np.flatnonzero(np.diff(of_end[order], prepend=-1))]]
    return begins


def _walk(joints: Ints, count: int, codes: Ints, begins: Ints) -> tuple[Ints, Bools]:
    """Return the step in which each line is walked, and whether backwards: all pieces are walked in step.

    Parameters
    ----------
    joints
        N by 2: the ends of each line.
    count
        Number of joints.
    codes
        Piece of each line.
    begins
        Joint from which each piece is walked; there its first line in the layer comes first.
    """
    ends = joints.ravel()
    by_joint = np.argsort(ends, kind="stable")
    is_first = np.diff(ends[by_joint], prepend=-1) != 0
    way = np.full((2, count), -1)
    way[0, ends[by_joint[is_first]]] = by_joint[is_first]
    way[1, ends[by_joint[~is_first]]] = by_joint[~is_first]
    step, is_backwards = np.zeros(len(joints), dtype=np.int64), np.zeros(len(joints), dtype=bool)
    sizes = np.bincount(codes)
    by_size = np.argsort(-sizes, kind="stable")
    at = begins[by_size]
    come_by = np.full(len(at), -1)
    for number, walking in enumerate(np.searchsorted(-sizes[by_size], -np.arange(int(sizes.max())), side="left")):
        at, come_by = at[:walking], come_by[:walking]
        end = way[0, at]
        end = np.where(end >> 1 == come_by, way[1, at], end)
        come_by = end >> 1
        step[come_by], is_backwards[come_by] = number, end & 1
        at = ends[end ^ 1]
    return step, is_backwards


def _sums(street: Ints, piece: Ints, length_m: Floats, gap_m: float) -> Floats:
    """Return where each line begins, in the order of the streets: added up one by one, so that no digit differs."""
    is_new = np.diff(street, prepend=-1) != 0
    gaps = np.where((np.diff(piece, prepend=-1) != 0) & ~is_new, gap_m, 0.0)
    added = np.column_stack([gaps, length_m])
    first = np.flatnonzero(is_new)
    counts = np.diff(np.append(first, len(street)))
    along_m = np.zeros(len(street))
    for count in np.unique(counts):
        rows = first[counts == count][:, None] + np.arange(count)
        along_m[rows] = np.cumsum(added[rows].reshape(len(rows), -1), axis=1)[:, ::2]
    return along_m
