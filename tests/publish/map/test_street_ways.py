"""The order of the lines of one street; nodes are numbered by how far east they are, in metres."""

from pipeline.publish.map.street_ways import Line, pieces_in_order


def ways(*ends):
    lines = [Line(at, first, last, abs(last - first)) for at, (first, last) in enumerate(ends)]
    rank = {node: float(node) for line in ends for node in line}
    return [[(line.at, backwards) for line, backwards in way] for way in pieces_in_order(lines, rank)]


def test_lines_that_meet_are_one_piece_and_run_from_its_westernmost_end():
    assert ways((2, 1), (0, 1)) == [[(1, False), (0, True)]]


def test_pieces_follow_one_another_from_west_to_east():
    assert ways((8, 9), (0, 1)) == [[(1, False)], [(0, False)]]


def test_a_branch_follows_the_longest_way():
    assert ways((0, 4), (4, 5), (4, 9)) == [[(0, False), (2, False)], [(1, False)]]


def test_a_ring_is_walked_once():
    assert sorted(at for at, _ in ways((0, 1), (1, 2), (2, 0))[0]) == [0, 1, 2]
