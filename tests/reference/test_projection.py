"""Coordinates against the worked examples that the agencies print beside their formulae.

Sources, all from memory: Snyder, Map Projections - A Working Manual (USGS Professional Paper 1395), the UTM example;
Ordnance Survey, A guide to coordinate systems in Great Britain, the worked example; IOGP Guidance Note 7-2, the
examples of transverse Mercator, Lambert conic conformal and pseudo-Mercator; GDA technical manual, Flinders Peak and
Buninyong.
"""

from math import hypot

import numpy as np
import pytest
from pyproj import CRS

from pipeline.errors import InputError, SettingsError
from pipeline.intake.crs import run_crs, to_crs


def _dms(degrees, minutes=0, seconds=0.0):
    return degrees + minutes / 60 + seconds / 3600


def _plane(lon, lat, target):
    x, y = to_crs(np.array([lon]), np.array([lat]), target.geodetic_crs, target)
    return x[0], y[0]


LAMBERT_TEXAS = (
    "+proj=lcc +lat_1=28.3833333333333 +lat_2=30.2833333333333 +lat_0=27.8333333333333 +lon_0=-99 "
    "+x_0=609601.219202438 +y_0=0 +ellps=clrk66 +units=us-ft +type=crs"
)
# source: projection as printed, longitude and latitude, easting and northing, tolerance in the units of the projection
EXAMPLES = {
    "Snyder, UTM zone 18 on Clarke 1866 (from memory)": (
        "+proj=utm +zone=18 +ellps=clrk66 +type=crs", -73.5, 40.5, 627106.5, 4484124.4, 0.06,
    ),
    "OS guide, National Grid on Airy 1830 (from memory)": (
        "+proj=tmerc +lat_0=49 +lon_0=-2 +k=0.9996012717 +x_0=400000 +y_0=-100000 +ellps=airy +type=crs",
        _dms(1, 43, 4.5177), _dms(52, 39, 27.2531), 651409.903, 313177.270, 0.0006,
    ),
    # printed 577274.99 and 69740.50; exact formulae differ from the printed series by a centimetre
    "GN 7-2, transverse Mercator (from memory)": (
        "+proj=tmerc +lat_0=49 +lon_0=-2 +k=0.9996012717 +x_0=400000 +y_0=-100000 +ellps=airy +type=crs",
        0.5, 50.5, 577274.99, 69740.50, 0.02,
    ),
    "GN 7-2, Lambert conic in US survey feet (from memory)": (
        LAMBERT_TEXAS,
        -96, 28.5, 2963503.91, 254759.80, 0.006,
    ),
    "GN 7-2, pseudo-Mercator (from memory)": (
        "EPSG:3857", -_dms(100, 20), _dms(24, 22, 54.433), -11169055.58, 2800000.00, 0.02,
    ),
    "GDA manual, Flinders Peak in MGA94 zone 55 (from memory)": (
        "EPSG:28355", _dms(144, 25, 29.52442), -_dms(37, 57, 3.72030), 273741.297, 5796489.777, 0.0006,
    ),
}  # fmt: skip


@pytest.mark.parametrize("name", EXAMPLES)
def test_a_printed_example_comes_out_as_printed_and_converts_back(name):
    projection, lon, lat, easting, northing, within = EXAMPLES[name]
    crs = CRS.from_user_input(projection)
    assert _plane(lon, lat, crs) == pytest.approx((easting, northing), abs=within)
    back = to_crs(np.array([easting]), np.array([northing]), crs, crs.geodetic_crs)
    # 0.1 m, the coarsest figure printed, is about 1e-6 degrees
    assert (back[0][0], back[1][0]) == pytest.approx((lon, lat), abs=1e-6)


def test_the_scale_of_utm_is_as_printed():
    """Snyder prints k = 0.9997989 at 40.5 N 73.5 W (from memory); a distance of a few metres has that scale."""
    crs = CRS.from_user_input("+proj=utm +zone=18 +ellps=clrk66 +type=crs")
    # Clarke 1866: a = 6378206.4 m, e2 = 0.00676866; radius of the meridian at 40.5 N
    sin2 = np.sin(np.radians(40.5)) ** 2
    meridian_m = 6378206.4 * (1 - 0.00676866) / (1 - 0.00676866 * sin2) ** 1.5
    step = 0.001
    one, other = _plane(-73.5, 40.5 - step, crs), _plane(-73.5, 40.5 + step, crs)
    ground = meridian_m * np.radians(2 * step)
    assert hypot(other[0] - one[0], other[1] - one[1]) / ground == pytest.approx(0.9997989, abs=1e-7)


def test_a_length_in_web_mercator_is_longer_than_on_the_ground_and_one_in_utm_is_not():
    """A core of 450 mm is 587 mm wide at 40 N, 622 mm at 43.65 N, 723 mm at 51.5 N: the secant of the latitude."""
    for lat, drawn_mm in ((40, 587), (43.65, 622), (51.5, 723)):
        # on the equatorial radius 450 mm are this many degrees of longitude at that latitude
        degrees = np.degrees(0.450 / (6378137 * np.cos(np.radians(lat))))
        web = _plane(degrees, lat, CRS("EPSG:3857"))[0] - _plane(0.0, lat, CRS("EPSG:3857"))[0]
        assert web * 1000 == pytest.approx(drawn_mm, abs=1)
        utm = _plane(3 + degrees, lat, CRS("EPSG:32631"))[0] - _plane(3.0, lat, CRS("EPSG:32631"))[0]
        assert utm * 1000 == pytest.approx(450, abs=1)


@pytest.mark.parametrize("code", ["EPSG:3857", "EPSG:900913", "ESRI:102100"])
def test_web_mercator_is_refused_as_the_crs_of_a_run(code):
    with pytest.raises(SettingsError, match=r"programme\.crs: .* Web Mercator"):
        run_crs(code, 0.0, 50.0, "programme.crs")


@pytest.mark.parametrize(
    ("written", "why"),
    [
        ("EPSG:4326", "not a projected CRS"),
        ("ESRI:102649", "US survey foot"),
        ("EPSG:2264", "US survey foot"),
        ("EPSG:0", "expected a CRS such as"),
        # another Mercator projection: at 33.4 N a metre of it is 0.83 m on the ground
        ("+proj=webmerc +datum=WGS84 +type=crs", "Mercator|stretched"),
        ("+proj=merc +a=6378137 +b=6378137 +lon_0=0 +units=m +type=crs", "Mercator|stretched"),
        ("EPSG:3395", "Mercator|stretched"),
        # UTM zone 35 is for Helsinki; in Arizona it is far from true to scale
        ("EPSG:32635", "stretched"),
    ],
)
def test_a_crs_that_does_not_measure_metres_on_the_ground_is_refused(written, why):
    with pytest.raises(SettingsError, match=why):
        run_crs(written, -111.8, 33.4, "programme.crs")


@pytest.mark.parametrize(
    ("lon", "lat", "code"),
    [
        (-82.2, 44.8, 32617),
        (24.94, 60.17, 32635),
        (-0.1365, 51.51, 32630),
        (144.42, -37.95, 32755),
        (179.9, -17.0, 32760),
    ],
)
def test_the_utm_zone_follows_from_the_position(lon, lat, code):
    """Zones are 6 degrees wide from 180 W; EPSG codes start with 326 north of the equator and 327 south of it."""
    zone = int((lon + 180) // 6) + 1
    assert code == (32600 if lat > 0 else 32700) + zone
    assert run_crs("auto", lon, lat, "programme.crs").to_epsg() == code


def test_the_pole_lies_in_no_zone():
    with pytest.raises(InputError, match=r"Set programme\.crs to a projected CRS in metres"):
        run_crs("auto", 0.0, 89.0, "programme.crs")
