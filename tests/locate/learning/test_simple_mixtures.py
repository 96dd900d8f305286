"""The simple mixtures that a search for an error starts from."""

import numpy as np
import pytest

from pipeline.locate.learning.fit import simple_mixtures
from pipeline.locate.learning.masses import WIDTHS_M


def test_each_is_about_a_width_of_its_own():
    assert [int(np.argmax(mixture.widths)) for mixture in simple_mixtures(0.9)] == list(range(len(WIDTHS_M)))


@pytest.mark.parametrize("at", range(len(WIDTHS_M)))
def test_every_width_has_a_share_since_one_without_would_never_gain_any(at):
    mixture = simple_mixtures(0.9)[at]
    assert (mixture.widths > 0).all()
    assert mixture.widths.sum() == pytest.approx(1)
    assert mixture.strips.sum() == pytest.approx(1)
