"""Which positions were not measured at the cores, and which only look so."""

import numpy as np
import pytest

from pipeline.locate.learning.unmeasured import Lie, lies_beside, verdict_on

_N = 400
_HALF, _REACH = 4.0, 15.0


def _lie(off, rounding=0.0, *, has_width=True, x=None):
    """Cores so far from their line, spread along it unless ``x`` is given."""
    along = np.arange(float(len(off))) if x is None else x
    every = np.ones(len(off))
    return Lie(
        along, np.zeros(len(off)), np.abs(off), _HALF * every, _REACH * every, rounding * every, every * has_width > 0
    )


def _off(sigma, seed=1, middle=0.0, spread=_HALF):
    """Cores anywhere across the road, or at one place, with a round error."""
    rng = np.random.default_rng(seed)
    return middle + rng.uniform(-spread, spread, _N) + rng.normal(0, sigma, _N)


@pytest.mark.parametrize("sigma", [0.02, 0.1, 0.5, 2.0, 6.0, 15.0])
@pytest.mark.parametrize("rounding", [0.0, 0.03, 0.3])
def test_cores_across_the_road_with_any_error_are_measured(sigma, rounding):
    off = _off(sigma) + np.random.default_rng(2).normal(0, rounding, _N)
    lie = _lie(off[np.abs(off) < _REACH], rounding)
    assert verdict_on(lie).reason == ""
    assert lies_beside(lie).reason == ""


@pytest.mark.parametrize("middle", [0.0, 1.5, 3.0])
@pytest.mark.parametrize("sigma", [0.08, 0.2, 2.0])
def test_a_main_at_one_distance_with_a_surveyors_error_is_measured(middle, sigma):
    """0.2 m at 95 % are 0.08 m along one axis, four times the tolerance for what was snapped."""
    assert verdict_on(_lie(_off(sigma, middle=middle, spread=0.0))).reason == ""


@pytest.mark.parametrize("middle", [0.0, 6.0])
def test_positions_on_their_line_or_at_one_distance_from_it_are_snapped(middle):
    """A centimetre is left by drawing the lines in another coordinate reference system."""
    off = middle + np.random.default_rng(3).uniform(-0.01, 0.01, _N)
    found = verdict_on(_lie(off))
    assert found.reason == "snapped"
    assert found.share == pytest.approx(1)


@pytest.mark.parametrize(("snapped", "reason"), [(120, "snapped"), (80, "")])
def test_a_quarter_of_the_positions_on_their_line_is_enough(snapped, reason):
    """30 % and 20 %: of the others, few lie that near by chance."""
    off = _off(2.0)
    off[:snapped] = 0.0
    assert verdict_on(_lie(off)).reason == reason


def test_rounded_digits_leave_snapped_positions_off_their_line():
    """Steps of 0.1 m: positions lie up to 0.07 m off, which is no error of a surveyor either."""
    step = 0.1
    off = np.random.default_rng(4).uniform(-step / 2, step / 2, _N)
    assert verdict_on(_lie(off, rounding=step / np.sqrt(12))).reason == "snapped"


def test_where_digits_are_rounded_to_metres_a_snapped_position_cannot_be_told():
    off = np.random.default_rng(5).uniform(-1.5, 1.5, _N)
    assert verdict_on(_lie(off, rounding=3 / np.sqrt(12))).reason == ""


def test_many_equal_positions_are_addresses():
    """Of 400 cores 100 share 50 positions: a quarter."""
    x = np.arange(400.0)
    x[:50] = x[50:100]
    found = verdict_on(_lie(_off(3.0), x=x)._replace(y=np.where(np.arange(400) < 100, 0.0, _off(3.0))))
    assert (found.reason, found.share) == ("equal", 0.25)


def test_a_few_equal_positions_and_those_of_coarse_digits_are_none():
    x = np.arange(400.0)
    x[:20] = x[20:40]
    assert verdict_on(_lie(_off(3.0), x=x)).reason == ""
    coarse = np.round(np.arange(400.0), -1)
    assert verdict_on(_lie(_off(3.0), rounding=3.0, x=coarse)).reason == ""


def test_positions_beyond_the_footways_are_parcels():
    """Houses 8 to 14 m from the centre line; the footway ends at 6.5 m."""
    off = np.random.default_rng(6).uniform(8, 14, _N)
    off[:40] = 0.0
    found = lies_beside(_lie(off))
    assert (found.reason, found.share) == ("beside", 0.9)


@pytest.mark.parametrize("sigma", [0.1, 1.0, 3.0, 8.0])
def test_cores_in_footways_are_not_parcels(sigma):
    """Footways reach from 4 to 6.5 m; a large error carries as many beyond them as onto the road."""
    off = np.abs(_off(sigma, middle=5.25, spread=1.25))
    assert lies_beside(_lie(off[off < _REACH])).reason == ""


def test_without_the_width_of_any_road_nothing_is_learnt():
    assert verdict_on(_lie(_off(1.0), has_width=False)).reason == "widths"
    some = _lie(_off(1.0), has_width=False)
    some.has_width[0] = True
    assert verdict_on(some).reason == ""
