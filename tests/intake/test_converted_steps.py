"""Values that were measured in one unit and stored in another have the step of the first."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from pipeline.intake.converted_steps import converted_steps

_LITRES_PER_GALLON = 3.785411784


def _found(cells, written_in, unit, counts=None):
    """The steps of one group of different texts."""
    number = np.array([float(cell) for cell in cells])
    digits = np.array([10.0 ** -len(cell.partition(".")[2]) for cell in cells])
    return converted_steps(
        np.zeros(len(cells), dtype=np.int64),
        number,
        digits,
        np.ones(len(cells)) if counts is None else np.array(counts, dtype=float),
        is_different=np.abs(number) > 0,
        written_in=written_in,
        unit=unit,
    )


def _nearest(found, steps, digit):
    """Each step found as the first of some steps that it exceeds by no more than the digit that was written."""
    names = {step: step for step in steps}
    return [
        None if np.isnan(one) else next((n for n in names if n - 1e-6 <= one <= n + digit + 1e-6), round(float(one), 6))
        for one in found
    ]


def _steps(cells, written_in, unit, counts=None, *, of=(3.175,)):
    """The steps of one group of different texts, what was added for the second rounding left off."""
    return _nearest(_found(cells, written_in, unit, counts), of, 10.0 ** -max(len(c.partition(".")[2]) for c in cells))


_EIGHTHS_IN_MM = ["3.2", "6.4", "9.5", "12.7", "15.9", "19.1", "22.2"]
_TENTHS_OF_GALLONS_IN_L = ["0.38", "0.76", "1.14", "1.51", "1.89", "2.27", "2.65", "7.57"]


# 25.4 / 8 mm, 3.785411784 / 10 L, 4.54609 / 2 L and 5 / 9 degC, by hand
@pytest.mark.parametrize(
    ("cells", "written_in", "unit", "step"),
    [
        (_EIGHTHS_IN_MM, "millimetre", "mm", 3.175),
        (["3", "6", "10", "13", "16", "19", "22", "25", "29"], "millimetre", "mm", 3.175),
        (["0.32", "0.64", "0.95", "1.27", "1.59"], "centimetre", "mm", 0.3175),
        (["0.30", "0.61", "0.91", "1.22", "1.52"], "metre", "m", 0.3048),
        (_TENTHS_OF_GALLONS_IN_L, "litre", "L", 0.378541),
        (["2.27", "4.55", "6.82", "9.09", "11.37"], "litre", "L", 2.273045),
        (["20.6", "21.1", "21.7", "22.2", "22.8", "23.3"], "degree_Celsius", "degC", 0.555556),
    ],
)
def test_a_rounded_conversion_has_the_step_of_the_unit_it_was_measured_in(cells, written_in, unit, step):
    assert set(_steps(cells, written_in, unit, of=(step,))) == {step}


# 5 / 25.4 in, 0.5 / 3.785411784 US gal, 0.5 / 4.54609 imp gal and 1.8 degF, by hand
@pytest.mark.parametrize(
    ("cells", "written_in", "unit", "step"),
    [
        (["0.20", "0.39", "0.59", "0.79", "0.98", "1.18", "1.38"], "inch", "mm", 0.19685),
        (["0.13", "0.26", "0.40", "0.53", "0.66", "0.79"], "gallon", "L", 0.132086),
        (["0.11", "0.22", "0.33", "0.44", "0.55", "0.66", "0.77"], "imperial_gallon", "L", 0.109985),
        (["66.2", "68.0", "69.8", "71.6", "73.4", "75.2"], "degree_Fahrenheit", "degC", 1.8),
        # eighths of an inch as decimals of two places
        (["0.13", "0.25", "0.38", "0.50", "0.63", "0.88"], "inch", "mm", 0.125),
    ],
)
def test_metric_measures_stored_in_other_units_have_their_steps_too(cells, written_in, unit, step):
    assert set(_steps(cells, written_in, unit, of=(step,))) == {step}


@pytest.mark.parametrize("stored", [np.float64, np.float32])
def test_a_conversion_with_all_its_decimals_has_the_step_it_was_measured_to(stored):
    cells = [str(stored(n * _LITRES_PER_GALLON / 10)) for n in (7, 9, 11, 13, 17, 19)]
    assert set(_steps(cells, "litre", "L", of=(0.378541,))) == {0.378541}


def test_what_the_second_rounding_added_is_part_of_the_step():
    """1/8, 2/8, 3/8, 4/8 and 5/8 in are 3.175, 6.35, 9.525, 12.7 and 15.875 mm; whoever reads 4.76 mm as 2/8 writes 6.4."""
    found = _found(_EIGHTHS_IN_MM[:5], "millimetre", "mm")
    assert found == pytest.approx([3.225, 3.275, 3.225, 3.175, 3.225])
    assert 6.4 - found[1] / 2 == pytest.approx(6.35 - 3.175 / 2)


@given(st.integers(0, 2**32 - 1), st.sampled_from([4, 8, 16, 32]), st.integers(0, 3))
def test_no_true_value_lies_outside_the_step_found(seed, denominator, places):
    true = np.random.default_rng(seed).uniform(1, 80, 200)
    size = 25.4 / denominator
    cells = [f"{value:.{places}f}" for value in np.round(true / size) * size]
    distinct, where = np.unique(cells, return_inverse=True)
    found = _found(list(distinct), "millimetre", "mm", np.bincount(where))[where]
    # of whole millimetres most are sixteenths and all are thirty-seconds, so that those are never shown
    if denominator <= 8 or places:
        assert not np.isnan(found).any()
    assert (np.abs(true - np.array(cells, dtype=float)) <= found / 2 + 1e-9)[~np.isnan(found)].all()


def test_zero_and_both_signs_have_the_step_but_zero_is_no_proof_of_it():
    assert set(_steps([*_EIGHTHS_IN_MM, "0.0", "-3.2"], "millimetre", "mm")) == {3.175}
    assert set(_steps([*_EIGHTHS_IN_MM[:4], "0.0"], "millimetre", "mm")) == {None}


def test_fewer_than_five_different_values_are_left_alone():
    assert set(_steps(_EIGHTHS_IN_MM[:4], "millimetre", "mm", [500] * 4)) == {None}
    assert set(_steps(_EIGHTHS_IN_MM[:5], "millimetre", "mm")) == {3.175}


def test_multiples_that_are_likely_by_chance_prove_nothing():
    """Of whole millimetres 1 in 3.175 is an eighth: seven such are a chance of 1 in 3,250, eight of 1 in 10,300."""
    eighths = ["3", "6", "10", "13", "16", "19", "22", "29"]
    assert set(_steps(eighths[:7], "millimetre", "mm")) == {None}
    assert set(_steps(eighths, "millimetre", "mm")) == {3.175}


def test_a_value_between_the_steps_has_none():
    steps = _steps([*_EIGHTHS_IN_MM, "4.1"], "millimetre", "mm", [10] * 7 + [1])
    assert steps == [3.175] * 7 + [None]


def test_a_twentieth_of_the_cells_may_be_no_multiples_and_no_more():
    assert set(_steps([*_EIGHTHS_IN_MM, "4.1"], "millimetre", "mm", [10] * 7 + [4])) == {None}


def test_a_fifth_of_the_different_values_may_be_no_multiples_and_no_more():
    others = ["4.2", "7.5", "10.5"]
    assert set(_steps([*_EIGHTHS_IN_MM, *others[:1]], "millimetre", "mm", [100] * 7 + [1])) == {3.175, None}
    assert set(_steps([*_EIGHTHS_IN_MM, *others], "millimetre", "mm", [100] * 7 + [1] * 3)) == {None}


def test_a_few_eighths_among_quarters_are_eighths():
    """Quarters of an inch are 6.35 mm."""
    quarters = ["6.4", "12.7", "19.1", "25.4", "31.8", "38.1", "44.5"]
    assert _steps([*quarters, "3.2"], "millimetre", "mm", [10] * 7 + [1], of=(6.35, 3.175)) == [6.35] * 7 + [3.175]


def test_groups_are_judged_each_for_itself():
    native = ["1.1", "2.3", "4.0", "5.2", "7.9", "11.3", "14.6"]
    number = np.array([float(cell) for cell in [*_EIGHTHS_IN_MM, *native]])
    group = np.repeat(np.arange(2), 7)
    ones = np.ones(14)
    found = converted_steps(group, number, ones / 10, ones, is_different=ones > 0, written_in="millimetre", unit="mm")
    assert (np.abs(found[:7] - 3.225) <= 0.05 + 1e-9).all()
    assert np.isnan(found[7:]).all()


def test_a_count_has_no_other_unit():
    assert set(_steps(["1", "2", "3", "4", "5", "6"], "", "")) == {None}


@settings(max_examples=40, deadline=None)
@given(
    st.integers(0, 2**32 - 1),
    st.integers(30, 100),
    st.sampled_from(
        [(1.0, "{:.0f}", "millimetre", "mm"), (0.1, "{:.1f}", "litre", "L"), (0.01, "{:.2f}", "metre", "m")]
    ),
)
def test_values_of_the_unit_written_are_never_taken_for_another(seed, different, kind):
    """Random values, as they are rounded: a chance of 1 in 10,000 per step for what any rule could be misled by."""
    step, form, written_in, unit = kind
    rng = np.random.default_rng(seed)
    numbers = rng.choice(np.arange(1, 301), different, replace=False) * step
    counts = rng.integers(1, 20, different)
    assert set(_steps([form.format(number) for number in numbers], written_in, unit, counts)) == {None}
