"""The digits of a position: the step that they were rounded to, and the error that it adds."""

import numpy as np
import pandas as pd
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from pyproj import CRS, Geod

from pipeline.intake.cells.coordinates import read_column
from pipeline.intake.cells.position_digits import ground_rounding, written_steps

_DEGREES = CRS.from_epsg(4326)
_METRES = CRS.from_epsg(32617)


def _steps(x, y, *, is_number=None, is_degrees=True):
    """Steps of columns of texts."""
    axes = [read_column(pd.Series(list(column), dtype="str"), None, is_degrees=is_degrees) for column in (x, y)]
    numbers = None if is_number is None else np.full(len(x), is_number)
    return [axis.tolist() for axis in written_steps(*axes, numbers)]


def _drawn(count, places, *, keeps_zeros):
    """Texts of numbers drawn uniformly, with their zeros at the end or without."""
    drawn = np.random.default_rng(12).uniform(-112, -111, count)
    texts = [f"{value:.{places}f}" for value in drawn]
    return texts if keeps_zeros else [text.rstrip("0") for text in texts]


def _column(axis_texts, rounded):
    return [*axis_texts, *rounded]


def test_a_step_is_that_of_the_last_digit():
    steps = _steps(["-111.9", "-111.90", "-111.9012345"], ["40.7", "40.70", "40.7012340"])
    assert steps == [pytest.approx([0.1, 0.01, 1e-7]), pytest.approx([0.1, 0.01, 1e-7])]


def test_ever_more_decimal_places_take_no_longer():
    """The lengths are weighed in pairs: 100,000 places would take minutes."""
    long = "0." + "1" * 100_000
    assert _steps(["-111.9", long], ["40.7", long]) == [pytest.approx([0.1, 0.0]), pytest.approx([0.1, 0.0])]


def test_two_longitudes_with_three_decimals_among_three_thousand_are_rounded():
    x = _column(_drawn(3000, 7, keeps_zeros=True), ["-111.901", "-111.542"])
    y = _drawn(3002, 7, keeps_zeros=True)
    for columns in ((x, y), ([text.rstrip("0") for text in x], [text.rstrip("0") for text in y])):
        x_step, y_step = _steps(*columns)
        assert x_step[-2:] == pytest.approx([0.001, 0.001])
        assert y_step[-2:] == pytest.approx([1e-7, 1e-7])


@pytest.mark.parametrize("places", [5, 6, 7])
def test_where_zeros_are_kept_every_number_counts_as_written(places):
    x = _column(_drawn(3000, places, keeps_zeros=True), ["-111.9012345"[: 5 + places - 1]])
    x_step, _ = _steps(x, x)
    assert x_step[:-1] == pytest.approx([10.0**-places] * 3000)
    assert x_step[-1] == pytest.approx(10.0 ** -(places - 1))


@pytest.mark.parametrize("places", [5, 6, 7])
def test_of_numbers_that_lost_their_zeros_one_in_a_thousand_counts_as_rounded(places):
    count = 30_000
    x_step, _ = _steps(_drawn(count, places, keeps_zeros=False), _drawn(count, places, keeps_zeros=False)[::-1])
    short = np.sum(np.array(x_step) > 10.0**-places * 1.5)
    # 30 of 30,000 end in three zeros; five standard deviations of a Poisson count are 27
    assert 3 <= short <= 57


def test_a_workbook_shows_no_zeros_whatever_the_cells_end_in():
    x = [*_drawn(300, 6, keeps_zeros=False), "-111.9"]
    y = _drawn(301, 6, keeps_zeros=False)
    x_step, _ = _steps(x, y, is_number=True)
    one_fewer = [place for place, text in enumerate(x) if len(text) == len("-111.90123")]
    assert one_fewer
    assert [x_step[place] for place in one_fewer] == pytest.approx([1e-6] * len(one_fewer))
    assert x_step[-1] == pytest.approx(0.1)


def test_more_short_numbers_than_lost_zeros_explain_are_rounded_ones():
    # of 300 numbers with six decimals, 3 may have lost two zeros, but not 100
    x = [*_drawn(300, 6, keeps_zeros=False), *["-111.9013"] * 100]
    y = _drawn(400, 6, keeps_zeros=False)
    assert _steps(x, y)[0][-1] == pytest.approx(1e-4)


def test_two_coordinates_that_are_both_two_digits_shorter_are_rounded():
    x, y = (_drawn(300, 6, keeps_zeros=False) for _ in range(2))
    x_step, y_step = _steps([*x, "-111.9013", "-111.9013"], [*y, "40.7012", "40.701234"])
    assert (x_step[-2], y_step[-2]) == pytest.approx((1e-4, 1e-4))
    assert x_step[-1] == pytest.approx(1e-6)


@pytest.mark.parametrize(
    ("x", "y", "step"),
    [("512300", "4512300", 100), ("512300", "4512310", 1), ("513000", "4512000", 1000), ("512310", "4512320", 1)],
)
def test_whole_metres_are_rounded_to_hundreds_only_where_both_end_in_zeros(x, y, step):
    assert _steps([x, "512341"], [y, "4512342"], is_degrees=False) == [[step, 1], [step, 1]]


def test_a_column_put_together_from_two_sources_has_two_usual_lengths():
    # both drop zeros at the end, so one value in ten of each is a digit shorter; 40 values really have two decimals
    rounded = [f"-111.{number:02d}" for number in range(11, 100) if number % 10][:40]
    texts = [
        text.rstrip("0") for text in [*_drawn(3000, 8, keeps_zeros=True), *_drawn(2000, 5, keeps_zeros=True), *rounded]
    ]
    x_step, _ = _steps(texts, texts)
    fives = pd.Series(x_step[3000:5000])
    assert fives.sub(1e-5).abs().lt(1e-9).mean() > 0.98
    assert x_step[5000:] == pytest.approx([0.01] * 40)


def test_a_step_of_degrees_on_the_ground_agrees_with_the_ellipsoid():
    # a second method: the geodesic over one step, to within the flattening of the Earth
    geod = Geod(ellps="WGS84")
    for lat in (0.0, 40.77, 60.0):
        found = ground_rounding(np.array([0.001]), np.array([1e-7]), np.array([lat]), _DEGREES)
        _, _, across = geod.inv(-111.9, lat, -111.899, lat)
        assert found.step_m[0] == pytest.approx(across, rel=0.004)
    assert ground_rounding(np.array([0.001]), np.array([1e-7]), np.array([40.77]), _DEGREES).step_m[0] == pytest.approx(
        84.2, abs=0.1
    )


def test_a_step_of_feet_is_measured_in_metres():
    us_survey, international = CRS.from_epsg(2225), CRS.from_epsg(2222)
    for crs, foot in ((us_survey, 1200 / 3937), (international, 0.3048)):
        found = ground_rounding(np.array([10.0]), np.array([1.0]), np.array([40.0]), crs)
        assert found.step_m[0] == pytest.approx(10 * foot, rel=1e-12)


def test_the_error_of_rounding_is_that_of_numbers_really_rounded():
    rng = np.random.default_rng(3)
    true = rng.uniform(0, 1e6, (200_000, 2))
    steps = np.array([100.0, 10.0])
    error = np.round(true / steps) * steps - true
    found = ground_rounding(np.array([100.0]), np.array([10.0]), np.array([45.0]), _METRES)
    # the mean of both variances, by simulation; the formula has (100^2 + 10^2) / 24
    assert found.sigma_m[0] ** 2 == pytest.approx(error.var(axis=0).mean(), rel=0.01)
    assert found.sigma_m[0] ** 2 == pytest.approx(10_100 / 24)


def test_nothing_written_and_nothing_placed_leave_the_step_open():
    nan = np.array([np.nan])
    assert np.isnan(ground_rounding(nan, nan, np.array([45.0]), _METRES)).all()
    assert np.isnan(ground_rounding(np.array([1.0]), np.array([1.0]), nan, _METRES)).all()


@settings(max_examples=15)
@given(st.permutations(range(12)))
def test_the_order_of_the_rows_changes_no_step(order):
    x = [*_drawn(8, 6, keeps_zeros=False), "-111.9", "-111", "-111.90", "W 111 54"]
    y = _drawn(12, 6, keeps_zeros=False)
    plain, moved = _steps(x, y), _steps([x[row] for row in order], [y[row] for row in order])
    assert moved == [[axis[row] for row in order] for axis in plain]
