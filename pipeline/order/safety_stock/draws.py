"""Random draws for many cores in many simulations, in pieces that fit into memory."""

from typing import Final

import numpy as np
import numpy.typing as npt

from pipeline.order.safety_stock.volume_model import Floats

__all__ = ["Singles", "drawn_hits", "drawn_sums", "in_pieces", "needs_of"]

Singles = npt.NDArray[np.float32]
# numbers held at once: a table of simulations by cores is made in pieces
_PIECE: Final = 2**18


def in_pieces(core: np.ndarray, simulations: int) -> list[np.ndarray]:
    """Return the cores in pieces small enough for a table of simulations by cores."""
    step = max(_PIECE // simulations, 1)
    return [core[at : at + step] for at in range(0, len(core), step)]


def drawn_sums(edges: Singles, terms: Floats, simulations: int, rng: np.random.Generator) -> list[Floats]:
    """Draw a shade for each core in each simulation, and add up the terms of each shade's cores.

    Parameters
    ----------
    edges
        N by K: the chances of each core's K shades, added up along the row.
    terms
        N by T: what is added up.
    simulations, rng
        How many simulations S, and the source of random numbers.

    Returns
    -------
    list of numpy.ndarray
        K tables, S by T.
    """
    # scaled by the largest, so that single precision counts equal cores exactly; it is twice as fast
    largest = np.maximum(np.abs(terms).max(axis=0), np.finfo(float).tiny)
    single = (terms / largest).astype(np.float32)
    drawn = rng.random((simulations, len(edges)), dtype=np.float32)
    up_to = [
        single.sum(axis=0) if (edge >= 1).all() else (drawn < edge).astype(np.float32) @ single for edge in edges.T
    ]
    return [(after - before) * largest for before, after in zip([np.zeros(1), *up_to[:-1]], up_to, strict=True)]


def drawn_hits(edges: Singles, simulations: int, rng: np.random.Generator) -> list[Floats]:
    """Draw a shade for each core in each simulation; returns K tables, S by N: 1 where that shade was drawn, else 0."""
    drawn = rng.random((simulations, len(edges)), dtype=np.float32)
    below = [(drawn < edge).astype(float) for edge in edges.T]
    return [after - before for before, after in zip([np.zeros(1), *below[:-1]], below, strict=True)]


def needs_of(width: Floats, depth: Floats, bed: Floats, bags: Floats) -> Floats:
    """Return the bags for S by M sizes, each simulation with its own draw of the model.

    The same as the terms of ``volume_model.terms_of`` times its ``bags_of_terms``, without holding all the terms.
    """
    by = bags.T[:, :, None]
    square = by[2] + by[5] * bed
    needs: Floats = (
        by[0] * depth + by[1] * width * depth + (square * width + by[3] + by[6] * bed) * width + by[4] + by[7] * bed
    )
    return needs
