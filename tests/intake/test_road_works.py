"""Slab joints, resurfaced roads and planned works from their layers."""

from dataclasses import replace

import numpy as np
import pandas as pd
import pytest
import shapely
from pyproj import CRS

from pipeline.errors import InputError
from pipeline.intake.files.tables import RawTable
from pipeline.intake.placed_layer import place_layer
from pipeline.intake.road_works import as_joints, as_works
from pipeline.programme.settings import Layer

_CRS = CRS.from_epsg(32617)
_SLAB = shapely.box(404000, 4961000, 404004, 4961005)
_JOINT = shapely.LineString([(404000, 4961000), (404000, 4961005)])


def _layer(geometry, **columns):
    frame = pd.DataFrame(
        {key: pd.Series(cells, dtype="str") for key, cells in columns.items()}, index=range(len(geometry))
    )
    table = RawTable(
        frame, np.arange(1, len(geometry) + 1), len(geometry), "works.gpkg", np.array(geometry, dtype=object), _CRS
    )
    return place_layer(table, Layer(path="works.gpkg"), "resurfaced", ("LineString", "MultiLineString", "Polygon"))


def test_the_outline_of_a_slab_is_its_joints_and_a_line_stays_a_line():
    joints = as_joints(_layer([_SLAB, _JOINT]), _CRS)
    # 2 x (4 m + 5 m), and 5 m
    assert joints.length.tolist() == pytest.approx([18, 5])
    assert joints.geom_type.tolist() == ["LineString", "LineString"]


def test_a_slab_that_the_crs_of_the_run_cannot_hold_is_left_out_and_told():
    """Near the equator, 90 degrees from its meridian, a transverse Mercator has no end."""
    afar = shapely.box(1.6e7, 4650000, 1.6e7 + 4, 4650005)
    layer = _layer([_SLAB, afar])
    assert len(as_joints(layer, CRS.from_epsg(32646))) == 1
    (notice,) = layer.table.notices
    assert notice == (
        "works.gpkg: 1 feature too far from the roads to be placed (such as feature 2), ignored. Correct the "
        "coordinates, or the CRS of the layer."
    )


def _works(days, day_first=None, **columns):
    layer = _layer([_SLAB] * len(days), resurfaced_on=days, **columns)
    works = as_works(layer, _CRS, "America/Toronto", day_first=day_first)
    return works, layer.table.notices


def test_works_have_a_day_in_the_time_zone_of_the_programme_and_a_segment():
    works, notices = _works(["2024-05-01", "1 May 2025"], segment_id=["S1", " "])
    assert works["on"].tolist() == [
        pd.Timestamp("2024-05-01", tz="America/Toronto"),
        pd.Timestamp("2025-05-01", tz="America/Toronto"),
    ]
    assert works["segment_id"].fillna("").tolist() == ["S1", ""]
    assert works.area.tolist() == pytest.approx([20, 20])
    assert notices == []


def test_works_without_a_day_that_can_be_read_are_left_out_and_reported():
    works, notices = _works(["soon", "2024-05-01", None])
    assert works["on"].dt.year.tolist() == [2024]
    assert works.index.tolist() == [0]
    assert notices == [
        (
            "works.gpkg: 2 features ignored: no readable date in `resurfaced_on` (such as 'soon' in feature 1). "
            "Write dates such as 2026-09-30."
        )
    ]


def test_the_order_of_day_and_month_is_that_of_the_register():
    assert _works(["03/04/2024"], day_first=True)[0]["on"].dt.month.tolist() == [4]
    assert _works(["03/04/2024"], day_first=False)[0]["on"].dt.month.tolist() == [3]
    assert _works(["03/04/2024", "2024-05-01"])[0]["on"].dt.month.tolist() == [5]


def test_a_layer_whose_dates_contradict_the_setting_is_refused_by_its_own_name():
    with pytest.raises(InputError) as error:
        _works(["03/25/2024", "03/26/2024", "03/27/2024", "03/04/2024"], day_first=True)
    assert str(error.value) == (
        "works.gpkg: the column for `resurfaced_on` has 3 dates that can only be month first, such as '03/25/2024', but "
        "the programme file has cores.day_first = true. Write the dates of this layer as 2026-09-30."
    )


def test_dates_of_a_layer_in_an_order_that_is_not_set_are_reported_as_such():
    works, notices = _works(["03/04/2024", "2024-05-01"])
    assert works["on"].dt.month.tolist() == [5]
    (notice,) = notices
    assert notice == (
        "works.gpkg: 1 feature ignored: no readable date in `resurfaced_on` (such as '03/04/2024' in feature 1, "
        "in which day or month may come first). Write dates such as 2026-09-30."
    )


def test_a_layer_without_the_day_is_refused_by_its_key():
    layer = _layer([_SLAB], year=["2024"])
    with pytest.raises(
        InputError, match=r"no column for `resurfaced_on`; the file has: year\. Set resurfaced\.columns"
    ):
        as_works(layer, _CRS, "UTC", day_first=None)


def test_a_protected_street_needs_the_day_on_which_its_protection_ends_and_no_other():
    layer = replace(
        _layer([_SLAB] * 3, until=["2029-05-01", "soon", "2028-01-01"], name=["Quay", "B", None]), name="protected"
    )
    works = as_works(layer, _CRS, "UTC", day_first=None)
    assert works["until"].dt.year.tolist() == [2029, 2028]
    assert works["on"].isna().all()
    assert works["feature"].tolist() == [1, 3]
    assert layer.table.notices == [
        (
            "works.gpkg: 1 feature ignored: no readable date in `until` (such as 'soon' in feature 2). "
            "Write dates such as 2026-09-30."
        )
    ]


def test_planned_works_whose_end_cannot_be_read_stay_without_one():
    layer = replace(_layer([_SLAB] * 2, due_on=["2026-11-03"] * 2, ends_on=["late", None]), name="planned_works")
    works = as_works(layer, _CRS, "UTC", day_first=None)
    assert works["until"].isna().tolist() == [True, True]
    assert layer.table.notices == [
        (
            "works.gpkg: 1 feature with no readable date in `ends_on` (such as 'late' in feature 1). "
            "Write dates such as 2026-09-30."
        )
    ]
