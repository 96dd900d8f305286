"""Positions written in feet and in national grids, against control points that agencies publish.

Sources: IOGP Guidance Note 7-2, the worked example of Lambert conic conformal (2SP), NAD27 / Texas South Central in US
survey feet; Ordnance Survey, A guide to coordinate systems in Great Britain, annex C; both from memory, and found again
with these figures in the tests of several independent projection libraries. swisstopo, Formulas and constants for the
calculation of the Swiss conformal cylindrical projection: the origin in Bern; the definitions of Irish Grid and Irish
Transverse Mercator: the true origin; of Gauss-Krueger: the zone's digit in the false easting; these from memory.
"""

import numpy as np
import pandas as pd
import pytest
from pyproj import CRS

from pipeline.intake.crs import to_crs
from pipeline.intake.files.tables import RawTable
from pipeline.intake.register_positions import read_positions
from pipeline.programme.settings import Cores


def _dms(degrees, minutes=0, seconds=0.0):
    return degrees + minutes / 60 + seconds / 3600


# the CRS, the cell, and longitude and latitude on its own datum
_POINTS = {
    "Texas South Central, US survey feet": ("EPSG:32040", "2963503.91 / 254759.80", -96.0, 28.5),
    "British National Grid": ("EPSG:27700", "E 651409.903 N 313177.270", _dms(1, 43, 4.5177), _dms(52, 39, 27.2531)),
    "Swiss grid of 1995": ("EPSG:2056", "2'600'000.0 / 1'200'000.0", _dms(7, 26, 22.50), _dms(46, 57, 8.66)),
    "Swiss grid of 1903": ("EPSG:21781", "600 000 / 200 000", _dms(7, 26, 22.50), _dms(46, 57, 8.66)),
    "Irish Grid": ("EPSG:29902", "200000.0, 250000.0", -8.0, 53.5),
    "Irish Transverse Mercator": ("EPSG:2157", "POINT (600000.0 750000.0)", -8.0, 53.5),
    "Gauss-Krueger, zone 3": ("EPSG:31467", "R 3500000,0 H 0,0", 9.0, 0.0),
}


def _read(cell, crs, roads, in_two):
    """Read one position with roads within 0.01 degrees of it."""
    first, second = cell.split(in_two) if in_two else (cell, "")
    frame = pd.DataFrame({"a": [first], "b": [second]}, dtype="str")
    table = RawTable(frame, np.array([1]), 1, "cores.csv")
    columns = {"x": "a", "y": "b"} if in_two else {"position": "a"}
    lon, lat = roads
    extent = (lon - 0.01, lat - 0.01, lon + 0.01, lat + 0.01)
    return read_positions(
        table, Cores(path="cores.csv", crs=crs, **columns), extent, CRS.from_user_input(crs).geodetic_crs
    )


@pytest.mark.parametrize("name", _POINTS)
def test_a_control_point_in_one_cell_lies_where_the_agency_says(name):
    crs, cell, lon, lat = _POINTS[name]
    own = CRS.from_user_input(crs)
    found = _read(cell, crs, (lon, lat), None)
    assert found.columns["position_problem"].isna().all()
    assert found.columns["position_repair"].isna().all()
    x, y = found.columns["x"].to_numpy(), found.columns["y"].to_numpy()
    # 1e-7 degrees are a centimetre
    across, up = to_crs(x, y, own, own.geodetic_crs)
    assert (across[0], up[0]) == pytest.approx((lon, lat), abs=1.5e-7)
    on_wgs84 = to_crs(np.array([lon]), np.array([lat]), own.geodetic_crs, CRS.from_epsg(4326))
    assert (found.columns["lon"][0], found.columns["lat"][0]) == pytest.approx(
        [axis[0] for axis in on_wgs84], abs=1.5e-7
    )


def test_the_same_control_point_in_two_columns_is_the_same_position():
    for name, mark in (
        ("Texas South Central, US survey feet", " / "),
        ("Irish Grid", ", "),
        ("Swiss grid of 1995", " / "),
    ):
        crs, cell, lon, lat = _POINTS[name]
        one, two = (_read(cell, crs, (lon, lat), in_two).columns for in_two in (None, mark))
        assert one["lon"].tolist() == two["lon"].tolist()
        assert one["lat"].tolist() == two["lat"].tolist()
        assert one["position_step_m"].tolist() == two["position_step_m"].tolist()
