"""Segment, surface and district together, with their confidence, on streets small enough to draw."""

import geopandas as gpd
import numpy as np
import pandas as pd
import pytest
import shapely
from hypothesis import Phase, given, settings
from hypothesis import strategies as st
from scipy.stats import norm

from pipeline.locate import locate
from pipeline.programme.catalogue import load_catalogue
from pipeline.programme.settings import Matching
from pipeline.specify import specify

_CATALOGUE = load_catalogue({}, "test")
_AVENUE, _LANE = 10.0, 2.5


def _cores(*rows):
    """Rows of x, y, accuracy (95 %), street, surface."""
    x, y, accuracy, street, surface = zip(*rows)
    return pd.DataFrame(
        {
            "x_m": np.array(x, dtype=float),
            "y_m": np.array(y, dtype=float),
            "position_accuracy_m": np.array(accuracy, dtype=float),
            "position_method": pd.Series([None] * len(rows), dtype="str"),
            "register": "cores.csv",
            "accuracy_by_register_m": np.full(len(rows), np.nan),
            "rounding_sigma_m": np.full(len(rows), np.nan),
            "opened_on": pd.Series(pd.NaT, range(len(rows)), dtype="datetime64[us, UTC]"),
            "street": pd.Series(street, dtype="str"),
            "surface_recorded": pd.Series(surface, dtype="str"),
        }
    )


def _streets():
    """A wide avenue on y = 0, a narrow lane on y = 15 behind it."""
    return gpd.GeoDataFrame(
        {
            "segment_id": pd.Series(["A", "L"], dtype="str"),
            "street": pd.Series(["Harbour Avenue", "Back Lane"], dtype="str"),
            "surface": pd.Series(["asphalt", "concrete"], dtype="str"),
            "half_width_m": [_AVENUE, _LANE],
            "is_underground": [False, False],
            "start_m": 0.0,
            "class_name": "other",
            "road_authority": pd.Series([None, None], dtype="str"),
            "slope_percent": float("nan"),
        },
        geometry=[shapely.LineString([(0, 0), (400, 0), (1000, 0)]), shapely.LineString([(0, 15), (1000, 15)])],
        crs=32617,
    )


def _locate(cores, surfaces=None, districts=None, segments=None, **matching):
    return locate(
        cores, _streets() if segments is None else segments, surfaces, districts, Matching(**matching), _CATALOGUE
    ).frame


def _across(distance, half, sigma):
    """Likelihood across a road, by hand: the mass between its kerbs for each metre of width."""
    return (norm.cdf((half - distance) / sigma) - norm.cdf((-half - distance) / sigma)) / (2 * half)


def test_two_parallel_streets_by_hand():
    # 9 m from the avenue, still on it; 6 m from the lane, 3.5 m beyond its kerb; sigma 2 m
    found = _locate(_cores((500, 9, 2 * 2.447746830680816, None, None)))
    avenue, lane = _across(9, _AVENUE, 2), _across(6, _LANE, 2)
    assert found["segment_id"][0] == "A"
    assert found["segment_confidence"][0] == pytest.approx(avenue / (avenue + lane), abs=1e-9)
    assert found["runner_up_confidence"][0] == pytest.approx(lane / (avenue + lane), abs=1e-9)
    assert (found["runner_up_id"][0], found["runner_up_street"][0]) == ("L", "Back Lane")
    # the nearest line is the lane's
    assert _locate(_cores((500, 9, 1, None, None)), choose="nearest")["segment_id"][0] == "L"


def test_the_street_that_was_written_weighs_as_its_share_of_right_names():
    sigma = 2.447746830680816 * 2
    avenue, lane = _across(9, _AVENUE, 2), _across(6, _LANE, 2)
    found = _locate(
        _cores(
            (500, 9, sigma, "back lane", None), (500, 9, sigma, "Harbor Ave.", None), (500, 9, sigma, "Elsewhere", None)
        )
    )
    # right in 90 % of cases, else one of five names thereabouts: 0.92 against 0.02
    right, wrong = 0.9 + 0.1 / 5, 0.1 / 5
    assert found["segment_id"].tolist() == ["L", "A", "A"]
    assert found["segment_confidence"][0] == pytest.approx(lane * right / (lane * right + avenue * wrong), abs=1e-9)
    assert found["segment_confidence"][1] > 0.98
    # a name that is neither's tells nothing of the two
    assert found["segment_confidence"][2] == pytest.approx(avenue / (avenue + lane), abs=1e-9)
    assert found["name_match"].tolist() == pytest.approx([1, found["name_match"][1], 0])


def test_a_footway_without_a_name_goes_by_the_street_it_runs_beside():
    """The lane loses its name: "Harbour Avenue" then tells nothing of the two, and "Back Lane" no more."""
    segments = _streets().assign(street=pd.Series(["Harbour Avenue", None], dtype="str"))
    sigma = 2.447746830680816 * 2
    avenue, lane = _across(9, _AVENUE, 2), _across(6, _LANE, 2)
    found = _locate(
        _cores(*[(500, 9, sigma, street, None) for street in (None, "Harbour Ave", "Back Lane")]), segments=segments
    )
    assert found["segment_confidence"].tolist() == pytest.approx([avenue / (avenue + lane)] * 3, abs=1e-9)
    # what is said of a name is said of the segment's own
    assert found["name_match"].isna().tolist() == [True, False, False]


def test_a_segment_below_ground_is_not_believed():
    segments = _streets().assign(is_underground=[True, False])
    assert _locate(_cores((500, 9, 5, None, None)), segments=segments)["segment_id"][0] == "L"


def test_a_core_beyond_a_segments_end_is_on_the_next_one():
    """Two halves of one street meet at x = 400: the error along it decides, half and half at the joint."""
    segments = _streets().iloc[[0, 0]].reset_index(drop=True)
    segments["segment_id"] = pd.Series(["E", "W"], dtype="str")
    segments["geometry"] = [shapely.LineString([(400, 0), (800, 0)]), shapely.LineString([(0, 0), (400, 0)])]
    sigma = 2.447746830680816 * 2
    found = _locate(_cores((400, 1, sigma, None, None), (403, 1, sigma, None, None)), segments=segments)
    assert found["segment_confidence"].tolist() == pytest.approx([0.5, norm.cdf(1.5)], abs=1e-9)
    assert found["segment_id"].tolist() == ["E", "E"]


def test_a_core_too_far_for_its_error_is_on_the_road_that_is_least_far():
    found = _locate(_cores((500, 11.9, 0.05, None, None), (500, 12.1, 0.05, None, None)))
    assert found["segment_id"].tolist() == ["L", "L"]
    assert found["segment_confidence"].tolist() == pytest.approx([1, 1])


def test_accuracy_is_the_cores_own_else_its_methods_else_the_programmes():
    cores = _cores((500, 9, 4, None, None), (500, 9, np.nan, None, None), (500, 9, np.nan, None, None))
    cores["position_method"] = pd.Series([None, "Phone", "chalk"], dtype="str")
    found = _locate(cores, accuracy="2 m", accuracy_by_method={"phone": "12 m"})
    alone = [_locate(_cores((500, 9, accuracy, None, None)))["segment_confidence"][0] for accuracy in (4, 12, 2)]
    assert found["segment_confidence"].tolist() == pytest.approx(alone)


def test_accuracy_of_the_register_comes_after_the_methods_and_before_the_programmes():
    cores = _cores((500, 9, 4, None, None), (500, 9, np.nan, None, None), (500, 9, np.nan, None, None))
    cores = cores.assign(
        position_method=pd.Series([None, "Phone", "chalk"], dtype="str"), accuracy_by_register_m=[3.0, 3.0, 3.0]
    )
    found = _locate(cores, accuracy="2 m", accuracy_by_method={"phone": "12 m"})
    alone = [_locate(_cores((500, 9, accuracy, None, None)))["segment_confidence"][0] for accuracy in (4, 12, 3)]
    assert found["segment_confidence"].tolist() == pytest.approx(alone)


@pytest.mark.parametrize("accuracy", [1.0, np.nan])
def test_the_rounding_of_a_position_adds_to_its_accuracy_whatever_that_comes_from(accuracy):
    # 3 m and 4 m along one axis make 5 m
    rounded = _cores((500, 9, accuracy * 3 * 2.447746830680816, None, None)).assign(rounding_sigma_m=4.0)
    found = _locate(rounded, accuracy=f"{3 * 2.447746830680816} m")
    plain = _locate(_cores((500, 9, 5 * 2.447746830680816, None, None)), max_distance="25 m")
    assert found["segment_confidence"][0] == pytest.approx(plain["segment_confidence"][0], abs=1e-9)


def test_a_position_with_few_digits_is_matched_to_no_street_with_certainty():
    # 20 m from the avenue, which is out of reach, and 5 m from the lane
    cores = _cores((500, 20, 1, None, None), (500, 20, 1, None, None)).assign(rounding_sigma_m=[0.0, 85 / np.sqrt(24)])
    found = _locate(cores)
    assert found["segment_id"][0] == "L"
    assert found["segment_confidence"][0] == 1
    sigma = np.hypot(1 / 2.447746830680816, 85 / np.sqrt(24))
    lane, avenue = _across(5, _LANE, sigma), _across(20, _AVENUE, sigma)
    assert found["segment_confidence"][1] == pytest.approx(max(lane, avenue) / (lane + avenue), abs=1e-6)


def _surfaces(*rows):
    return gpd.GeoDataFrame(
        {"surface": pd.Series([name for name, _ in rows], dtype="str")},
        geometry=[shapely.box(*box) for _, box in rows],
        crs=32617,
    )


def test_a_core_near_an_edge_says_both_surfaces_and_how_near():
    layer = _surfaces(("asphalt", (0, -50, 500, 50)), ("concrete", (500, -50, 1000, 50)))
    found = _locate(_cores((501, 0, 2 * 2.447746830680816, None, None), (700, 0, 5, None, None)), surfaces=layer)
    assert found["surface"].tolist() == ["concrete", "concrete"]
    assert found["surface_confidence"].tolist() == pytest.approx([norm.cdf(0.5), 1], abs=1e-4)
    assert found["surface_next"].fillna("").tolist() == ["asphalt", ""]
    assert found["surface_edge_m"][0] == pytest.approx(1)
    assert np.isnan(found["surface_edge_m"][1])
    assert found["shade_pale_chance"].tolist() == pytest.approx([norm.cdf(0.5), 1], abs=1e-4)
    assert found["shade_dark_chance"].tolist() == pytest.approx([norm.cdf(-0.5), 0], abs=1e-4)


def test_what_lies_outside_every_polygon_is_the_segments():
    """The polygon ends at x = 500; beyond it the avenue's own surface, asphalt, serves."""
    layer = _surfaces(("concrete", (0, -50, 500, 50)))
    found = _locate(_cores((499, 0, 2 * 2.447746830680816, None, None), (800, 0, 2, None, None)), surfaces=layer)
    assert found["surface"].tolist() == ["concrete", "asphalt"]
    assert found["surface_from"].tolist() == ["polygon", "segment"]
    assert found["surface_confidence"].tolist() == pytest.approx([norm.cdf(0.5), 1], abs=1e-4)


def test_without_polygons_the_surface_is_as_sure_as_the_segment():
    found = _locate(_cores((500, 9, 5, None, None)))
    assert found["surface"][0] == "asphalt"
    assert found["surface_confidence"][0] == pytest.approx(found["segment_confidence"][0])
    assert found["surface_next"][0] == "concrete"


def test_a_surface_that_nothing_tells_stays_unknown_or_the_registers():
    segments = _streets().assign(surface=pd.Series([None, None], dtype="str"))
    found = _locate(
        _cores((500, 0, 1, None, None), (500, 0, 1, None, "asph"), (np.nan, np.nan, 1, None, None)), segments=segments
    )
    assert found["surface"].tolist() == ["unknown", "asphalt", "unknown"]
    assert found["surface_from"].tolist() == ["none", "register", "none"]
    assert found["surface_confidence"].isna().tolist() == [True, False, True]
    assert found["segment_confidence"].isna().tolist() == [False, False, True]


def test_a_district_is_as_sure_as_the_mass_inside_it():
    districts = gpd.GeoDataFrame(
        {"district": pd.Series(["East", "West"], dtype="str")},
        geometry=[shapely.box(500, -99, 999, 99), shapely.box(0, -99, 500, 99)],
        crs=32617,
    )
    found = _locate(_cores((501, 0, 2 * 2.447746830680816, None, None), (700, 0, 5, None, None)), districts=districts)
    assert found["district"].tolist() == ["East", "East"]
    assert found["district_confidence"].tolist() == pytest.approx([norm.cdf(0.5), 1], abs=1e-4)
    assert found["district_next"].fillna("").tolist() == ["West", ""]


# no distance in metres is as small as the least of floats, which overflow where cores are put in order
_PLACE, _ASIDE = st.floats(0, 1000, allow_subnormal=False), st.floats(-20, 30, allow_subnormal=False)


@settings(deadline=None, max_examples=30, phases=[Phase.explicit, Phase.reuse, Phase.generate])
@given(
    points=st.lists(st.tuples(_PLACE, _ASIDE, st.floats(0.1, 12)), min_size=1, max_size=15),
    seed=st.integers(0, 10_000),
)
def test_shares_add_up_and_the_order_of_cores_changes_nothing(points, seed):
    cores = _cores(*[(x, y, accuracy, "Back Ln" if x > 500 else None, None) for x, y, accuracy in points])
    layer = _surfaces(("asphalt", (0, -8, 500, 8)), ("concrete", (500, -8, 1000, 18)))
    plain = _locate(cores, surfaces=layer)
    order = np.random.default_rng(seed).permutation(len(cores))
    pd.testing.assert_frame_equal(plain, _locate(cores.iloc[order], surfaces=layer).loc[cores.index])
    # only two segments are within reach of anything, so the two shares are all there is
    on_road = plain[plain["segment_id"].notna()]
    both = on_road["segment_confidence"] + on_road["runner_up_confidence"].fillna(0)
    assert both.sub(1).abs().le(1e-9).all()
    chances = plain[["shade_dark_chance", "shade_pale_chance"]].sum(axis="columns")
    assert (chances <= 1 + 1e-9).all()


def test_of_surfaces_equally_likely_the_chosen_segments_serves():
    """Half way between the lane and a lane of another surface: the first segment by id, and its surface with it."""
    segments = _streets().assign(half_width_m=2.5)
    segments["surface"] = pd.Series(["concrete", "asphalt"], dtype="str")
    found = _locate(_cores((500, 7.5, 5, None, None)), segments=segments)
    assert found["segment_confidence"][0] == pytest.approx(0.5)
    assert (found["segment_id"][0], found["surface"][0]) == ("A", "concrete")


@pytest.mark.parametrize("choose", ["likeliest", "nearest"])
def test_a_slab_that_the_register_calls_reinforced_is_so_where_the_map_only_has_concrete(choose):
    written = ["CRCP", "jrcp", "reinforced concrete", "jpcp", None]
    located = _locate(_cores(*((500, 15, 0.5, "Back Lane", surface) for surface in written)), choose=choose)
    assert located["surface"].tolist() == ["reinforced concrete"] * 3 + ["concrete"] * 2
    assert located["surface_from"].tolist() == ["register"] * 3 + ["segment"] * 2
    specified = specify(located, _CATALOGUE)
    assert specified["shade"].fillna("").tolist() == ["", "", "", "pale", "pale"]
