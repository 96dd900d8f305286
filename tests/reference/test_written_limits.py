"""Limits and rounded values, against decimal arithmetic and the published ways to decide near a limit.

Sources. ASTM E29, Using Significant Digits in Test Data to Determine Conformance with Specifications: its scope and the
absolute method (any deviation outside a limit, however small, does not conform) were read in public extracts of the
editions of 2002 and 2013; its rule for rounding, half to the even digit, is from memory. ISO 14253-1:2017, decision
rules: a value is proven not to conform only if the whole range of its uncertainty is outside the limit, proven to
conform only if all of it is inside, and neither in between; read in a summary, the standard itself from memory.
"""

from decimal import ROUND_HALF_EVEN, Decimal

import numpy as np
import pandas as pd
import pytest

from pipeline.audit.figures import water_ratio, water_ratio_range
from pipeline.audit.written_ranges import WrittenRange, above, outside
from pipeline.programme.catalogue import load_catalogue

_GROUT = load_catalogue({}, "test").materials.grout
_FINE = Decimal("0.001")


def _true_values_written_so(written, step):
    """Every value to a thousandth that E29 rounds to what was written, by decimal arithmetic."""
    written, step = Decimal(written), Decimal(step)
    first = written - step
    values = [first + _FINE * n for n in range(int(2 * step / _FINE) + 1)]
    return [value for value in values if (value / step).quantize(Decimal(1), ROUND_HALF_EVEN) * step == written]


@pytest.mark.parametrize("step", ["1", "0.5", "0.25", "0.1"])
@pytest.mark.parametrize("limit", ["5", "4.75", "5.04"])
def test_the_three_zones_are_those_of_all_values_that_round_to_the_written_one(limit, step):
    for times in range(int(Decimal(3) / Decimal(step)), int(Decimal(7) / Decimal(step)) + 1):
        written = Decimal(step) * times
        outcomes = {value > Decimal(limit) for value in _true_values_written_so(written, step)}
        verdict = above(WrittenRange.of(pd.Series([float(written)]), pd.Series([float(step)])), float(limit))
        sure, possible = bool(verdict.sure[0]), bool(verdict.possible[0])
        # the end of the range that rounds to the even neighbour counts as written so, on the side of the core
        assert not sure or outcomes == {True}
        assert possible or outcomes == {False}
        if outcomes == {True, False}:
            assert (sure, possible) == (False, True)


def test_by_the_absolute_method_a_sure_breach_is_a_breach_of_the_written_figure_too():
    written = pd.Series(np.arange(-100, 100) / 10)
    for step in (1.0, 0.5, 0.1):
        verdict = outside(WrittenRange.of(written, pd.Series(step, written.index)), -5.0, 5.0)
        absolute = ~written.between(-5.0, 5.0)
        assert not (verdict.sure & ~absolute).any()
        assert not (absolute & ~verdict.possible).any()
        # by the absolute method alone, whoever writes 5.1 for 5.05 or less would be found, and 5.0 for 5.04 would not
        assert (verdict.possible & ~verdict.sure).any()


@pytest.mark.parametrize(("water_step", "bag_step"), [(0.0378541178, 0.5), (0.1, 0.1), (0.5, 0.5), (0.05, 0.25)])
def test_crews_that_mix_alike_are_not_told_apart_by_how_finely_they_write(water_step, bag_step):
    """All mix to within 4.9 % of the stated ratio, whose limit is 5 %. Compared as written, up to half are found."""
    rng = np.random.default_rng(13)
    bags = rng.uniform(0.6, 3, 4000)
    water = 2.0 * bags * rng.uniform(0.951, 1.049, 4000)
    cores = pd.DataFrame(
        {
            "bags_used": np.round(bags / bag_step) * bag_step,
            "water_l": np.round(water / water_step) * water_step,
            "bags_used_step": bag_step,
            "water_step_l": water_step,
        }
    )
    cores = cores[cores["bags_used"].gt(0)]
    naive = (water_ratio(cores["water_l"], cores["bags_used"], _GROUT) / 0.1 - 1).abs().gt(0.05 + 1e-9)
    ends = water_ratio_range(cores, _GROUT)
    found = outside(WrittenRange(ends["low"], ends["high"]), 0.095, 0.105).sure
    assert naive.mean() > 0.05
    assert not found.any()


def test_a_real_excess_of_water_is_still_found():
    """Half as much again: 3 L per bag of 20 kg, to 0.1 L and a tenth of a bag; at least 2.95 / 21 = 0.140 L/kg."""
    cores = pd.DataFrame({"bags_used": [1.0], "water_l": [3.0], "bags_used_step": 0.1, "water_step_l": 0.1})
    ends = water_ratio_range(cores, _GROUT)
    assert ends["low"].item() == pytest.approx(2.95 / 21)
    assert outside(WrittenRange(ends["low"], ends["high"]), 0.095, 0.105).sure.all()
