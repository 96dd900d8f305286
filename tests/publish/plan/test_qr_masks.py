"""Tests of the marks of QR symbols: by hand, and against a plain count."""

import itertools

import numpy as np
import pytest

from pipeline.publish.plan.qr_masks import mask_scores

SIDE = 25
FINDER = "1011101"


def _marks(modules):
    """Return the marks of symbols given as 0 and 1: N x 25 x 25."""
    across = 1 << np.arange(SIDE)[::-1]
    rows, columns = ((each * across).sum(axis=-1).astype(np.uint32) for each in (modules, modules.transpose(0, 2, 1)))
    return mask_scores(rows, columns, SIDE).tolist()


def _plain_finders(line):
    """Return how many finders a line of "0" and "1" has, from its start, of those that share modules the first."""
    count, at = 0, line.find(FINDER)
    while at >= 0:
        behind = at + len(FINDER)
        is_found = "1" not in line[max(at - 4, 0) : at] or "1" not in line[behind : behind + 4]
        count += is_found
        at = line.find(FINDER, behind if is_found else at + 1)
    return count


def _plain_marks(modules):
    """Return the marks of a symbol as the standard words them."""
    lines = ["".join(map(str, line)) for each in (modules, modules.T) for line in each.tolist()]
    runs = [len(list(run)) for line in lines for _, run in itertools.groupby(line)]
    squares = [modules[y : y + 2, x : x + 2].sum() in (0, 4) for y in range(SIDE - 1) for x in range(SIDE - 1)]
    from_half = abs(modules.sum() / SIDE**2 * 100 - 50)
    return (
        sum(run - 2 for run in runs if run >= 5)
        + 3 * sum(squares)
        + 40 * sum(map(_plain_finders, lines))
        + 10 * int(from_half / 5)
    )


def test_a_symbol_of_one_colour_has_the_marks_worked_by_hand():
    """50 lines of 25 modules: 50 x 23; 24 x 24 squares: 3 each; 50 % from a half: 10 x 10."""
    assert _marks(np.zeros((1, SIDE, SIDE), int)) == [50 * 23 + 3 * 24 * 24 + 100]


def test_a_chequered_symbol_has_no_marks():
    assert _marks(np.indices((SIDE, SIDE)).sum(axis=0)[np.newaxis] % 2) == [0]


@pytest.mark.parametrize("places", [(0,), (18,), (9,), (0, 4), (0, 6), (4, 8, 12), (6, 12, 18), (0, 10)])
def test_what_looks_like_a_finder_is_counted_as_a_plain_search_counts_it(places):
    symbols = np.zeros((2, SIDE, SIDE), int)
    for place in places:
        symbols[0, 12, place : place + 7] |= np.array([int(letter) for letter in FINDER])
    symbols[1] = symbols[0].T
    assert _marks(symbols) == [_plain_marks(one) for one in symbols]


def test_the_marks_of_random_symbols_are_those_of_a_plain_count():
    random = np.random.default_rng(7)
    # lines made of pieces of finders, so that many share modules
    pieces = np.array([[1, 0, 1, 1, 1, 0, 1, 1], [0, 1, 0, 1, 1, 1, 0, 1], [1, 1, 0, 1, 0, 0, 0, 0]])
    drawn = pieces[random.integers(0, 3, (40, SIDE, 4))].reshape(40, SIDE, 32)[:, :, :SIDE]
    symbols = np.concatenate([drawn, random.integers(0, 2, (40, SIDE, SIDE))])
    assert _marks(symbols) == [_plain_marks(one) for one in symbols]
