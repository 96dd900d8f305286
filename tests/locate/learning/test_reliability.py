"""How likely the written name agrees with the likeliest street, worked by hand, and what is left out."""

import numpy as np
import pytest

from pipeline.locate.learning.fit import Batch
from pipeline.locate.learning.reliability import agreements


def _batch(core, match, names_near=4.0):
    return Batch(np.array(core), None, np.array(match), np.ones(len(core)), names_near)


def test_a_name_agrees_by_chance_too():
    """Three quarters for a street of that name with 9 in 10 names right: 0.75 x 0.9 + 0.25 x 0.1 / 4."""
    found = agreements(_batch([0, 0], [1.0, 0.2]), np.array([7, 8]), np.array([0.3, 0.1]), np.array([0.9, 0.9]))
    assert found["stated"].tolist() == [pytest.approx(0.68125)]
    assert found["agreed"].tolist() == [1.0]


def test_two_lines_of_one_street_count_as_one_and_the_likelier_street_is_judged():
    found = agreements(
        _batch([0, 0, 0], [0.1, 1.0, 0.1]), np.array([7, 8, 7]), np.array([0.2, 0.3, 0.2]), np.array([0.8, 0.8, 0.8])
    )
    assert found["stated"].tolist() == [pytest.approx(4 / 7 * 0.8 + 3 / 7 * 0.2 / 4)]
    assert found["agreed"].tolist() == [0.0]


def test_a_core_without_a_name_or_perhaps_beside_a_line_without_one_is_left_out():
    """The second core has no written name; a tenth of the third, and a hundredth of the fourth, lies on a footway."""
    core, street = [0, 1, 2, 2, 3, 3], np.array([7, 7, 7, -1, 7, -1])
    match = [1.0, np.nan, 1.0, np.nan, 1.0, np.nan]
    position = np.array([1.0, 1.0, 0.9, 0.1, 0.99, 0.01])
    assert agreements(_batch(core, match), street, position, np.full(6, 0.9)).index.tolist() == [0, 3]
