"""Which rows get a fault: few at a time, each once, the same ones for the same seed."""

import numpy as np
import pytest

from pipeline.rehearse.draw import draw_batches, rows_above
from pipeline.rehearse.making import Kind

_KINDS = [
    Kind("often", "row", (), (), lambda cells, _: cells, has_size=True),
    Kind("usual", "row", (), (), lambda cells, _: cells),
    Kind("rare", "row", (), (), lambda cells, _: cells),
    Kind("never", "row", (), (), lambda cells, _: cells),
]
_PLACES = {
    "often": np.arange(200), "usual": np.arange(0, 200, 2), "rare": np.array([7]), "never": np.zeros(0, dtype=np.intp),
}  # fmt: skip


def _drawn(seed, faults=120):
    return draw_batches(_KINDS, _PLACES, faults, 200, np.random.default_rng(seed))


def test_a_batch_spoils_at_most_a_twentieth_of_the_rows_and_none_twice():
    batches = _drawn(1)
    assert len(batches) == 12
    for batch in batches:
        assert 1 <= len(batch.rows) <= 10
        assert len(set(batch.rows.tolist())) == len(batch.rows)
        assert all(row in _PLACES[_KINDS[kind].name] for row, kind in zip(batch.rows, batch.kinds, strict=True))


def test_a_kind_with_sizes_is_planted_four_times_as_often():
    kinds = np.concatenate([batch.kinds for batch in _drawn(1)])
    counts = np.bincount(kinds, minlength=4)
    assert counts[0] == 80
    assert counts[1] == 20
    # a single row can hold a fault once in each audit
    assert 1 <= counts[2] <= 12
    assert counts[3] == 0


def test_the_same_seed_draws_the_same_faults():
    def rows(seed):
        return [batch.rows.tolist() for batch in _drawn(seed)]

    assert rows(4) == rows(4)
    assert rows(4) != rows(5)


def test_a_small_register_gets_one_fault_at_a_time():
    batches = draw_batches(_KINDS, {name: rows[:1] for name, rows in _PLACES.items()}, 5, 8, np.random.default_rng(1))
    assert [len(batch.rows) for batch in batches] == [1] * 5


def test_nothing_can_be_planted_where_no_row_can_hold_anything():
    nowhere = dict.fromkeys(_PLACES, np.zeros(0, dtype=np.intp))
    assert draw_batches(_KINDS, nowhere, 5, 200, np.random.default_rng(1)) == []


@pytest.mark.parametrize(
    ("spoiled", "expected"),
    [
        ([], [1, 0, 1, 4, 3]),
        # row 1 is spoiled: what is above it is copied instead, and the first row of a file takes the one below
        ([1], [2, 0, 0, 4, 3]),
        # nothing else is left in the second file
        ([4], [1, 0, 1, 3, 3]),
    ],
)
def test_the_row_above_is_of_the_same_file_and_not_spoiled(spoiled, expected):
    part = np.array([0, 0, 0, 1, 1])
    assert rows_above(part, np.arange(5), np.array(spoiled, dtype=np.intp)).tolist() == expected
