import numpy as np

from pipeline.plan.streets.blocks import blocks_of


def test_every_pair_is_in_one_block_and_a_place_in_no_two():
    random = np.random.default_rng(1)
    xy, places = random.random((900, 2)) * 1000, random.integers(0, 900, 3000)
    blocks = blocks_of(xy, places)
    assert np.sort(np.concatenate(blocks)).tolist() == list(range(3000))
    asked = [set(places[block].tolist()) for block in blocks]
    assert sum(map(len, asked)) == len(set(places.tolist()))
    assert max(map(len, asked)) <= 200


def test_places_of_a_block_lie_together():
    """Two towns far apart share no block."""
    xy = np.concatenate([np.random.default_rng(2).random((150, 2)), np.random.default_rng(3).random((150, 2)) + 1e6])
    first, second = blocks_of(xy, np.arange(300))
    assert first.tolist() == list(range(150))
    assert second.tolist() == list(range(150, 300))


def test_no_pairs_have_no_blocks():
    assert blocks_of(np.empty((0, 2)), np.empty(0, dtype=np.int64)) == []
