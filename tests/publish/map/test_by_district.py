"""The maps of districts show together what one map would, and each says whose it is."""

import dataclasses
import re

import geopandas as gpd
import pandas as pd
import pytest
import shapely

from pipeline.publish.map.by_district import IN_FOLDER, IN_PACK, views_by_district
from pipeline.publish.map.index_page import district_map, draw_index
from pipeline.publish.map.page import draw_map
from pipeline.publish.map.pages import map_pages
from tests.browser.town import HOSTILE, NORTH, SOUTH, THREE, WEST, view


def _views(shown):
    return {part.name: one for part, one in views_by_district(shown, IN_FOLDER)}


def test_each_row_is_in_the_map_of_its_district():
    views = _views(view())
    assert list(views) == ["Old Harbour", "Saltmarsh", None]
    assert {name: one.cores["row"].tolist() for name, one in views.items()} == {
        "Old Harbour": [1, 2],
        "Saltmarsh": [3],
        None: [4],
    }
    assert {name: one.findings["row"].tolist() for name, one in views.items()} == {
        "Old Harbour": [1, 1],
        "Saltmarsh": [],
        None: [4],
    }
    assert [one.unplaced for one in views.values()] == [0, 0, 1]
    assert [None if one.districts is None else len(one.districts) for one in views.values()] == [1, 1, None]
    assert [len(one.orders) for one in views.values()] == [0, 1, 0]
    # the street crosses both; no segment is outside
    assert [one.segments["segment_id"].tolist() for one in views.values()] == [["HV-1", "HV-2"], ["HV-1", "HV-2"], []]


def test_changes_and_works_go_where_their_cores_are_or_what_they_touch():
    works = gpd.GeoDataFrame(
        {
            "works_id": ["near", "listed", "elsewhere"],
            "kind": "planned",
            "name": None,
            "on": None,
            "until": None,
        },
        geometry=[shapely.box(WEST, SOUTH, WEST + 1e-3, NORTH), shapely.box(1, 1, 2, 2), shapely.box(1, 1, 2, 2)],
        crs=4326,
    )
    shown = view(
        changes=pd.DataFrame({"row": [3, 1, 1], "change": ["closed", "opened", "new finding"]}),
        works=works,
        in_works=pd.DataFrame({"row": [3], "works_id": ["listed"]}),
    )
    views = _views(shown)
    assert [one.changes["row"].tolist() for one in views.values()] == [[1, 1], [3], []]
    assert [one.works["works_id"].tolist() for one in views.values()] == [["near"], ["listed"], []]
    assert [one.in_works["row"].tolist() for one in views.values()] == [[], [3], []]


def test_segments_in_another_crs_than_the_districts_are_found_alike():
    shown = view()
    moved = dataclasses.replace(shown, segments=shown.segments.to_crs(32617))
    ids = [[one.segments["segment_id"].tolist() for one in _views(each).values()] for each in (shown, moved)]
    assert ids[0] == ids[1]


@pytest.mark.parametrize("places", [IN_FOLDER, IN_PACK])
def test_the_pages_are_a_map_for_each_district_and_last_the_index_that_leads_to_them(places):
    pages = dict(map_pages(view(), "map.html", places))
    stems = ("old-harbour", "saltmarsh", "no-district")
    assert list(pages) == [*map(places.of, stems), "map.html"]
    assert all(f'href="{places.of(stem)}"' in pages["map.html"] for stem in stems)
    assert all(f'<a href="{places.to_index}">' in pages[places.of(stem)] for stem in stems)
    assert pages == dict(map_pages(view(), "map.html", places))


def test_without_places_there_is_one_map_without_a_way_to_others():
    (only,) = map_pages(view(), "map.html", None)
    assert only == ("map.html", draw_map(view()))
    assert "Maps of all districts" not in only[1]
    assert "@@to_index@@" not in only[1]


def _index(districts, cores=THREE):
    shown = view(districts=districts, cores=cores)
    maps = [district_map(name, f"s{at}", cores.iloc[:3]) for at, name in enumerate(districts["district"])]
    return draw_index(shown, maps, IN_FOLDER)


def _districts(*shapes, names=None):
    return gpd.GeoDataFrame(
        {"district": names or [f"D{at}" for at in range(len(shapes))]}, geometry=list(shapes), crs=4326
    )


def test_text_of_districts_is_shown_and_never_runs():
    page = _index(_districts(shapely.box(0, 0, 1, 1), names=[HOSTILE]))
    assert "<script>window" not in page
    assert "<img" not in page
    assert page.count("<script>") == 1


def test_odd_shapes_are_drawn_as_far_as_they_are_areas():
    ring = shapely.Polygon([(0, 0), (9, 0), (9, 9), (0, 9)], [[(3, 3), (6, 3), (6, 6), (3, 6)]])
    shapes = [
        ring,
        None,
        shapely.Polygon(),
        shapely.LineString([(0, 0), (1, 1)]),
        shapely.union_all([shapely.box(20, 0, 21, 1), shapely.box(22, 0, 23, 1)]),
    ]
    page = _index(_districts(*shapes))
    outlines = re.findall(r'<path d="(M[^"]*)" fill="#[0-9a-f]{6}" fill-rule="evenodd"', page)
    # the ring and its hole; two areas; a line has no area
    assert sorted(path.count("Z") for path in outlines) == [2, 2]
    assert _index(_districts(None, None)).count('class="chart"') == 0


def test_a_district_without_cores_is_named_without_a_link():
    page = draw_index(view(), [district_map("Old Harbour", "old-harbour", THREE)], IN_FOLDER)
    assert "1 district has no cores, and no map:" in page
    assert "Saltmarsh" in page
    assert "maps/saltmarsh.html" not in page


def test_the_index_counts_what_its_cores_say_and_leaves_out_what_they_do_not():
    cores = THREE.assign(state=["open", "plated", "back", "unknown"], urgency=["hazard", "overdue", None, "quality"])
    one = district_map("A", "a", cores)
    assert one.counts == {"flagged": 2, "reinstated": 1, "pending": 1}
    assert (one.cores, one.open_cores, one.hazards, one.overdue) == (4, 2, 1, 1)
    assert district_map("A", "a", THREE).open_cores is None
    assert "Open now" not in draw_index(view(), [district_map("A", "a", THREE)], IN_FOLDER)
