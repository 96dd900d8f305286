"""Where crews start: yards from degrees into the run's CRS, and the places of all crews as a table."""

from types import SimpleNamespace

import pytest
from pyproj import CRS

from pipeline.plan import _in_crs, _starts


def test_a_yard_on_the_middle_of_its_zone_and_the_equator_lies_at_500_km_and_0():
    """Zone 17 runs along 81 degrees west; UTM counts 500 km there, and nothing on the equator."""
    yards = _in_crs({"Quay": (-81.0, 0.0), "Mill": (-81.0, 45.0)}, CRS(32617))
    assert yards["Quay"] == pytest.approx((500_000, 0), abs=1e-3)
    # the meridian from the equator to 45 degrees is 4,984,944.378 m long on this ellipsoid, times 0.9996
    assert yards["Mill"] == pytest.approx((500_000, 4_984_944.378 * 0.9996), abs=0.01)


def test_the_starts_of_crews_are_a_row_each():
    teams = [SimpleNamespace(start=(1.0, 2.0)), SimpleNamespace(start=(3.0, 4.0)), SimpleNamespace(start=(5.0, 6.0))]
    assert _starts(teams).tolist() == [[1, 2], [3, 4], [5, 6]]
    assert _starts([]).shape == (0, 2)
