"""The shares of a core's segments, against closed forms on long straight streets."""

import geopandas as gpd
import numpy as np
import pandas as pd
import pytest
import shapely
from scipy.stats import norm

from pipeline.locate.posterior import Evidence
from pipeline.locate.segments import find_segments

_EVIDENCE = Evidence(name_right=0.9, names_near=5, underground=0.02)


def _across(distance, sigma, half=3.0):
    """The share of a normal error across a long straight road; the factor 1 / (2 half) is common to all roads here."""
    return norm.cdf((half - distance) / sigma) - norm.cdf((-half - distance) / sigma)


def _shares(lines, sigma, street=None, **columns):
    """The share of each of some long streets, named by the kind of street and how far north of the core it runs."""
    names = pd.Series([*lines], dtype="str")
    drawn = [shapely.LineString([(-500, y), (500, y)]) for y in lines.values()]
    segments = gpd.GeoDataFrame({"segment_id": names, "street": names, "start_m": 0.0}, geometry=drawn, crs=32617)
    segments = segments.assign(half_width_m=3.0, is_underground=False).assign(**columns)
    segments["street_form"] = segments["street"].str.lower().mask(segments["street"].str.startswith("Path"))
    cores = pd.DataFrame(
        {"x_m": [0.0], "y_m": [0.0], "sigma_m": [sigma], "street_form": pd.Series([street], dtype="str")}
    )
    found = find_segments(cores, segments, 25, _EVIDENCE)
    return found.shares.set_index("segment")["share"].loc[range(len(lines))].tolist()


def test_a_tunnel_as_near_as_a_street_has_the_stated_share_of_its_weight():
    """Both 4 m away, 0.02 to 1: the tunnel has 0.02 / 1.02 = 1 / 51, the street 50 / 51."""
    assert _shares({"Tube": 4, "Mill": -4}, 2.0, is_underground=[True, False]) == pytest.approx([1 / 51, 50 / 51])


@pytest.mark.parametrize(("sigma", "difference"), [(0.30, 0.156036 / 0.18), (0.36, 0.156036 / 0.2592)])
def test_beyond_its_error_two_streets_share_a_core_by_the_normal_density_at_their_kerbs(sigma, difference):
    """Kerbs at 13 m and 13.006 m: 13.006^2 - 13^2 = 0.156036, divided by 2 sigma^2. No mass is left that counts."""
    share = 1 / (1 + np.exp(-difference))
    assert _shares({"Mill": 16, "Back": -16.006}, sigma) == pytest.approx([share, 1 - share], rel=1e-6)


@pytest.mark.parametrize(("sigma", "exponent"), [(2.0, 2.0), (4.0, 0.5)])
def test_a_path_without_a_name_shares_a_core_by_the_names_of_the_streets_beside_it(sigma, exponent):
    """The path is 1 m away, Mill, which was written, 3 m, Back 5 m.

    Of the path's agreement, Mill and Back weigh exp(-9 / (2 sigma^2)) to exp(-25 / (2 sigma^2)): the exponents differ by
    16 / (2 sigma^2), which is 2 for an error of 2 m and 0.5 for one of 4 m. Right is 0.9 of that, and 0.1 / 5 is wrong.
    """
    agreement = 1 / (1 + np.exp(-exponent))
    weights = np.array(
        [_across(1, sigma) * (0.9 * agreement + 0.02), _across(3, sigma) * 0.92, _across(5, sigma) * 0.02]
    )
    assert _shares({"Path": 1, "Mill": 3, "Back": -5}, sigma, "mill") == pytest.approx(
        (weights / weights.sum()).tolist()
    )
