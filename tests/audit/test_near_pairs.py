"""Pairs of points that lie close together, beside every point measured against every other."""

import numpy as np
import pytest

from pipeline.audit.near_pairs import near_pairs


@pytest.mark.parametrize("seed", range(200))
def test_every_pair_within_reach_is_found_once_as_when_all_are_measured(seed):
    random = np.random.default_rng(seed)
    count, size = int(random.integers(0, 40)), float(random.choice([0.0, 1.0, 10.0, 1e6]))
    # whole metres lie on the sides of the squares, and many points on one another
    x, y = random.integers(0, 8, (2, count)).astype(float) * size / 8 + random.choice([0.0, 0.3]) * random.random(count)
    reach = float(random.choice([0.0, 0.5, 1.0, 3.0, 2e6]))
    pairs = [tuple(sorted(pair)) for pair in zip(*(at.tolist() for at in near_pairs(x, y, reach)), strict=True)]
    assert len(set(pairs)) == len(pairs)
    assert all(one != other for one, other in pairs)
    apart = np.hypot(x[:, None] - x, y[:, None] - y)
    wanted = {(one, other) for one in range(count) for other in range(one) if apart[one, other] < reach}
    assert {(other, one) for one, other in wanted} <= set(pairs)
    farthest = max((apart[pair] for pair in pairs), default=0.0)
    # two squares across and two up, less nothing
    assert farthest <= np.hypot(2, 2) * max(reach, 0.01)
