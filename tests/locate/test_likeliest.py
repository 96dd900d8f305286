"""The likeliest surface and the confidence in surface, shade and district, from chances written down by hand."""

import geopandas as gpd
import numpy as np
import pandas as pd
import pytest
import shapely
from scipy.stats import norm

from pipeline.locate import mixed
from pipeline.locate.learnt_errors import blurs_of
from pipeline.locate.likeliest import surface_chances, two_likeliest, weigh_districts, weigh_surfaces


def _cores(*rows):
    """Rows of x, sigma; all on y = 0: the positions and their errors."""
    x, sigma = (np.array(column, dtype=float) for column in zip(*rows))
    placed = pd.DataFrame({"x_m": x, "y_m": np.where(np.isnan(x), np.nan, 0.0)})
    return placed, blurs_of(sigma, np.zeros(len(x)), None)


def _text(*cells):
    return pd.Series(cells, dtype="str")


def _segments(*surfaces):
    return gpd.GeoDataFrame({"surface": _text(*surfaces)}, geometry=[None] * len(surfaces), crs=32617)


def _polygons(*rows):
    return gpd.GeoDataFrame(
        {"surface": _text(*[name for name, *_ in rows])},
        geometry=[shapely.box(west, -900, east, 900) for _, west, east in rows],
        crs=32617,
    )


def _shares(*rows):
    """Rows of core, segment, share."""
    return pd.DataFrame(rows, columns=["core", "segment", "share"])


def _rows(table):
    return [tuple(row) for row in table.assign(chance=table["chance"].round(6)).to_numpy()]


def test_without_polygons_the_chances_are_the_shares_of_the_segments():
    table, edge_m = surface_chances(
        *_cores((0, 1)), _shares((0, 0, 0.5), (0, 1, 0.3), (0, 2, 0.2)), _segments("asphalt", "concrete", "asphalt"),
        None, _text("composite"),
    )  # fmt: skip
    assert _rows(table) == [(0, "asphalt", "segment", 0.7), (0, "concrete", "segment", 0.3)]
    assert np.isnan(edge_m).all()


def test_a_segment_without_a_surface_leaves_its_share_to_the_register():
    arguments = (*_cores((0, 1)), _shares((0, 0, 0.6), (0, 1, 0.4)), _segments("asphalt", None), None)
    table, _ = surface_chances(*arguments, _text("concrete"))
    assert _rows(table) == [(0, "asphalt", "segment", 0.6), (0, "concrete", "register", 0.4)]
    table, _ = surface_chances(*arguments, _text(None))
    assert _rows(table) == [(0, "asphalt", "segment", 0.6), (0, "unknown", "none", 0.4)]


def test_what_lies_in_a_polygon_is_taken_from_the_segments():
    """The polygon begins 1 m east of the core, whose error is 2 m: Phi(-1/2) of it lies inside."""
    inside = norm.cdf(-0.5)
    table, edge_m = surface_chances(
        *_cores((0, 2)), _shares((0, 0, 1.0)), _segments("asphalt"), _polygons(("concrete", 1, 900)), _text(None)
    )
    assert [row[:3] for row in _rows(table)] == [(0, "asphalt", "segment"), (0, "concrete", "polygon")]
    assert table["chance"].tolist() == pytest.approx([1 - inside, inside], abs=1e-6)
    assert edge_m.tolist() == [1]


def test_a_core_without_a_position_has_what_the_register_says():
    table, _ = surface_chances(
        *_cores((np.nan, 2)), _shares().astype({"core": int, "segment": int, "share": float}), _segments("asphalt"),
        _polygons(("concrete", 1, 900)), _text("composite"),
    )  # fmt: skip
    assert _rows(table) == [(0, "composite", "register", 1.0)]


def test_the_chances_of_every_core_add_up_to_one():
    cores = _cores((-30, 2), (-1, 2), (0, 9), (3, 1), (800, 3))
    shares = _shares((0, 0, 1.0), (1, 0, 0.5), (1, 1, 0.5), (2, 1, 1.0), (3, 0, 0.2), (3, 1, 0.8))
    table, _ = surface_chances(
        *cores, shares, _segments("asphalt", None), _polygons(("concrete", -5, 5), ("asphalt", -900, 900)),
        _text("asphalt", None, "composite", None, None),
    )  # fmt: skip
    assert table.groupby("core")["chance"].sum().tolist() == pytest.approx([1] * 5)


def _table(*rows):
    return pd.DataFrame(rows, columns=["core", "name", "source", "chance"])


def test_cores_are_weighed_a_few_at_a_time(monkeypatch):
    random = np.random.default_rng(4)
    cores, blurs = _cores(*zip(random.uniform(-50, 950, 60), random.uniform(0.5, 4, 60), strict=True))
    polygons = _polygons(("concrete", 0, 6), ("asphalt", 6, 20), ("composite", 22, 40), ("concrete", 200, 230))
    shares = _shares(*((core, 0, 1.0) for core in range(60)))
    arguments = (cores, blurs, shares, _segments("asphalt"), polygons, pd.Series([None] * 60, dtype="str"))
    table, edge_m = surface_chances(*arguments)
    monkeypatch.setattr(mixed, "_CHUNK", 3)
    parted, parted_m = surface_chances(*arguments)
    pd.testing.assert_frame_equal(parted, table, check_exact=True)
    np.testing.assert_array_equal(parted_m, edge_m)


def test_the_two_likeliest_names_come_in_order_with_their_chances():
    table = _table((0, "a", "s", 0.2), (0, "b", "s", 0.5), (0, "c", "s", 0.3), (2, "a", "s", 1.0))
    two = two_likeliest(table, pd.Index([7, 8, 9]))
    assert two.index.tolist() == [7, 8, 9]
    assert two["name"].fillna("").tolist() == ["b", "", "a"]
    assert two["second"].fillna("").tolist() == ["c", "", ""]
    assert two["chance"].tolist()[0] == 0.5
    assert two["second_chance"].isna().tolist() == [False, True, True]


def test_a_name_from_two_sources_counts_once_with_both_chances():
    two = two_likeliest(
        _table((0, "a", "polygon", 0.3), (0, "a", "segment", 0.3), (0, "b", "segment", 0.4)), pd.Index([0])
    )
    assert (two["name"][0], two["second"][0]) == ("a", "b")
    assert two["chance"][0] == pytest.approx(0.6)


@pytest.mark.parametrize(("found", "first"), [(None, "a"), ("b", "b"), ("a", "a"), ("c", "a")])
def test_of_names_equally_likely_the_one_found_there_comes_first_then_the_alphabet(found, first):
    table = _table((0, "b", "s", 0.5), (0, "a", "s", 0.5 - 1e-13))
    there = None if found is None else _text(found)
    assert two_likeliest(table, pd.Index([0]), there)["name"][0] == first


def test_chances_that_only_the_error_of_the_weighing_tells_apart_are_equal():
    """On an edge between two surfaces: what is weighed is a few in 1,000,000,000 short of a half on either side."""
    table = _table((0, "a", "s", 0.5 + 2e-9), (0, "b", "s", 0.5 - 2e-9))
    assert two_likeliest(table, pd.Index([0]), _text("b"))["name"][0] == "b"


def test_a_chance_no_larger_than_the_error_of_the_weighing_is_none():
    """The square that errors are weighed over leaves out 4 in 1,000,000,000."""
    shares = _shares((0, 0, 1 - 2e-9), (0, 1, 2e-9))
    table, _ = surface_chances(*_cores((0, 1)), shares, _segments("asphalt", "concrete"), None, _text(None))
    assert table["name"].tolist() == ["asphalt"]


def _found(surface, source):
    return pd.DataFrame(
        {
            "surface": _text(surface),
            "surface_from": _text(source),
            "surface_on_map": _text(surface),
            "surface_others": _text(None),
        }
    )


def _weigh(found, *rows, placed=True):
    shades = {"asphalt": "dark", "composite": "dark", "concrete": "pale"}
    return weigh_surfaces(found, _table(*rows), np.array([1.5]), pd.Series([placed]), shades).iloc[0]


def test_the_likeliest_surface_takes_the_place_of_the_one_found_with_its_own_source():
    row = _weigh(_found("asphalt", "segment"), (0, "asphalt", "segment", 0.4), (0, "concrete", "polygon", 0.6))
    assert (row["surface"], row["surface_from"], row["surface_on_map"]) == ("concrete", "polygon", "concrete")
    assert (row["surface_confidence"], row["surface_next"], row["surface_next_confidence"]) == (0.6, "asphalt", 0.4)
    assert row["surface_edge_m"] == 1.5


def test_where_there_is_no_other_surface_there_is_no_distance_to_one():
    """The edge is that of another polygon of asphalt."""
    row = _weigh(_found("asphalt", "polygon"), (0, "asphalt", "polygon", 1.0))
    assert np.isnan(row["surface_edge_m"])


def test_a_surface_that_is_also_the_one_found_keeps_its_source():
    """More of its chance is by segment, but the polygon at the core shows the same surface."""
    row = _weigh(
        _found("asphalt", "polygon"), (0, "asphalt", "polygon", 0.2), (0, "asphalt", "segment", 0.5), (0, "concrete", "segment", 0.3)
    )  # fmt: skip
    assert (row["surface"], row["surface_from"]) == ("asphalt", "polygon")
    assert row["surface_confidence"] == pytest.approx(0.7)


def test_a_surface_of_the_register_is_not_on_the_map():
    row = _weigh(_found("unknown", "none"), (0, "composite", "register", 1.0))
    assert (row["surface"], row["surface_from"]) == ("composite", "register")
    assert pd.isna(row["surface_on_map"])
    assert row["surface_confidence"] == 1


def test_the_chance_of_a_shade_is_that_of_all_its_surfaces():
    row = _weigh(
        _found("asphalt", "segment"), (0, "asphalt", "segment", 0.5), (0, "composite", "segment", 0.2),
        (0, "concrete", "segment", 0.2), (0, "unbound", "segment", 0.1),
    )  # fmt: skip
    assert (row["shade_dark_chance"], row["shade_pale_chance"]) == pytest.approx((0.7, 0.2))


def test_of_a_surface_not_known_or_a_core_without_a_position_no_confidence_is_reported():
    unknown = _weigh(_found("unknown", "none"), (0, "unknown", "none", 1.0))
    assert unknown[["surface_confidence", "surface_next", "surface_next_confidence"]].isna().all()
    lost = _weigh(_found("asphalt", "register"), (0, "asphalt", "register", 1.0), placed=False)
    assert lost[["surface_confidence", "shade_dark_chance", "shade_pale_chance"]].isna().all()
    assert lost["surface"] == "asphalt"


def _districts():
    return gpd.GeoDataFrame(
        {"district": _text("east", "west")},
        geometry=[shapely.box(0, -900, 900, 900), shapely.box(-900, -900, 0, 900)],
        crs=32617,
    )


def test_a_district_is_as_likely_as_the_part_of_the_error_inside_it():
    found = pd.DataFrame({"district": _text("east", "west"), "district_how": "inside"})
    out = weigh_districts(found, *_cores((2, 4), (-300, 4)), _districts())
    assert out["district_confidence"].tolist() == pytest.approx([norm.cdf(0.5), 1])
    assert out["district_next"].fillna("").tolist() == ["west", ""]
    assert out["district_next_confidence"].tolist()[0] == pytest.approx(norm.cdf(-0.5))


@pytest.mark.parametrize("how", ["several", "gap", "outside", None])
def test_only_a_district_that_holds_the_core_alone_has_a_confidence(how):
    found = pd.DataFrame({"district": _text("east"), "district_how": _text(how)})
    assert weigh_districts(found, *_cores((2, 4)), _districts()).isna().all(axis=None)


def test_without_districts_there_is_no_confidence():
    found = pd.DataFrame({"district": _text(None), "district_how": _text(None)})
    assert weigh_districts(found, *_cores((2, 4)), None).isna().all(axis=None)


def test_of_three_polygons_the_larger_of_two_loses_what_the_smaller_covers():
    """Smallest first: c far away, b from 0 to 20 m within a. On the edge of b half of the error is on either side."""
    polygons = _polygons(("c", 500, 510), ("b", 0, 20), ("a", -50, 50))
    table, edge_m = surface_chances(*_cores((20, 2)), _shares((0, 0, 1.0)), _segments("asphalt"), polygons, _text(None))
    assert _rows(table) == [(0, "a", "polygon", 0.5), (0, "b", "polygon", 0.5)]
    assert edge_m.tolist() == [0]


@pytest.mark.parametrize(("by_polygon", "source"), [(0.2, "segment"), (0.35, "polygon"), (0.5, "polygon")])
def test_a_surface_from_two_sources_has_the_one_that_gives_it_more_and_of_equals_the_polygon(by_polygon, source):
    rows = [
        (0, "concrete", "segment", 0.7 - by_polygon),
        (0, "concrete", "polygon", by_polygon),
        (0, "asphalt", "segment", 0.3),
    ]
    for order in (rows, rows[::-1]):
        row = _weigh(_found("asphalt", "segment"), *order)
        assert (row["surface"], row["surface_from"]) == ("concrete", source)
