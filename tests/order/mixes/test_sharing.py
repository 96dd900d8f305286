"""Sharing: who takes grout from the same mixes, worked by hand, and the laws that any answer keeps."""

from itertools import combinations

import numpy as np
import pandas as pd
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.spatial.distance import pdist

from pipeline.errors import SettingsError
from pipeline.order.mixes.sharing import SHARING_COLUMNS, share_mixes


def _cores(*rows, **columns):
    """Rows of need in bags, x, y; all dark, of one crew and day, in one district, if not said otherwise."""
    frame = pd.DataFrame(rows, columns=["bags", "x_m", "y_m"]).astype(float)
    frame = frame.assign(shade="dark", visit="crew 1, 2026-09-30", district="Quay")
    return frame.assign(**{name: pd.Series(values, dtype="str") for name, values in columns.items()})


def _bags(sharing):
    return sharing.groups[["alone", "shared", "bound"]].sum().tolist()


def test_two_halves_within_reach_take_one_bag():
    sharing = share_mixes(_cores((0.5, 0, 0), (0.5, 30, 0)), 50)
    assert _bags(sharing) == [2, 1, 1]
    assert sharing.mix.tolist() == [1, 1]
    assert sharing.bags_mixed_share.tolist() == [0.5, 0.5]


def test_cores_exactly_at_the_reach_share_and_a_hair_beyond_they_do_not():
    assert _bags(share_mixes(_cores((0.5, 0, 0), (0.5, 30, 40)), 50)) == [2, 1, 1]
    assert _bags(share_mixes(_cores((0.5, 0, 0), (0.5, 30, 40.001)), 50)) == [2, 2, 2]


def test_whoever_shares_is_within_reach_of_all_the_others_and_not_of_the_next_alone():
    # three tenths at 0, 40 and 80 m: the outer two are 80 m apart, so two stops
    sharing = share_mixes(_cores((0.1, 0, 0), (0.1, 40, 0), (0.1, 80, 0)), 50)
    assert _bags(sharing) == [3, 2, 2]
    assert sharing.groups["stops"].tolist() == [2]
    assert sharing.groups["is_fewest"].tolist() == [True]


def test_the_greedy_pair_is_not_taken_where_another_saves_more():
    # in a row, 40 m apart, reach 50 m: 0.6 + 0.4 is a whole bag, but leaves 0.5 alone and 0.5 alone; in pairs from
    # the left 0.5 + 0.4 and 0.6 + 0.5 take 1 + 2, 0.4 + 0.6 takes 1 + 1 + 1; three is the fewest
    sharing = share_mixes(_cores((0.5, 0, 0), (0.4, 40, 0), (0.6, 80, 0), (0.5, 120, 0)), 50)
    assert _bags(sharing) == [4, 3, 3]
    # with 0.4 at the end two pairs take 0.9 and 1.0: two bags, though 0.4 + 0.6 in the middle was the best fit
    assert _bags(share_mixes(_cores((0.5, 0, 0), (0.4, 40, 0), (0.6, 80, 0), (0.4, 120, 0)), 50)) == [4, 2, 2]


def test_a_need_of_more_than_a_bag_shares_what_goes_beyond_full_bags():
    # 1.3 + 0.7: two bags; alone 2 + 1
    sharing = share_mixes(_cores((1.3, 0, 0), (0.7, 10, 0)), 50)
    assert _bags(sharing) == [3, 2, 2]
    assert sharing.bags_mixed_share.tolist() == pytest.approx([1.3, 0.7])


def test_a_core_between_two_mixes_is_topped_up_from_the_next():
    # 0.6 + 0.6 + 0.6 = 1.8
    assert _bags(share_mixes(_cores((0.6, 0, 0), (0.6, 10, 0), (0.6, 20, 0)), 50)) == [3, 2, 2]


def test_cores_that_save_nothing_together_stay_by_themselves():
    sharing = share_mixes(_cores((0.9, 0, 0), (0.9, 10, 0)), 50)
    assert _bags(sharing) == [2, 2, 2]
    assert sharing.mix.tolist() == [1, 2]


def test_neither_shades_nor_visits_nor_districts_without_a_visit_are_mixed():
    halves = [(0.5, 0, 0)] * 2
    assert _bags(share_mixes(_cores(*halves, shade=["dark", "pale"]), 50)) == [2, 2, 2]
    assert _bags(share_mixes(_cores(*halves, visit=["crew 1", "crew 2"]), 50)) == [2, 2, 2]
    assert _bags(share_mixes(_cores(*halves, visit=["crew 1", None]), 50)) == [2, 2, 2]
    assert _bags(share_mixes(_cores(*halves, visit=[None, None], district=["Quay", "Mill"]), 50)) == [2, 2, 2]
    assert _bags(share_mixes(_cores(*halves, visit=[None, None], district=[None, None]), 50)) == [2, 1, 1]
    # a visit may cross a boundary
    assert _bags(share_mixes(_cores(*halves, district=["Quay", "Mill"]), 50)) == [2, 1, 1]


def test_a_core_without_a_place_is_served_alone():
    assert _bags(share_mixes(_cores((0.5, np.nan, np.nan), (0.5, 0, 0), (0.5, np.nan, np.nan)), 50)) == [3, 3, 3]


def test_half_bags_halve_what_is_left_over():
    # 0.3 alone takes half a bag; 0.3 + 0.3 = 0.6 takes one; 0.2 + 0.3 is a half
    cores = _cores((0.3, 0, 0), (0.3, 500, 0), (0.2, 510, 0))
    assert _bags(share_mixes(cores, 50, 0.5)) == [1.5, 1.0, 1.0]


def test_sums_that_come_out_whole_are_whole():
    tenths = [(0.1, place, 0) for place in range(10)]
    assert _bags(share_mixes(_cores(*tenths), 50)) == [10, 1, 1]
    thirds = [(1 / 3, place, 0) for place in range(6)]
    assert _bags(share_mixes(_cores(*thirds), 50)) == [6, 2, 2]


def test_a_row_without_a_need_is_left_out_and_nothing_at_all_is_no_error():
    sharing = share_mixes(_cores((np.nan, 0, 0), (0.0, 0, 0), (0.5, 0, 0)), 50)
    assert sharing.mix.isna().tolist() == [True, True, False]
    assert sharing.groups["cores"].tolist() == [1]
    empty = share_mixes(_cores((np.nan, 0, 0)), 50)
    assert list(empty.groups.columns) == list(SHARING_COLUMNS)
    assert (len(empty.groups), empty.mix.isna().tolist()) == (0, [True])


@pytest.mark.parametrize(("reach_m", "part"), [(-1, 1), (np.inf, 1), (np.nan, 1), (50, 0), (50, 2), (50, 0.3)])
def test_a_reach_or_a_part_that_is_none_is_refused(reach_m, part):
    with pytest.raises(SettingsError, match="expected"):
        share_mixes(_cores((0.5, 0, 0)), reach_m, part)


def test_thousands_at_one_place_take_the_rounded_sum():
    cores = _cores(*[(0.37, 5, 5)] * 5000)
    for reach_m in (0, 50):
        alone, shared, bound = _bags(share_mixes(cores, reach_m))
        assert (alone, shared, bound) == (5000, 1850, 1850)


def _random(count, seed, side_m):
    rng = np.random.default_rng(seed)
    return _cores(
        *zip(rng.uniform(0.05, 1.6, count), rng.uniform(0, side_m, count), rng.uniform(0, side_m, count)),
        shade=rng.choice(["dark", "pale"], count),
        visit=rng.choice(["crew 1", "crew 2", None], count),
    )


def _check_laws(cores, sharing, reach_m, part):
    groups = sharing.groups
    assert (groups["needed"] <= groups["bound"] + 1e-6).all()
    assert (groups["bound"] <= groups["shared"]).all()
    assert (groups["shared"] <= groups["alone"]).all()
    assert (groups["is_fewest"] == groups["bound"].eq(groups["shared"])).all()
    assert groups["cores"].sum() == len(cores)
    # to the gram, of 20 kg bags
    assert groups["needed"].sum() * 20 == pytest.approx(cores["bags"].sum() * 20, abs=1e-3)
    assert sharing.bags_mixed_share.sum() == pytest.approx(groups["shared"].sum())
    assert sharing.mix.nunique() == groups["stops"].sum()
    for _, stop in cores.assign(share=sharing.bags_mixed_share).groupby(sharing.mix):
        assert len(stop[["shade", "visit"]].drop_duplicates()) == 1
        for (_, one), (_, other) in combinations(stop.iterrows(), 2):
            assert np.hypot(one["x_m"] - other["x_m"], one["y_m"] - other["y_m"]) <= reach_m + 1e-9
        whole = np.ceil(round(stop["bags"].sum() / part, 6)) * part
        assert stop["share"].sum() == pytest.approx(whole)


@settings(max_examples=30, deadline=None)
@given(
    count=st.integers(1, 60),
    seed=st.integers(0, 10_000),
    side_m=st.sampled_from([1.0, 100.0, 300.0, 1000.0]),
    part=st.sampled_from([1.0, 0.5]),
)
def test_bound_shared_and_alone_stand_in_order_and_nobody_is_out_of_reach(count, seed, side_m, part):
    cores = _random(count, seed, side_m)
    _check_laws(cores, share_mixes(cores, 60, part), 60, part)


def test_the_laws_hold_where_parts_are_large_and_where_places_are_dense():
    for side_m in (30.0, 200.0, 900.0):
        cores = _random(600, 1, side_m)
        _check_laws(cores, share_mixes(cores, 60), 60, 1.0)


@pytest.mark.parametrize(("along_m", "across_m"), [(300, 300), (70, 20), (59, 10), (62, 5), (600, 30)])
def test_nobody_in_a_dense_place_is_served_from_out_of_reach(along_m, across_m):
    count, reach_m = 2000, 60
    rng = np.random.default_rng(1)
    cores = _cores(*zip(rng.uniform(0.05, 1.6, count), rng.uniform(0, along_m, count), rng.uniform(0, across_m, count)))
    sharing = share_mixes(cores, reach_m)
    for _, stop in cores.groupby(sharing.mix):
        if len(stop) > 1:
            assert pdist(stop[["x_m", "y_m"]]).max() <= reach_m + 1e-9
    group = sharing.groups.iloc[0]
    # so dense that next to nothing is left over
    assert np.ceil(cores["bags"].sum()) <= group["bound"] <= group["shared"] <= 1.01 * cores["bags"].sum() + 1


@settings(max_examples=20, deadline=None)
@given(count=st.integers(2, 80), seed=st.integers(0, 10_000), side_m=st.sampled_from([50.0, 300.0, 1000.0]))
def test_the_order_of_the_rows_changes_nothing(count, seed, side_m):
    cores = _random(count, seed, side_m)
    # some stand at the same place and need the same
    cores.loc[: count // 3, ["x_m", "y_m", "bags"]] = cores.loc[0, ["x_m", "y_m", "bags"]].to_list()
    mixed = cores.sample(frac=1, random_state=seed)
    forward, other = share_mixes(cores, 60), share_mixes(mixed, 60)
    pd.testing.assert_series_equal(forward.mix, other.mix.sort_index())
    pd.testing.assert_series_equal(forward.bags_mixed_share, other.bags_mixed_share.sort_index(), check_exact=True)
    pd.testing.assert_frame_equal(forward.groups, other.groups, check_exact=True)


@settings(max_examples=20, deadline=None)
@given(count=st.integers(1, 40), seed=st.integers(0, 10_000))
def test_a_longer_reach_takes_no_more_bags_where_both_are_the_fewest(count, seed):
    cores = _random(count, seed, 300.0)
    near, far = (share_mixes(cores, reach_m).groups for reach_m in (40, 80))
    both = near["is_fewest"] & far["is_fewest"]
    assert (far["shared"][both] <= near["shared"][both]).all()
    assert (far["bound"][both] <= near["bound"][both]).all()
