"""What is said of a common shift, in a town of straight streets where the shift is known."""

import numpy as np
import pytest

from pipeline.locate.learning.fit import Batch, fit, score
from pipeline.locate.learning.masses import Side, masses_of
from pipeline.locate.learning.shift import LEAST_FOR_SHIFT, NO_SHIFT, read_shift
from pipeline.locate.learning.shift_search import UNMOVED, Sample, Start, step_from
from tests.locate.learning.grid_town import HALF_M, batch_of, draw, streets


def _read(cores, lines, half=HALF_M):
    spots, pieces, batch = batch_of(cores, lines, half)
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


def test_a_shift_of_a_third_of_a_metre_is_allowed_for_and_not_said():
    reading = _read(draw(streets(), 1200, 0.2, 25, shift=(0.3, 0.0)), streets())
    assert (reading.says, reading.weighed_as) == ("nothing", "shift")
    assert (reading.shift.east, reading.shift.north) == pytest.approx((0.3, 0), abs=0.1)


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
    reading = _read(draw(streets(), 900, sigma, seed, across=(0.6, 0.8)), streets())
    assert reading.says in {"side", "either", "unclear"}
    assert reading.says == "unclear" or np.array(reading.side[:2]) @ (0.6, 0.8) > 0.7


@pytest.mark.parametrize("across", [(0.6, 0.8), (-0.8, 0.6)])
def test_on_roads_of_several_widths_mains_on_one_side_are_told_from_a_shift(across):
    """Half of the roads are 8 m wide, half 3 m: no one shift puts the cores of both on their kerbs."""
    half = np.where(np.arange(24) % 2 == 0, 4.0, 1.5)
    reading = _read(draw(streets(), 900, 0.5, 21, across=across, half=half), streets(), half)
    assert reading.says == reading.weighed_as == "side"
    assert np.array(reading.side[:2]) @ across > 0.9


def test_a_shift_is_told_from_the_side_that_cores_keep_to_as_well():
    """As above, and all positions lie 2 m to the west and 1 m to the north."""
    half = np.where(np.arange(24) % 2 == 0, 4.0, 1.5)
    cores = draw(streets(), 900, 0.5, 24, shift=(-2.0, 1.0), across=(0.6, 0.8), half=half)
    reading = _read(cores, streets(), half)
    assert reading.says == reading.weighed_as == "both"
    assert (reading.shift.east, reading.shift.north) == pytest.approx((-2, 1), abs=0.3)
    assert np.array(reading.side[:2]) @ (0.6, 0.8) > 0.7


def test_positions_are_put_back_against_the_shift():
    spots, pieces, _ = batch_of(draw(streets(), 5, 1.0, 22), streets())
    reading = NO_SHIFT._replace(weighed_as="shift", shift=NO_SHIFT.shift._replace(east=2.0, north=-1.0))
    there = spots._replace(x=spots.x - 2, y=spots.y + 1)
    assert np.array_equal(reading.masses(spots, pieces).known, masses_of(there, pieces).known)
    both = reading._replace(weighed_as="both", side=Side(1.0, 0.0))
    assert np.array_equal(both.masses(spots, pieces).known, masses_of(there, pieces, side=Side(1.0, 0.0)).known)


@pytest.mark.parametrize("side", [None, Side(0.6, 0.8), Side(0.6, 0.8, 0.7)])
def test_a_step_follows_the_slope_of_the_likelihood(side):
    """The sum of the scores by differences: the likelihood a centimetre to either side."""
    spots, pieces, batch = batch_of(draw(streets(), 60, 1.0, 25, across=(0.6, 0.8)), streets())
    sample = Sample(spots, pieces, batch, np.arange(batch.size))
    mixture = fit(sample.put(UNMOVED, side))
    step = step_from(sample, sample.put(UNMOVED, side), mixture, Start(UNMOVED, side))

    def slopes(there, here):
        return (score(sample.put(*there), mixture) - score(sample.put(*here), mixture)) / 0.02

    scores = [slopes((UNMOVED.by(*by), side), (UNMOVED.by(*(-by)), side)) for by in np.eye(2) * 0.01]
    if side is not None and side.off:
        more, less = (side._replace(off=side.off + by) for by in (0.01, -0.01))
        scores.append(slopes((UNMOVED, more), (UNMOVED, less)))
    scores = np.column_stack(scores)
    expected = np.linalg.solve(scores.T @ scores, scores.sum(axis=0))
    assert (step.shift.east, step.shift.north) == pytest.approx(expected[:2], abs=0.01)
    if side is not None and side.off:
        assert step.side.off - side.off == pytest.approx(expected[2], abs=0.01)


def test_cores_of_one_street_count_together():
    """The same cores, once each a cluster and once by street: the step is one, its error is not."""
    cores = draw(streets(), 400, 1.0, 23)
    spots, pieces, batch = batch_of(cores, streets())
    mixture = fit(batch)
    alone = step_from(Sample(spots, pieces, batch, np.arange(batch.size)), batch, mixture, Start(UNMOVED)).shift
    twice = Batch(
        np.concatenate([batch.core, batch.core + batch.size]),
        masses_of(_doubled(spots), pieces),
        np.tile(batch.match, 2),
        np.tile(batch.level, 2),
        5,
    )
    sample = Sample(_doubled(spots), pieces, twice, np.tile(np.arange(batch.size), 2))
    together = step_from(sample, twice, mixture, Start(UNMOVED)).shift
    assert (together.east, together.north) == pytest.approx((alone.east, alone.north), rel=1e-4)
    # a core written twice tells no more than once: without clusters the error would shrink by the root of 2
    assert together.covariance == pytest.approx(alone.covariance, rel=1e-4)


def _doubled(spots):
    return type(spots)(*(np.tile(values, 2) for values in spots))
