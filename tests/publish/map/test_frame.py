"""The map's frame: what folium gives, without its random names, its links and its header."""

import re

import folium
import pytest

from pipeline.publish.looks import DISTRICT_LINE
from pipeline.publish.map.frame import draw_frame

_LINE = {
    "type": "Feature",
    "id": "0",
    "properties": {},
    "geometry": {"type": "LineString", "coordinates": [[-82.0, 44.8], [-82.1, 44.9]]},
}
_BOUNDS = [[44.8, -82.1], [44.9, -82.0]]


def test_the_same_input_gives_the_same_text():
    assert draw_frame([_LINE], _BOUNDS) == draw_frame([_LINE], _BOUNDS)


def test_no_random_name_of_folium_is_left():
    for part in draw_frame([_LINE], _BOUNDS):
        assert re.findall(r"[0-9a-f]{32}", part) == []


def test_element_and_script_speak_of_the_same_map():
    frame = draw_frame([_LINE], None)
    assert re.findall(r'id="(\w+)"', frame.element) == ["map_kerfbook"]
    assert 'L.map(\n                "map_kerfbook"' in frame.script
    assert "geo_json_districts.addTo(map_kerfbook)" in frame.script


def test_an_outline_is_drawn_in_the_colour_of_a_district():
    assert f'"color": "{DISTRICT_LINE}"' in draw_frame([_LINE], None).script
    assert "[[-82.0, 44.8], [-82.1, 44.9]]" in draw_frame([_LINE], None).script


def test_without_districts_there_are_no_outlines():
    assert "geo_json" not in draw_frame([], _BOUNDS).script


def test_the_first_view_fits_the_bounds_with_a_margin():
    script = draw_frame([], _BOUNDS).script
    fitted = re.search(r"fitBounds\(\s*(\[\[.*?\]\]),\s*(\{.*?\})", script)
    assert fitted[1] == "[[44.8, -82.1], [44.9, -82.0]]"
    assert '"padding": [24, 24]' in fitted[2]
    assert '"maxZoom": 18' in fitted[2]


def test_without_bounds_the_world_is_shown():
    assert "fitBounds" not in draw_frame([], None).script


@pytest.mark.parametrize("part", ["element", "script"])
def test_the_frame_links_to_nothing(part):
    text = getattr(draw_frame([_LINE], _BOUNDS), part)
    assert not re.search(r"https?://|<script|<link|<meta", text)


def test_foliums_own_lists_keep_what_they_held():
    """Every folium map of this process shares them."""
    before = (list(folium.Map.default_js), list(folium.Map.default_css))
    draw_frame([_LINE], _BOUNDS)
    assert (folium.Map.default_js, folium.Map.default_css) == before
    assert all(before)
