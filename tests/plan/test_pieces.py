import numpy as np

from pipeline.plan.pieces import linked, pieces, runs


def test_sets_tie_their_members_together_and_nothing_else():
    parts = linked(np.array([[0, 1, -1], [1, 2, -1], [4, 5, 3]]), 7)
    assert parts[0] == parts[1] == parts[2]
    assert parts[3] == parts[4] == parts[5]
    assert len(set(parts.tolist())) == 3


def test_runs_are_found_from_begin_to_end():
    assert runs(np.array([4, 4, 7, 2, 2])) == [(0, 2), (2, 3), (3, 5)]
    assert runs(np.array([], dtype=np.int64)) == []


def test_a_large_part_is_halved_across_its_longer_side():
    # eight jobs along x: halves left and right, no more than four in each
    xy = np.column_stack([np.arange(8.0), np.zeros(8)])
    piece = pieces(np.zeros(8, dtype=np.int64), np.arange(8), xy, 4)
    assert len(set(piece[:4].tolist())) == len(set(piece[4:].tolist())) == 1
    assert piece[0] != piece[7]


def test_the_second_time_the_pieces_lie_across_the_first_cut():
    xy = np.column_stack([np.arange(20.0), np.zeros(20)])
    first, second = (pieces(np.zeros(20, dtype=np.int64), np.arange(20), xy, 5, turn) for turn in (0, 1))
    assert first[9] != first[10]
    assert second[9] == second[10]


def test_jobs_that_are_not_asked_for_are_in_no_piece():
    assert pieces(np.zeros(3, dtype=np.int64), np.array([0, 2]), np.zeros((3, 2)), 5).tolist() == [0, -1, 0]
