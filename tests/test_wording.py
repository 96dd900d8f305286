"""Counts that agree with their noun."""

import pytest

from pipeline.wording import counted


@pytest.mark.parametrize(
    ("count", "said"),
    [(0, "0 cores"), (1, "1 core"), (2, "2 cores"), (1200, "1,200 cores"), (1_000_000, "1,000,000 cores")],
)
def test_a_count_agrees_with_its_noun(count, said):
    assert counted(count, "core") == said
