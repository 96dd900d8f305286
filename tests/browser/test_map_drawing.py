"""How cores are drawn and found: symbols, tiles, the first view."""

from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from pipeline.publish.map import cores as map_data
from tests.browser.browser import open_page
from tests.browser.town import (
    COLOURS,
    EAST,
    FINDINGS,
    FIVE,
    FIVE_FINDINGS,
    NORTH,
    SOUTH,
    STREET,
    THREE,
    WEST,
    colour_at,
    cores,
    saved,
    view,
    wait_until_drawn,
)


def test_a_core_has_its_status_colour_and_loses_it_with_the_switch(tmp_path: Path) -> None:
    with open_page(saved(tmp_path, view())) as page:
        wait_until_drawn(page)
        for core in THREE.iloc[:3].itertuples():
            assert colour_at(page, core.lon, core.lat) == COLOURS[core.status], core.core_id
        assert colour_at(page, -82.002, STREET) is None
        page.page.click("#legend label:nth-child(2) input")
        assert colour_at(page, -82.001, STREET) is None
        assert colour_at(page, -82.003, STREET) == COLOURS["flagged"]


def test_the_statuses_differ_in_grey_too() -> None:
    greys = sorted(0.2126 * r + 0.7152 * g + 0.0722 * b for r, g, b in COLOURS.values())
    assert np.diff(greys).min() > 60


def test_an_unsure_core_is_hollow(tmp_path):
    with open_page(saved(tmp_path, view(cores=FIVE, findings=FIVE_FINDINGS))) as page:
        wait_until_drawn(page)
        assert colour_at(page, -82.001, STREET) == [255, 255, 255]
        assert colour_at(page, -81.998, STREET) == [58, 167, 160]


def test_a_stray_core_does_not_widen_the_first_view_but_can_be_reached(tmp_path: Path) -> None:
    stray = {"status": "flagged", "lon": 12.0, "lat": -45.0, "segment_id": None}
    rows = cores({"lon": -82.001, "lat": STREET}, stray)
    with open_page(saved(tmp_path, view(cores=rows, findings=FINDINGS[:0], unplaced=0))) as page:
        wait_until_drawn(page)
        west, east = page.ask("[map_kerfbook.getBounds().getWest(), map_kerfbook.getBounds().getEast()]")
        assert east - west < 0.03
        assert page.text("#show-cores") == "All cores (1 outside this area)"
        page.page.click("#show-cores")
        page.wait_for("map_kerfbook.getBounds().contains([-45, 12])")


@pytest.mark.parametrize("many", [500_000, 100])
def test_every_core_is_found_where_it_lies_at_any_zoom(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, many: int
) -> None:
    """Against a plain search over all of them, through the quadtree's runs and cell borders, cut positions too."""
    monkeypatch.setattr(map_data, "MANY", many)
    random = np.random.default_rng(11)
    rows = pd.concat([THREE.iloc[[0]]] * 500, ignore_index=True)
    rows["row"] = np.arange(1, 501)
    rows["lon"], rows["lat"] = random.uniform(WEST, EAST, 500), random.uniform(SOUTH, NORTH, 500)
    with open_page(saved(tmp_path, view(cores=rows, findings=FINDINGS[:0], unplaced=0))) as page:
        wait_until_drawn(page)
        wrong = page.ask(
            """(() => { const made = window.kerfbook.cores; let wrong = 0;
            for (const zoom of [3, 12.25, 15, 17.5, 22]) { const scale = 256 * 2 ** zoom / 2 ** 30;
              for (let i = 0; i < made.count; i += 7) { const x = made.x[i] * scale + 9, y = made.y[i] * scale - 6;
                const plain = []; for (let j = 0; j < made.count; j += 1)
                  if (Math.hypot(made.x[j] * scale - x, made.y[j] * scale - y) <= 12) plain.push(j);
                const found = made.near(x, y, zoom, 12).sort((a, b) => a - b);
                if (found.join() !== plain.join() || !found.includes(i)) wrong += 1;
                const box = [x - 150, y - 90, x + 40, y + 200];
                const inside = plain.length && Array.from(made.x).filter((_, j) => made.x[j] * scale >= box[0]
                  && made.x[j] * scale <= box[2] && made.y[j] * scale >= box[1] && made.y[j] * scale <= box[3]).length;
                if (made.countInBox(...box, zoom)[0] !== inside) wrong += 1; } } return wrong; })()"""
        )
        assert wrong == 0


def test_tiles_keep_one_canvas_pixel_to_one_on_the_screen_between_whole_zooms(tmp_path: Path) -> None:
    with open_page(saved(tmp_path, view())) as page:
        wait_until_drawn(page)
        for zoom in (16.75, 17, 17.25):
            # Animated, as a user zooms: a jump would lay every tile out anew.
            page.ask(f"void map_kerfbook.setZoom({zoom}, {{animate: {str(zoom > 16.75).lower()}}})")
            page.wait_for(f"map_kerfbook.getZoom() === {zoom} && !map_kerfbook._animatingZoom")
            stretched = page.ask(
                "[...document.querySelectorAll('.leaflet-cores-pane canvas')]"
                ".map((tile) => tile.width / tile.getBoundingClientRect().width)"
            )
            assert stretched == pytest.approx([1.0] * len(stretched), rel=0.01)
            assert colour_at(page, -82.001, STREET) == COLOURS["pending"]
