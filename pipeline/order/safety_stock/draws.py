"""Random draws for many cores in many simulations, in pieces that fit into memory."""

from typing import Final

import numpy as np
import numpy.typing as npt

from pipeline.order.safety_stock.volume_model import Floats

__all__ = ["Singles", "drawn_hits", "edges_of", "in_pieces", "needs_of", "whole_mixes"]

Singles = npt.NDArray[np.float32]
# numbers held at once: a table of simulations by cores is made in pieces
_PIECE: Final = 2**18
# a sum that misses a whole bag by a rounding error is that whole bag
_EXACT: Final = 1e-9


def in_pieces(core: np.ndarray, simulations: int) -> list[np.ndarray]:
    """Return the cores in pieces small enough for a table of simulations by cores."""
    step = max(_PIECE // simulations, 1)
    return [core[at : at + step] for at in range(0, len(core), step)]


def whole_mixes(bags: Floats, smallest: float) -> Floats:
    """Return the bags to mix for needs of single mixes: rounded up to the smallest share of a bag that is mixed."""
    whole: Floats = np.ceil(bags / smallest - _EXACT) * smallest
    return whole


def edges_of(chance: Floats) -> Singles:
    """Return the chances of each core's K shades, N by K, added up along the row."""
    edges: Singles = np.minimum(np.cumsum(chance, axis=1), 1).astype(np.float32)
    return edges


def drawn_hits(edges: Singles, simulations: int, rng: np.random.Generator) -> list[npt.NDArray[np.bool_]]:
    """Draw a shade for each core in each simulation; returns K tables, S by N: whether that shade was drawn."""
    drawn = rng.random((simulations, len(edges)), dtype=np.float32)
    below = [drawn < edge for edge in edges.T]
    return [after & ~before for before, after in zip([np.zeros((1, 1), dtype=bool), *below], below, strict=False)]


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
