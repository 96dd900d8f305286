"""Chances of shades, known sizes, and what the unknown ones are drawn from."""

import numpy as np
import pandas as pd
import pytest

from pipeline.order.safety_stock.shades_and_sizes import chances_of, sizes_of
from pipeline.programme.catalogue import load_catalogue

_MATERIALS = load_catalogue({}, "test").materials


def _shades(*shades, **chances):
    frame = pd.DataFrame({"shade": pd.Series(shades, dtype="str")})
    return chances_of(frame.assign(**{f"shade_{name}_chance": column for name, column in chances.items()}))


def test_columns_are_the_shades_in_alphabetical_order():
    assert _shades("pale", "dark").columns.tolist() == ["dark", "pale"]
    assert _shades("pale", amber=[0.5]).columns.tolist() == ["amber", "pale"]


def test_a_shade_without_chances_is_certain():
    assert _shades("pale", None).to_numpy().tolist() == [[1], [0]]


def test_chances_of_more_than_one_by_rounding_are_scaled_and_fewer_stay():
    found = _shades("dark", "dark", dark=[0.7, 0.4], pale=[0.4, 0.1])
    assert found.iloc[0].tolist() == pytest.approx([0.7 / 1.1, 0.4 / 1.1])
    assert found.iloc[1].tolist() == [0.4, 0.1]


def test_a_row_of_zeros_falls_back_to_its_shade():
    assert _shades("dark", dark=[0.0], pale=[0.0]).to_numpy().tolist() == [[1, 0]]


@pytest.mark.parametrize("name", ["shade_used", "shade_chance", "segment_dark_chance", 7])
def test_other_columns_are_no_chances(name):
    frame = pd.DataFrame({"shade": pd.Series(["dark"], dtype="str"), name: [0.5]})
    assert chances_of(frame).columns.tolist() == ["dark"]


def _cores(*rows):
    frame = pd.DataFrame(rows, columns=["district", "hole_mm", "depth_mm"])
    return frame.assign(bedding="pea gravel", district=frame["district"].astype("str"))


def _history(count, district, depth_mm):
    return _cores(*[(district, 450.0, depth_mm)] * count)


def test_known_sizes_are_taken_as_they_are():
    sizes = sizes_of(_cores(("East", 450.0, 200.0)), _history(1, "East", 300.0), _MATERIALS, "hole")
    assert (sizes.wide_mm.tolist(), sizes.deep_mm.tolist()) == ([450], [200])
    assert sizes.bed_mm.tolist() == pytest.approx([0.4 * 25])
    assert sizes.account.empty


def test_where_the_core_was_measured_its_own_diameter_is_used():
    # hole_mm is the core's and two stated kerfs of 9 mm
    sizes = sizes_of(_cores(("East", 468.0, 200.0)), _history(1, "East", 300.0), _MATERIALS, "core")
    assert sizes.wide_mm.tolist() == [450]
    assert sizes.pools["East"][0].tolist() == [432]


@pytest.mark.parametrize(("known", "source", "pool"), [(20, "district", 20), (19, "programme", 49)])
def test_a_district_needs_twenty_known_sizes_of_its_own(known, source, pool):
    history = pd.concat([_history(known, "East", 100.0), _history(30, "West", 300.0)], ignore_index=True)
    sizes = sizes_of(_cores(("East", np.nan, np.nan)), history, _MATERIALS, "hole")
    assert sizes.account.to_numpy().tolist() == [["East", 1, pool, source]]
    assert len(sizes.pools["East"][0]) == pool


def test_a_core_without_a_district_draws_from_the_programme():
    sizes = sizes_of(_cores((None, np.nan, 200.0)), _history(30, "West", 300.0), _MATERIALS, "hole")
    assert sizes.account["drawn_from"].tolist() == ["programme"]
    assert sizes.is_able.tolist() == [True]


def test_without_any_known_size_only_known_cores_can_be_simulated():
    cores = _cores(("East", np.nan, np.nan), ("East", 450.0, 200.0))
    sizes = sizes_of(cores, _history(0, "East", 1.0), _MATERIALS, "hole")
    assert sizes.is_able.tolist() == [False, True]
    assert sizes.account["drawn_from"].tolist() == ["none"]


def test_history_with_half_a_size_is_not_drawn_from():
    history = pd.concat([_history(25, "East", 200.0), _history(5, "East", np.nan)], ignore_index=True)
    sizes = sizes_of(_cores(("East", np.nan, np.nan)), history, _MATERIALS, "hole")
    assert sizes.account["known"].tolist() == [25]


def test_a_missing_bedding_is_the_most_common_one():
    cores = _cores(("East", 450.0, 200.0), ("East", 450.0, 200.0)).assign(bedding=pd.Series(["pea gravel", None]))
    assert sizes_of(cores, _history(1, "East", 1.0), _MATERIALS, "hole").bed_mm.tolist() == pytest.approx([10, 10])


def test_the_order_of_the_history_does_not_matter():
    history = _cores(("East", 450.0, 100.0), ("East", 600.0, 300.0), ("East", 450.0, 50.0))
    cores = _cores(("East", np.nan, np.nan))
    one, other = (sizes_of(cores, past, _MATERIALS, "hole").pools["East"] for past in (history, history.iloc[::-1]))
    assert one[1].tolist() == other[1].tolist()


def test_chances_that_were_not_weighed_leave_the_shade_certain():
    cores = pd.DataFrame({"shade": pd.Series(["dark", "dark", "pale", None], dtype="str")}).assign(
        shade_dark_chance=[0.7, np.nan, np.nan, 0.3],
        shade_pale_chance=[0.3, np.nan, np.nan, 0.0],
    )
    assert chances_of(cores).to_numpy().tolist() == [[0.7, 0.3], [1, 0], [0, 1], [0.3, 0]]
    assert chances_of(cores[["shade"]]).to_numpy().tolist() == [[1, 0], [1, 0], [0, 1], [0, 0]]


def test_a_size_outside_every_district_is_one_of_the_programme():
    """Of three sizes two are of cores outside every district; one is not known."""
    history = pd.concat([_history(1, "West", 300.0), _history(2, None, 200.0), _history(1, None, np.nan)])
    sizes = sizes_of(_cores(("East", np.nan, np.nan)), history, _MATERIALS, "hole")
    assert sizes.account.to_numpy().tolist() == [["East", 1, 3, "programme"]]
    assert sorted(sizes.pools["East"][1].tolist()) == [200, 200, 300]
