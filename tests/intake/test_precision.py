"""How precisely values were written: by register and crew, in the unit written, and never finer than can be told."""

import numpy as np
import pandas as pd
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from pipeline.contracts import REGISTER_COLUMNS
from pipeline.intake.cells.measures import read_measures
from pipeline.intake.precision import written_precision

_COLUMNS = {column.name: column for column in REGISTER_COLUMNS}


def _steps(name, cells, *, crews=None, registers=None, bare=None):
    """The steps of one column of one file, rounded for comparison."""
    column = _COLUMNS[name]
    text = pd.Series(cells, dtype="str")
    written = read_measures(text, column.unit, bare or column.unit or None, ".").written
    register = pd.Series(registers or ["north"] * len(text))
    crew = pd.Series(crews or [None] * len(text), dtype="str")
    found = written_precision([{name: written}], register, crew, [len(text)])[column.step_name]
    return [None if np.isnan(step) else round(float(step), 6) for step in found]


def _shown(numbers):
    """Numbers as a workbook hands them on: without the zeros at their ends."""
    return [f"{number:.10g}" for number in numbers]


def test_a_few_values_have_the_steps_of_their_digits():
    assert _steps("flush_mm", ["5", "5.0", "-2.5", None, "ok"]) == [1.0, 0.1, 0.1, None, None]


def test_steps_are_converted_with_their_values():
    assert _steps("water_l", ["2.11", "8 L"], bare="us gal") == [round(0.01 * 3.785411784, 6), 1.0]
    # a degree Fahrenheit is five ninths of a degree Celsius, wherever zero lies
    assert _steps("air_temperature_c", ["70"], bare="degF") == [round(5 / 9, 6)]
    assert _steps("depth_mm", ['8 1/2"']) == [12.7]


def test_a_stored_conversion_is_as_precise_as_it_was_written():
    assert _steps("water_l", ["7.570823568", "11.356235352"]) == [0.0, 0.0]


@pytest.mark.parametrize(
    ("name", "times", "first", "size", "places"),
    [
        ("flush_mm", range(1, 9), 0.0, 25.4 / 8, 1),
        ("depth_mm", range(25, 60), 0.0, 25.4 / 8, 0),
        ("water_l", range(3, 30), 0.0, 3.785411784 / 10, 2),
        ("water_l", range(3, 30), 0.0, 3.785411784 / 10, 12),
        ("air_temperature_c", range(41, 90), -160 / 9, 5 / 9, 1),
        ("cover_m", range(24, 60), 0.0, 0.0254, 3),
    ],
)
def test_a_column_stored_in_another_unit_has_the_step_it_was_measured_to(name, times, first, size, places):
    """Eighths of an inch, tenths of a US gallon, degrees Fahrenheit and inches, zeros kept by text or dropped."""
    cells = [f"{first + n * size:.{places}f}" for n in times]
    # a step is larger by what the rounding to the places stored has added
    as_rounded = pytest.approx(np.full(len(cells), size), abs=10.0**-places + 1e-6)
    assert _steps(name, cells) == as_rounded
    assert min(_steps(name, cells)) >= round(size, 6)
    assert _steps(name, _shown(float(cell) for cell in cells)) == as_rounded


def test_degrees_stored_with_all_decimals_have_their_step_and_whole_ones_that_of_their_digits():
    """41, 50 and 59 degF are 5, 10 and 15 degC: those whole numbers claim no more than a degree."""
    cells = [f"{(n - 32) / 1.8:.15g}" for n in range(41, 60)]
    steps = _steps("air_temperature_c", cells)
    assert steps[::9] == [1.0] * 3
    assert set(steps) == {1.0, 0.555556}


def test_whole_numbers_among_conversions_that_also_show_a_native_step_are_no_finer_than_the_others():
    """Thirty-seconds of an inch, 0.8, 1.6 and so on to 6.4 mm, are fifths of a millimetre too; 5/32 in are 4 mm."""
    cells = _shown(round(n * 25.4 / 32, 1) for n in range(1, 9)) * 20
    assert min(_steps("flush_mm", cells)) >= 0.79375


def test_a_few_stored_conversions_have_the_steps_of_their_digits():
    assert set(_steps("flush_mm", ["3.2", "6.4", "9.5", "12.7"] * 50)) == {0.1}


def test_barrels_of_whole_inches_are_as_they_were_written():
    assert set(_steps("diameter_mm", ["102", "127", "152", "178", "203", "229", "254"] * 9)) == {1.0}


def test_a_native_step_that_is_coarser_stays():
    """5 degC are 9 degF, and 25.4 mm are an inch: whoever writes 10, 15 and 20 degC has read no Fahrenheit."""
    assert set(_steps("air_temperature_c", [f"{5 * n}.0" for n in range(-2, 9)])) == {5.0}


@settings(max_examples=25, deadline=None)
@given(st.integers(0, 2**32 - 1), st.integers(30, 90), st.sampled_from(["flush_mm", "depth_mm", "bedding_mm"]))
def test_lengths_written_to_the_millimetre_keep_their_millimetre(seed, different, name):
    rng = np.random.default_rng(seed)
    numbers = rng.choice(np.arange(1, 301), different, replace=False)
    cells = np.repeat(numbers, rng.integers(1, 6, different)).astype(str)
    assert set(_steps(name, cells)) == {1.0}


def test_a_workbook_that_drops_zeros_does_not_make_its_round_values_coarse():
    """0.01 to 2.00 by hundredths: of 200 values 20 end in one zero and 2 in two."""
    assert set(_steps("cover_m", _shown(n / 100 for n in range(1, 201)))) == {0.01}


def test_written_zeros_show_that_a_shorter_value_was_written_short():
    cells = [f"{n / 100:.2f}" for n in range(1, 100)]
    assert _steps("cover_m", [*cells, "1.5"])[-1] == 0.1


def test_two_crews_of_one_workbook_have_their_own_steps():
    tenths, hundredths = _shown(n / 10 for n in range(1, 61)), _shown(n / 100 for n in range(101, 161))
    steps = _steps("cover_m", [*tenths, *hundredths], crews=["Tom"] * 60 + ["Ann"] * 60)
    assert set(steps[:60]) == {0.1}
    assert set(steps[60:]) == {0.01}


def test_halves_on_a_gauge_are_no_tenths_and_no_hundredths():
    """Written 2.00, 2.50 and so on: eight different values would all be halves by chance in one of 50 to the 8th."""
    assert set(_steps("water_l", [f"{n / 2:.2f}" for n in range(1, 9)] * 3)) == {0.5}
    assert set(_steps("air_temperature_c", [str(5 * n) for n in range(1, 7)] * 3)) == {5.0}


def test_a_few_different_values_are_no_proof_of_a_coarser_step():
    """Four thicknesses of pavement may be those of its design, however often they occur."""
    assert set(_steps("depth_mm", ["150", "200", "250", "300"] * 50)) == {1.0}
    # seven even numbers are even by chance in one case of 128, six in one of 64
    assert set(_steps("flush_mm", [str(2 * n) for n in range(1, 7)] * 9)) == {1.0}
    assert set(_steps("flush_mm", [str(2 * n) for n in range(1, 8)] * 9)) == {2.0}


def test_the_sign_and_repeats_make_no_different_amounts():
    assert set(_steps("flush_mm", [str(2 * n) for n in range(-4, 5)] * 9)) == {1.0}


def test_barrels_come_in_sizes_so_diameters_are_as_they_were_written():
    assert set(_steps("diameter_mm", [str(50 * n) for n in range(3, 19)] * 5)) == {1.0}


@pytest.mark.parametrize(
    ("cells", "step"),
    [(["0.5", "1", "1.5"], 0.5), (["0.25", "0.5", "1"], 0.25), (["1", "2"], 1.0), (["1.0", "2.0"], 1.0)],
)
def test_bags_are_portions_however_few_are_recorded(cells, step):
    assert set(_steps("bags_used", cells)) == {step}


def test_bags_in_tenths_are_tenths():
    assert set(_steps("bags_used", ["0.4", "0.8", "0.5", "1.2"])) == {0.1}


def test_a_value_between_the_steps_keeps_its_own_digits():
    """A hundred depths to the nearest 25 mm and one of 83: that one was read to the millimetre."""
    steps = _steps("depth_mm", [*[str(25 * n) for n in range(4, 24)] * 5, "83"])
    assert set(steps[:-1]) == {25.0}
    assert steps[-1] == 1.0


def test_one_finer_value_does_not_make_the_others_finer():
    steps = _steps("depth_mm", [*[str(n) for n in range(100, 200)], "200.5"])
    assert set(steps[:-1]) == {1.0}


def test_a_crew_with_few_records_is_judged_by_its_register():
    many = [f"{n / 4:.2f}" for n in range(1, 41)]
    steps = _steps("water_l", [*many, "2.25", "3.50"], crews=["Tom"] * 40 + ["Ann"] * 2)
    assert set(steps) == {0.25}


def test_a_crew_that_writes_whole_litres_stays_coarse_beside_one_that_writes_quarters():
    many = [f"{n / 4:.2f}" for n in range(1, 41)] * 5
    steps = _steps("water_l", [*many, *["2", "3"] * 20], crews=["Tom"] * 200 + ["Ann"] * 40)
    assert set(steps[200:]) == {1.0}


def test_registers_and_files_do_not_mix():
    halves = [f"{n / 2:.1f}" for n in range(1, 21)]
    tenths = [f"{n / 10:.1f}" for n in range(1, 21)]
    assert _steps("water_l", [*halves, *tenths], registers=["a"] * 20 + ["b"] * 20)[::39] == [0.5, 0.1]
    # two files of one register, the second of which lacks the column, are judged together
    read = [read_measures(pd.Series(cells, dtype="str"), "L", "L", ".").written for cells in (halves[:4], halves[4:])]
    names, crew = pd.Series(["a"] * 25), pd.Series([None] * 25, dtype="str")
    found = written_precision([{"water_l": read[0]}, {}, {"water_l": read[1]}], names, crew, [4, 5, 16])
    steps = found["water_step_l"]
    assert steps.iloc[4:9].isna().all()
    assert set(steps.dropna()) == {0.5}


@settings(max_examples=25, deadline=None)
@given(
    st.sampled_from([1.0, 0.5, 0.25, 0.2, 0.1, 0.05, 0.02, 0.01]),
    st.booleans(),
    st.lists(st.floats(0.5, 30), min_size=60, max_size=90),
)
def test_no_value_of_a_full_column_is_taken_for_finer_than_it_was_written(step, keeps_zeros, true):
    """The law that no breach is made up rests on: the step found is that of whoever wrote, or a coarser one."""
    rounded = np.round(np.array(true) / step) * step
    cells = [f"{number:.2f}" for number in rounded] if keeps_zeros else _shown(rounded)
    different = len({cell for cell in cells if float(cell)})
    # too few different values leave the digits; see the test of a few different values
    if different >= 10:
        assert min(_steps("water_l", cells)) >= step - 1e-9
