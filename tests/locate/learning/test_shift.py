"""What is said of a common shift, in a town of straight streets where the shift is known."""

import numpy as np
import pytest

from pipeline.locate.learning.fit import Batch, fit
from pipeline.locate.learning.masses import masses_of
from pipeline.locate.learning.shift import LEAST_FOR_SHIFT, NO_SHIFT, moved, read_shift, step_to_shift
from tests.locate.learning.grid_town import batch_of, draw, streets


def _read(cores, lines):
    spots, pieces, batch = batch_of(cores, lines)
    every = np.ones(batch.size, dtype=bool)
    street = cores.line[np.unique(batch.core)]
    return read_shift(spots, pieces, batch, every, street, fit(batch))


@pytest.mark.parametrize("shift", [(2.0, 1.0), (-3.0, 0.5)])
def test_a_common_shift_is_found_with_its_error(shift):
    reading = _read(draw(streets(), 900, 1.0, 11, shift=shift), streets())
    assert reading.says == reading.weighed_as == "shift"
    off = np.array([reading.shift.east, reading.shift.north]) - shift
    # 9.21 holds 99 % of a normal in the plane
    assert off @ np.linalg.solve(reading.shift.covariance, off) < 9.21
    assert np.hypot(*off) < 0.4
    assert reading.moves


@pytest.mark.parametrize("seed", range(12, 16))
def test_without_a_shift_nothing_is_said(seed):
    assert _read(draw(streets(), 600, 1.0, seed), streets()).says == "nothing"


def test_few_cores_say_nothing():
    cores = draw(streets(), LEAST_FOR_SHIFT - 1, 0.5, 16, shift=(4.0, 0.0))
    assert _read(cores, streets()) is NO_SHIFT
    assert not NO_SHIFT.moves


@pytest.mark.parametrize("shift", [(0.0, 2.0), (3.0, 0.0)])
def test_streets_that_run_one_way_leave_the_shift_along_them_open(shift):
    """All streets run east: how far positions are moved along them does not show."""
    lines = streets(("east",))
    assert _read(draw(lines, 900, 1.0, 17, shift=shift), lines).says == "nothing"


@pytest.mark.parametrize(("seed", "sigma"), [(18, 0.5), (19, 1.0), (20, 2.0)])
def test_mains_on_one_side_of_the_road_are_not_called_a_shift(seed, sigma):
    """All cores lie 3 m to the north or the east of their centre line: a shift of 3 m each way looks much the same."""
    assert _read(draw(streets(), 900, sigma, seed, across=(0.6, 0.8)), streets()).says != "shift"


def test_positions_are_put_back_against_the_shift():
    spots, pieces, _ = batch_of(draw(streets(), 5, 1.0, 22), streets())
    reading = NO_SHIFT._replace(weighed_as="shift", shift=NO_SHIFT.shift._replace(east=2.0, north=-1.0))
    there = moved(spots, reading.shift)
    assert there.x == pytest.approx(spots.x - 2)
    assert there.y == pytest.approx(spots.y + 1)
    assert np.array_equal(reading.masses(spots, pieces).known, masses_of(there, pieces).known)


def test_cores_of_one_street_count_together():
    """The same cores, once each a cluster and once by street: the step is one, its error is not."""
    cores = draw(streets(), 400, 1.0, 23)
    spots, pieces, batch = batch_of(cores, streets())
    mixture = fit(batch)
    alone = step_to_shift(spots, pieces, batch, mixture, np.arange(batch.size))
    twice = Batch(
        np.concatenate([batch.core, batch.core + batch.size]),
        masses_of(_doubled(spots), pieces),
        np.tile(batch.match, 2),
        np.tile(batch.level, 2),
        5,
    )
    cluster = np.tile(np.arange(batch.size), 2)
    together = step_to_shift(_doubled(spots), pieces, twice, mixture, cluster)
    assert (together.east, together.north) == pytest.approx((alone.east, alone.north), rel=1e-4)
    # a core written twice tells no more than once: without clusters the error would shrink by the root of 2
    assert together.covariance == pytest.approx(alone.covariance, rel=1e-4)


def _doubled(spots):
    return type(spots)(*(np.tile(values, 2) for values in spots))
