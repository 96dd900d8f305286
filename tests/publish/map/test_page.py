"""The page as text: the same input gives the same bytes, and wrong input is refused in words."""

import json
import re

import pytest

from pipeline.errors import ContractError
from pipeline.publish.looks import STATUS_LOOKS
from pipeline.publish.map.page import Background, draw_map
from pipeline.publish.words import MAP_TABLES
from tests.browser.town import FINDINGS, THREE, cores, findings, view


def test_the_same_input_gives_the_same_bytes() -> None:
    assert draw_map(view()) == draw_map(view())


def test_the_order_of_the_findings_and_an_index_of_its_own_change_nothing() -> None:
    one_each = FINDINGS.iloc[1:]
    moved = view(findings=one_each.iloc[::-1], cores=THREE.set_axis([7, 7, 3, 1], axis=0))
    assert draw_map(moved) == draw_map(view(findings=one_each))


def test_the_page_holds_leaflets_licence_and_no_outside_address_to_load() -> None:
    page = draw_map(view())
    assert "Copyright (c) 2010-2024, Volodymyr Agafonkin" in page
    assert re.findall(r'(?:src|href)="(?!data:)[^"#]', page.split("<script")[0]) == []
    assert "sourceMappingURL" not in page


def test_a_count_of_unplaced_cores_that_is_not_theirs_is_refused() -> None:
    with pytest.raises(ContractError, match="2 cores without a position expected, 1 found"):
        draw_map(view(unplaced=2))


def test_a_status_of_no_meaning_is_refused() -> None:
    with pytest.raises(ContractError, match=r"status .*lost.* found"):
        draw_map(view(cores=THREE.assign(status="lost")))


def test_a_finding_about_no_row_is_refused() -> None:
    with pytest.raises(ContractError, match="about row 99, which is not in the cores"):
        draw_map(view(findings=findings((99, "id-missing", "check", "no id"))))


def page_data(shown):
    """The data that the page's scripts start from."""
    found = re.search(r'id="page-data">(.*?)</script>', draw_map(shown), re.DOTALL)
    return json.loads(found[1])


def test_every_rule_that_found_something_comes_with_its_label():
    assert page_data(view())["rules"] == {
        "depth-implausible": "Depth implausible",
        "pavement-thin": "Pavement thin",
        "position-missing": "Position missing",
    }


def test_the_page_holds_the_words_of_the_map_and_no_others():
    words = page_data(view())["words"]
    assert {key.partition(".")[0] for key in words} == set(MAP_TABLES)


def test_scripts_get_the_looks_of_the_other_outputs():
    looks = page_data(view())["looks"]
    assert {status["name"]: status["colour"] for status in looks["statuses"]} == {
        status: look.fill for status, look in STATUS_LOOKS.items()
    }


def test_without_orders_the_page_knows_of_none():
    data = page_data(view(orders=None))
    assert data["hasOrders"] is False
    assert [district["orders"] for district in data["districts"]] == [[], [], []]


def test_the_host_of_a_background_is_its_address_without_the_rest():
    assert Background("https://tiles.harbourvale.example:8443/{z}/{x}/{y}.png").host == (
        "https://tiles.harbourvale.example:8443"
    )


def test_a_background_is_named_in_the_policy_and_in_the_page():
    page = draw_map(view(background=Background("https://tiles.harbourvale.example/{z}/{x}/{y}.png")))
    assert "img-src data: https://tiles.harbourvale.example;" in page
    assert "https://tiles.harbourvale.example is then asked for pictures of the area in view." in page


@pytest.mark.parametrize(
    ("lon", "lat", "contains"),
    [
        # the first view takes in the road on which a core lies, and none that a typing error put elsewhere
        (-82.003, 44.8, True),
        (12.0, -45.0, False),
    ],
)
def test_the_first_view_ignores_a_core_that_lies_on_no_road(lon, lat, contains):
    rows = cores({"lon": -82.001, "lat": 44.8}, {"lon": lon, "lat": lat, "segment_id": None})
    page = draw_map(view(cores=rows, findings=FINDINGS[:0], unplaced=0))
    corners = json.loads(re.search(r"map_kerfbook\.fitBounds\(\s*(\[\[.*?\]\])", page)[1])
    (south, west), (north, east) = corners
    assert (south <= lat <= north and west <= lon <= east) is contains


def test_one_core_without_a_road_still_gets_some_room():
    """0.001 degrees, about 100 m, both ways."""
    base = view()
    alone = view(
        cores=cores({"lon": -82.0, "lat": 44.8, "segment_id": None}),
        findings=FINDINGS[:0],
        segments=base.segments[:0],
        districts=None,
        unplaced=0,
    )
    page = draw_map(alone)
    corners = json.loads(re.search(r"map_kerfbook\.fitBounds\(\s*(\[\[.*?\]\])", page)[1])
    assert corners == [[44.7995, -82.0005], [44.8005, -81.9995]]


def test_districts_alone_are_the_first_view():
    base = view()
    page = draw_map(view(cores=THREE[:0], findings=FINDINGS[:0], segments=base.segments[:0], unplaced=0))
    corners = json.loads(re.search(r"map_kerfbook\.fitBounds\(\s*(\[\[.*?\]\])", page)[1])
    assert corners == [[44.7975, -82.0045], [44.8035, -81.9955]]


def test_every_placeholder_of_the_page_is_filled():
    assert re.findall(r"@@\w+@@", draw_map(view())) == []


def test_scripts_come_without_indentation_and_lines_of_comment():
    scripts = draw_map(view()).split('"use strict";')[1:]
    ours = "".join(scripts)
    assert not re.search(r"^[ \t]*// ", ours, re.MULTILINE)
