"""Leaflet's files, known to the byte, made fit for a page that fetches nothing."""

import base64
import re

import pytest

from pipeline.errors import OutputError
from pipeline.publish.map import leaflet


def test_the_script_is_leaflet_without_the_address_of_its_source_map():
    script = leaflet.read_script()
    assert "Leaflet 1.9.4" in script[:200]
    assert "sourceMappingURL" not in script


def test_the_style_sheet_holds_its_pictures():
    style = leaflet.read_style_sheet()
    assert re.findall(r"url\((?!data:|#)[^)]*\)", style) == []
    pictures = re.findall(r"url\(data:image/png;base64,([\w+/=]+)\)", style)
    assert len(pictures) == 3
    for picture in pictures:
        assert base64.b64decode(picture).startswith(b"\x89PNG\r\n")


def test_line_ends_are_those_that_a_browser_hashes():
    assert "\r" not in leaflet.read_script() + leaflet.read_style_sheet()


@pytest.mark.parametrize(
    ("name", "read"), [("leaflet.js", leaflet.read_script), ("leaflet.css", leaflet.read_style_sheet)]
)
def test_another_leaflet_than_the_pinned_version_is_refused(monkeypatch, name, read):
    monkeypatch.setitem(leaflet.LEAFLET_SHA256, name, "0" * 64)
    with pytest.raises(OutputError) as refused:
        read()
    # where, what was found, what was expected, what to do
    for part in (name, "has SHA-256", "0" * 64, "Install django-js-lib-leaflet==1.9.4.1"):
        assert part in str(refused.value)
