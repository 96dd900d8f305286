"""How likely a segment is a core's own, against closed forms on straight streets.

On a straight road far longer than the error, a core at distance d from its line has the likelihood
(Phi((h - d) / s) - Phi((-h - d) / s)) / (2 h), with h half the width of the road and s the error along one axis.
"""

import geopandas as gpd
import numpy as np
import pandas as pd
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.stats import norm

from pipeline.locate import posterior
from pipeline.locate.candidates import Pairs
from pipeline.locate.posterior import Evidence, name_likelihood, pair_likelihood, pieces_of, road_mass

_EVIDENCE = Evidence(name_right=0.9, names_near=5, underground=0.02)
_RIGHT, _WRONG = 0.9 + 0.1 / 5, 0.1 / 5


def _across(distance, half, sigma):
    return (norm.cdf((half - distance) / sigma) - norm.cdf((-half - distance) / sigma)) / (2 * half)


def _weigh(roads, street=None, sigma=2.0, half=3.0):
    """One core at the origin; per road its distance north (y), its street, whether it lies below ground."""
    segments = gpd.GeoDataFrame(
        {
            "street_form": pd.Series([name for _, name, _ in roads], dtype="str"),
            "is_underground": [below for _, _, below in roads],
            "half_width_m": half,
        },
        geometry=[shapely.LineString([(-900, y), (900, y)]) for y, _, _ in roads],
        crs=32617,
    )
    cores = pd.DataFrame(
        {"x_m": [0.0], "y_m": [0.0], "sigma_m": [sigma], "street_form": pd.Series([street], dtype="str")}
    )
    distance = np.array([abs(y) for y, _, _ in roads], dtype=float)
    pairs = Pairs(np.zeros(len(roads), dtype=int), np.arange(len(roads)), distance)
    weights = pair_likelihood(pairs, cores, segments, _EVIDENCE)
    return weights.likelihood, weights.match


def test_without_names_the_likelihood_is_the_mass_of_the_error_over_the_road():
    likelihood, match = _weigh([(1, None, False), (-7, None, False)])
    assert likelihood.tolist() == pytest.approx([_across(1, 3, 2), _across(7, 3, 2)], rel=1e-12)
    assert np.isnan(match).all()


def test_a_segment_below_ground_counts_by_the_stated_share():
    """Two roads at the same distance, one of them a tunnel: 0.02 to 1."""
    (tunnel, street), _ = _weigh([(4, None, True), (-4, None, False)])
    assert tunnel / street == pytest.approx(0.02, rel=1e-12)
    assert street == pytest.approx(_across(4, 3, 2), rel=1e-12)


def test_the_written_name_weighs_by_the_share_of_names_that_are_right():
    likelihood, match = _weigh([(4, "mill rd", False), (-4, "back ln", False)], street="mill rd")
    assert match.tolist() == [1, 0]
    assert likelihood[0] / likelihood[1] == pytest.approx(_RIGHT / _WRONG, rel=1e-12)


def test_a_segment_without_a_name_agrees_as_the_named_ones_beside_it_do():
    """A footway without a name; 3 m from the core the street that was written, 5 m from it another one.

    Its agreement is the mean of 1 and 0 with the weights exp(-9 / 8) and exp(-25 / 8), for an error of 2 m.
    """
    likelihood, match = _weigh([(1, None, False), (3, "mill rd", False), (-5, "back ln", False)], street="mill rd")
    near, far = np.exp(-9 / 8), np.exp(-25 / 8)
    agreement = near / (near + far)
    assert agreement == pytest.approx(1 / (1 + np.exp(-2)))
    assert np.isnan(match[0])
    assert likelihood[0] == pytest.approx(_across(1, 3, 2) * (0.9 * agreement + _WRONG), rel=1e-12)


def test_the_larger_the_error_the_less_it_matters_which_named_street_is_nearer():
    """With an error of 4 m the weights are exp(-9 / 32) and exp(-25 / 32): their ratio is exp(1 / 2), not exp(2)."""
    likelihood, _ = _weigh(
        [(1, None, False), (3, "mill rd", False), (-5, "back ln", False)], street="mill rd", sigma=4.0
    )
    agreement = 1 / (1 + np.exp(-0.5))
    assert likelihood[0] == pytest.approx(_across(1, 3, 4) * (0.9 * agreement + _WRONG), rel=1e-12)


def test_a_nameless_line_may_be_so_much_nearer_that_no_float_holds_its_weight():
    """60 m nearer, with an error of 0.2 m: exp(60^2 / 0.08) is beyond every float, and warnings are errors here."""
    likelihood, _ = _weigh([(1, None, False), (61, "mill rd", False)], street="mill rd", sigma=0.2)
    assert likelihood[0] == pytest.approx(_across(1, 3, 0.2) * _RIGHT, rel=1e-12)


def test_straight_beyond_an_end_the_mass_is_the_same_whichever_way_the_line_was_drawn():
    """Ten errors beyond the end: Phi(-10) = 7.6e-24 of the mass, which one less nearly one would lose."""
    line = np.array([shapely.LineString([(0, 0), (100, 0)])])
    for drawn in (line, shapely.reverse(line)):
        for x in (-10.0, 110.0):
            mass = road_mass(
                np.array([x]), np.zeros(1), np.ones(1), np.zeros(1, int), np.full(1, 3.0), pieces_of(drawn)
            )
            assert mass[0] == pytest.approx(norm.cdf(-10) * _across(0, 3, 1), rel=1e-9, abs=0)


def test_with_no_named_segment_near_the_written_name_changes_nothing():
    likelihood, _ = _weigh([(1, None, False), (4, None, False)], street="mill rd")
    assert likelihood.tolist() == pytest.approx([_across(1, 3, 2), _across(4, 3, 2)], rel=1e-12)


def test_beyond_its_error_a_core_is_weighed_by_the_normal_density_at_the_kerb():
    """Kerbs at 13 m and 13.006 m, an error of 0.3 m: no mass is left that a float can hold.

    The exponents are 13^2 / (2 * 0.09) and 13.006^2 / (2 * 0.09); their difference is 0.156036 / 0.18 = 0.866867.
    """
    likelihood, _ = _weigh([(16, None, False), (-16.006, None, False)], sigma=0.3)
    assert likelihood[0] == pytest.approx(1)
    assert likelihood[1] == pytest.approx(np.exp(-0.8668666667), rel=1e-6)


def test_beyond_its_error_the_width_of_the_road_still_counts():
    """Both lines are 16 m away; the kerb of the wider road is nearer, so it is certain."""
    segments = gpd.GeoDataFrame(
        {"street_form": pd.Series([None, None], dtype="str"), "is_underground": False, "half_width_m": [3.0, 5.0]},
        geometry=[shapely.LineString([(-900, y), (900, y)]) for y in (16, -16)],
        crs=32617,
    )
    cores = pd.DataFrame({"x_m": [0.0], "y_m": [0.0], "sigma_m": [0.1], "street_form": pd.Series([None], dtype="str")})
    pairs = Pairs(np.array([0, 0]), np.array([0, 1]), np.array([16.0, 16.0]))
    likelihood = pair_likelihood(pairs, cores, segments, _EVIDENCE).likelihood
    assert likelihood[1] == pytest.approx(1)
    assert likelihood[0] < 1e-100


def test_a_core_within_its_error_is_not_touched_by_one_beyond():
    segments = gpd.GeoDataFrame(
        {"street_form": pd.Series([None], dtype="str"), "is_underground": False, "half_width_m": 3.0},
        geometry=[shapely.LineString([(-900, 0), (900, 0)])],
        crs=32617,
    )
    cores = pd.DataFrame(
        {"x_m": [0.0, 0.0], "y_m": [1.0, 400.0], "sigma_m": 2.0, "street_form": pd.Series([None, None], dtype="str")}
    )
    pairs = Pairs(np.array([0, 1]), np.array([0, 0]), np.array([1.0, 400.0]))
    likelihood = pair_likelihood(pairs, cores, segments, _EVIDENCE).likelihood
    assert likelihood.tolist() == pytest.approx([_across(1, 3, 2), 1.0])


def test_a_name_is_right_or_one_of_the_names_nearby():
    # 0.9 of the agreement, and 0.1 spread over five names; no name to compare changes nothing
    found = name_likelihood(np.array([1.0, 0.0, 0.5, np.nan]), _EVIDENCE)
    assert found.tolist() == pytest.approx([0.92, 0.02, 0.47, 1.0])


def test_lines_come_apart_into_straight_pieces_without_those_of_no_length():
    """An L of 3 m and 4 m with one point written twice, and a diagonal of 5 m."""
    lines = np.array([shapely.LineString([(0, 0), (3, 0), (3, 0), (3, 4)]), shapely.LineString([(0, 0), (3, 4)])])
    pieces = pieces_of(lines)
    assert pieces.first.tolist() == [0, 2]
    assert pieces.number.tolist() == [2, 1]
    assert pieces.length.tolist() == [3, 4, 5]
    assert (pieces.along_x.tolist(), pieces.along_y.tolist()) == ([1, 0, 0.6], [0, 1, 0.8])
    assert (pieces.x.tolist(), pieces.y.tolist()) == ([0, 3, 0], [0, 0, 0])


def _mass(line, x, y, sigma, half):
    one = np.array([0])
    pieces = pieces_of(np.array([shapely.LineString(line)]))
    return road_mass(np.array([x]), np.array([y]), np.array([sigma]), one, np.array([half]), pieces)[0]


def test_at_the_end_of_a_road_half_the_error_lies_beyond_it():
    inside, end = (_mass([(0, 0), (900, 0)], x, 1.0, 2.0, 3.0) for x in (450.0, 0.0))
    assert inside == pytest.approx(_across(1, 3, 2), rel=1e-12)
    assert end == pytest.approx(inside / 2, rel=1e-12)


def test_a_short_road_holds_the_share_of_the_error_along_it():
    """4 m of road, the core 1 m from its start: Phi(3 / 2) - Phi(-1 / 2) of the error lies along it."""
    assert _mass([(0, 0), (4, 0)], 1.0, 0.0, 2.0, 3.0) == pytest.approx(
        _across(0, 3, 2) * (norm.cdf(1.5) - norm.cdf(-0.5)), rel=1e-12
    )


@settings(deadline=None, max_examples=40)
@given(
    cut=st.floats(1, 99), x=st.floats(-10, 110), y=st.floats(-15, 15), sigma=st.floats(0.5, 8), half=st.floats(1, 10)
)
def test_a_point_written_on_a_straight_line_changes_nothing(cut, x, y, sigma, half):
    plain = _mass([(0, 0), (100, 0)], x, y, sigma, half)
    assert _mass([(0, 0), (cut, 0), (100, 0)], x, y, sigma, half) == pytest.approx(plain, rel=1e-9, abs=1e-14)
    assert _mass([(100, 0), (0, 0)], x, y, sigma, half) == pytest.approx(plain, rel=1e-9, abs=1e-14)


@pytest.mark.parametrize("chunk", [1, 2, 3, 100])
def test_the_size_of_a_chunk_changes_nothing(monkeypatch, chunk):
    lines = np.array(
        [shapely.LineString([(0, 0), (10, 0), (20, 5)]), shapely.LineString([(0, 9), (5, 9), (10, 9), (20, 9)])]
    )
    pieces = pieces_of(lines)
    x, line = np.array([1.0, 5.0, 12.0, 19.0]), np.array([0, 1, 0, 1])
    arguments = (x, np.full(4, 4.0), np.full(4, 3.0), line, np.full(4, 2.5), pieces)
    at_once = road_mass(*arguments)
    monkeypatch.setattr(posterior, "_CHUNK", chunk)
    assert road_mass(*arguments).tolist() == at_once.tolist()
    assert (at_once > 0).all()


def test_no_pairs_have_no_mass():
    nothing = np.array([], dtype=float)
    pieces = pieces_of(np.array([shapely.LineString([(0, 0), (1, 0)])]))
    assert road_mass(nothing, nothing, nothing, nothing.astype(int), nothing, pieces).tolist() == []


def test_far_off_a_road_its_two_sides_are_alike_to_the_last_digits():
    """40 m away with an error of 2 m: Phi(-18.5) - Phi(-21.5). Of two numbers near 1 nothing would be left of it."""
    left, right = (_mass([(-900, 0), (900, 0)], 0.0, y, 2.0, 3.0) for y in (40.0, -40.0))
    assert left == pytest.approx((norm.cdf(-18.5) - norm.cdf(-21.5)) / 6, rel=1e-12, abs=0)
    assert right == left


def test_a_chunk_ends_where_the_pieces_so_far_reach_a_multiple_of_its_size(monkeypatch):
    """Lines of 9, 1, 1 and 2 pieces are 9, 10, 11 and 13 so far: 5 is reached by the first, 10 by the second."""
    lines = np.array([shapely.LineString([(x, y) for x in range(count + 1)]) for y, count in enumerate((9, 1, 1, 2))])
    x, y, told = np.full(4, 0.5), np.arange(4) + 0.5, []
    arguments = (x, y, np.full(4, 3.0), np.arange(4), np.full(4, 2.5), pieces_of(lines))
    at_once = road_mass(*arguments)
    monkeypatch.setattr(posterior, "_CHUNK", 5)
    assert road_mass(*arguments, told.append).tolist() == at_once.tolist()
    assert told == [1, 2, 4]
