"""A register with both coordinates in one column: its CRS, its order, and what cannot be read."""

import pandas as pd
import pytest
from pyproj import CRS

from pipeline.errors import InputError
from pipeline.intake.one_cell_column import read_position_column
from pipeline.programme.settings import Cores

_DEGREES = CRS.from_epsg(4326)
_UTAH = (-112.0, 40.5, -111.5, 41.0)


def _read(*cells, roads=_UTAH, **settings):
    notices = []
    column = pd.Series(list(cells), dtype="str", name="GPS")
    section = Cores(path="cores.csv", position="GPS", **settings)
    crs, found = read_position_column(column, section, roads, _DEGREES, "cores.csv", "cores", notices)
    return crs, found, notices


def test_plain_degrees_need_no_crs_and_the_order_is_reported():
    crs, found, notices = _read("40.77, -111.90", "40.78; -111.91")
    assert crs == _DEGREES
    assert found.x.tolist() == [-111.9, -111.91]
    assert found.y.tolist() == [40.77, 40.78]
    told = "in 2 of 2 cells the second number cannot be a latitude"
    assert notices == [f'cores.csv: positions in the column "GPS" are read as latitude, longitude: {told}.']


def test_cells_that_say_their_order_need_no_notice():
    _, found, notices = _read("40.77N 111.90W", "POINT (-111.90 40.77)")
    assert found.x.tolist() == pytest.approx([-111.9, -111.9])
    assert notices == []


def test_what_cannot_be_read_is_told_from_what_is_missing():
    _, found, _ = _read("40.77; x", "n/a", "", "SU 1234 5678", "40.77, -111.90")
    assert found.problem.fillna("").tolist() == ["unreadable", "missing", "missing", "grid letters", ""]


def test_an_order_that_both_fit_is_refused_with_examples_and_both_readings():
    roads = (44.5, 44.5, 45.5, 45.5)
    with pytest.raises(InputError) as caught:
        _read("44.9, 45.1", "44.8, 45.2", "44.7, 45.3", "44.6, 45.4", roads=roads)
    assert str(caught.value) == (
        'cores.csv: the order of the coordinates in the column "GPS" is not known, because both orders give positions near '
        'the roads: "44.9, 45.1" is latitude 44.9, longitude 45.1 or longitude 44.9, latitude 45.1; '
        '"44.8, 45.2" is latitude 44.8, longitude 45.2 or longitude 44.8, latitude 45.2; '
        '"44.7, 45.3" is latitude 44.7, longitude 45.3 or longitude 44.7, latitude 45.3. '
        'Set cores.position_order = "lat lon" or "lon lat" in the programme file.'
    )
    _, found, notices = _read("44.9, 45.1", roads=roads, position_order="lon lat")
    assert (found.x[0], found.y[0], notices) == (44.9, 45.1, [])
    _, found, _ = _read("44.9, 45.1", roads=roads, position_order="y x")
    assert (found.x[0], found.y[0]) == (45.1, 44.9)


def test_lengths_need_a_crs():
    with pytest.raises(InputError, match=r'cells such as "424000\.5 / 4513000\.5" are not degrees\. Set cores\.crs'):
        _read("424000.5 / 4513000.5")
    crs, found, notices = _read("424000.5 / 4513000.5", crs="EPSG:32612")
    assert crs == CRS.from_epsg(32612)
    assert (found.x[0], found.y[0]) == (424000.5, 4513000.5)
    assert "are read as easting, northing: in this order the roads are near 1 of 1 position" in notices[0]


def test_the_code_in_the_cells_is_their_crs_and_no_other_is_mixed_in():
    crs, found, _ = _read("SRID=32612;POINT(424000.5 4513000.5)", "POINT(424001 4513001)")
    assert crs == CRS.from_epsg(32612)
    assert found.problem.isna().all()
    _, found, _ = _read("SRID=32612;POINT(424000.5 4513000.5)", "40.77, -111.9", crs="EPSG:4326")
    assert found.problem.fillna("").tolist() == ["unreadable", ""]
    with pytest.raises(InputError, match="no CRS has the code 'EPSG:999999'"):
        _read("SRID=999999;POINT(424000.5 4513000.5)")
    with pytest.raises(InputError, match=r"no CRS has the code 'EPSG:9+\.\.\.9+', which the column \"GPS\" gives"):
        _read(f"SRID={'9' * 5000};POINT(424000.5 4513000.5)")


@pytest.mark.parametrize("moon", ["IAU_2015:30100", "IAU_2015:30110"])
def test_a_crs_that_is_not_of_the_earth_is_refused_by_its_own_key(moon):
    with pytest.raises(InputError, match=rf"^cores\.csv: its CRS \('{moon}'\) cannot be .* Correct cores\.crs\.$"):
        _read("424000.5 / 4513000.5", crs=moon)


def test_digits_and_forms_are_those_of_the_cell():
    _, found, _ = _read("40,7700; -111,90", "40°46'12\"N 111°54'W")
    assert found.x_step.tolist() == pytest.approx([0.01, 1 / 60])
    assert found.y_step.tolist() == pytest.approx([0.0001, 1 / 3600])
    assert found.repair.tolist() == ["decimal comma", "dms"]
