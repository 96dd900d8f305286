"""Counts in notices."""

import pytest

from pipeline.intake.notices import counted


@pytest.mark.parametrize(
    ("number", "said"), [(0, "0 polygons"), (1, "1 polygon"), (2, "2 polygons"), (12_345, "12,345 polygons")]
)
def test_a_count_agrees_with_its_noun(number, said):
    assert counted(number, "polygon") == said
