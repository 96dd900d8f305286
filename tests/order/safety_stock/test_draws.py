"""Random draws for many cores at once, against the chances they are drawn by."""

import numpy as np
import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from pipeline.order.safety_stock.draws import drawn_hits, edges_of, in_pieces, needs_of, whole_mixes
from pipeline.order.safety_stock.volume_model import bags_of_terms, draw_model, terms_of
from pipeline.programme.catalogue import load_catalogue


@settings(max_examples=40, deadline=None)
@given(st.integers(0, 5000), st.integers(1, 300_000))
@example(3, 2**18 + 1)
def test_pieces_hold_every_core_once_and_fit_into_memory(count, simulations):
    pieces = in_pieces(np.arange(count), simulations)
    assert [core for piece in pieces for core in piece.tolist()] == list(range(count))
    assert all(len(piece) == 1 or len(piece) * simulations <= 2**18 for piece in pieces)


def _edges(*chances):
    return np.cumsum(np.array(chances), axis=1).astype(np.float32)


def test_each_core_takes_exactly_one_shade_where_its_chances_add_up_to_one():
    edges = _edges([0.2, 0.8], [0.5, 0.5], [1.0, 0.0])
    dark, pale = drawn_hits(edges, 1000, np.random.default_rng(1))
    assert (dark ^ pale).all()
    assert dark[:, 2].all()
    # three standard errors of 1,000 draws
    assert dark.mean(axis=0)[:2] == pytest.approx([0.2, 0.5], abs=3 * 0.016)


def test_a_core_that_may_take_no_shade_takes_none_in_the_rest_of_the_draws():
    (dark,) = drawn_hits(_edges([0.3]), 2000, np.random.default_rng(1))
    assert dark.mean() == pytest.approx(0.3, abs=0.031)


def test_the_edges_of_a_core_end_at_one_although_its_chances_add_up_to_more_by_rounding():
    assert edges_of(np.array([[0.25, 0.75], [0.5, 0.5000001]])).tolist() == [[0.25, 1.0], [0.5, 1.0]]


@pytest.mark.parametrize(
    ("need", "smallest", "bags"),
    [(0.0, 1.0, 0.0), (0.2, 1.0, 1.0), (1.0, 1.0, 1.0), (3 * 0.1 + 0.7, 1.0, 1.0), (1.01, 1.0, 2.0), (1.01, 0.5, 1.5)],
)
def test_a_mix_takes_whole_bags_or_half_ones(need, smallest, bags):
    assert whole_mixes(np.array([need]), smallest).tolist() == [bags]


@pytest.mark.parametrize("diameter_is", ["hole", "core"])
def test_needs_of_drawn_sizes_are_their_terms_times_the_model(diameter_is):
    materials = load_catalogue({}, "test").materials
    rng = np.random.default_rng(3)
    bags = bags_of_terms(draw_model(materials, 50, rng), materials, diameter_is)
    width, depth = rng.uniform(300, 700, (50, 8)), rng.uniform(100, 400, (50, 8))
    bed = rng.uniform(0, 15, 8)
    by_terms = np.einsum("smt,st->sm", terms_of(width, depth, np.broadcast_to(bed, width.shape)), bags)
    assert needs_of(width, depth, bed, bags) == pytest.approx(by_terms)
