"""Works as the map page lists them."""

import geopandas as gpd
import pandas as pd
import shapely

from pipeline.publish.map.works import pack_works


def test_lines_and_the_outlines_of_polygons_come_with_the_latitude_first():
    works = gpd.GeoDataFrame(
        {
            "works_id": ["planned 1", "resurfaced 1"],
            "kind": ["planned", "resurfaced"],
            "name": ["Quay renewal", None],
            "on": ["2026-11-03", "2024-05-01"],
            "until": pd.Series([None, "2029-05-01"], dtype="str"),
        },
        geometry=[shapely.box(-82, 44, -81, 45), shapely.MultiLineString([[(-82, 44), (-81, 44)]])],
        crs=4326,
    )
    first, second = pack_works(works)
    assert (first["id"], first["kind"], first["name"], first["on"], first["until"]) == (
        "planned 1", "planned", "Quay renewal", "2026-11-03", None,
    )  # fmt: skip
    assert len(first["lines"]) == 1
    assert {tuple(corner) for corner in first["lines"][0]} == {(44, -82), (44, -81), (45, -81), (45, -82)}
    assert second["lines"] == [[[44.0, -82.0], [44.0, -81.0]]]
    assert second["name"] is None
