"""Chance drawn for many cores in many simulations, piece by piece so that memory holds them."""

from typing import Final

import numpy as np
import numpy.typing as npt

from pipeline.order.reserve.spread import Floats

__all__ = ["Singles", "drawn_hits", "drawn_sums", "in_pieces", "needs_of"]

Singles = npt.NDArray[np.float32]
# numbers held at once: a simulation by core table is made in pieces
_PIECE: Final = 2**18


def in_pieces(core: np.ndarray, simulations: int) -> list[np.ndarray]:
    step = max(_PIECE // simulations, 1)
    return [core[at : at + step] for at in range(0, len(core), step)]


def drawn_sums(edges: Singles, terms: Floats, simulations: int, rng: np.random.Generator) -> list[Floats]:
    """Draw a shade for each core in each simulation: for each shade the sums of its cores' terms."""
    # against the largest, so that single precision counts like cores exactly; it is twice as fast
    largest = np.maximum(np.abs(terms).max(axis=0), np.finfo(float).tiny)
    single = (terms / largest).astype(np.float32)
    drawn = rng.random((simulations, len(edges)), dtype=np.float32)
    up_to = [
        single.sum(axis=0) if (edge >= 1).all() else (drawn < edge).astype(np.float32) @ single for edge in edges.T
    ]
    return [(after - before) * largest for before, after in zip([np.zeros(1), *up_to[:-1]], up_to, strict=True)]


def drawn_hits(edges: Singles, simulations: int, rng: np.random.Generator) -> list[Floats]:
    """Draw a shade for each core in each simulation: for each shade 1 where it was drawn, else 0."""
    drawn = rng.random((simulations, len(edges)), dtype=np.float32)
    below = [(drawn < edge).astype(float) for edge in edges.T]
    return [after - before for before, after in zip([np.zeros(1), *below[:-1]], below, strict=True)]


def needs_of(width: Floats, depth: Floats, bed: Floats, bags: Floats) -> Floats:
    """Bags of S by M sizes, each simulation by its own draw of the model: as terms_of and bags_of_terms, unstacked."""
    by = bags.T[:, :, None]
    square = by[2] + by[5] * bed
    needs: Floats = (
        by[0] * depth + by[1] * width * depth + (square * width + by[3] + by[6] * bed) * width + by[4] + by[7] * bed
    )
    return needs
