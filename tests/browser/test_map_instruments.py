"""Symbols by state and urgency, the distance tool, coordinates, the overview, works, and the dark colours of the canvas."""

import geopandas as gpd
import pytest
import shapely

from pipeline.publish.looks import COLOURS, DARK_COLOURS
from tests.browser.browser import open_page
from tests.browser.town import EAST, HOSTILE, MIDDLE, STREET, WEST, saved, view, wait_until_drawn


def _works():
    street = shapely.LineString([(WEST, STREET), (EAST, STREET)])
    lane = shapely.LineString([(MIDDLE, STREET), (MIDDLE, 44.803)])
    return gpd.GeoDataFrame(
        {
            "works_id": ["W-1", "W-2"],
            "kind": ["planned", "protected"],
            "name": ["Tram", HOSTILE],
            "on": None,
            "until": None,
        },
        geometry=[street, lane],
        crs=4326,
    )


def test_every_state_and_urgency_has_a_symbol_of_its_own_hollow_too(tmp_path):
    with open_page(saved(tmp_path, view())) as page:
        wait_until_drawn(page)
        pictures = page.ask(
            """[0, 1, 2].flatMap((status) => [false, true].flatMap((isHollow) => [0, 1, 2].flatMap((level) =>
            [0, 1, 2, 3, 4].map((state) => KerfbookSymbols.spriteOf({ status, isHollow, level, hasBadge: true, state }, 8.5, 1).toDataURL()))))"""
        )
        assert len(set(pictures)) == 3 * 2 * 3 * 5
        icons = page.ask(
            "['open', 'plated', 'interim', 'back', 'unknown'].flatMap((state) => [null, 'hazard', 'overdue']"
            ".map((urgency) => KerfbookSymbols.icon(0, false, urgency, state).outerHTML))"
        )
        assert len(set(icons)) == 15


def test_a_distance_is_measured_by_keyboard_and_by_click_and_escape_ends_it(tmp_path):
    with open_page(saved(tmp_path, view(works=_works()))) as page:
        wait_until_drawn(page)
        page.page.click(".measure-button")
        assert page.ask("document.activeElement === map_kerfbook.getContainer()")
        page.page.keyboard.press("Enter")
        assert page.text(".measure-total strong") == "0 m"
        centre = page.ask("[map_kerfbook.getCenter().lat, map_kerfbook.getCenter().lng]")
        x, y = page.ask(
            "(() => { const b = map_kerfbook.getContainer().getBoundingClientRect(); return [b.x, b.y]; })()"
        )
        page.page.mouse.click(x + 300, y + 200)
        second = page.ask(
            "(() => { const p = map_kerfbook.containerPointToLatLng([300, 200]); return [p.lat, p.lng]; })()"
        )
        expected = page.ask(f"KerfbookMeasure.between({centre}, {second})")
        written = page.text(".measure-total strong")
        # within a pixel, which is 0.6 m here
        assert written.endswith(" m")
        assert float(written.removesuffix(" m")) == pytest.approx(expected, abs=0.9)
        # no card opened meanwhile
        assert page.ask("document.querySelector('.leaflet-popup')") is None
        page.page.keyboard.press("Backspace")
        assert page.text(".measure-total strong") == "0 m"
        page.page.keyboard.press("Escape")
        assert page.ask("document.querySelector('.measure-total').hidden")
        page.page.mouse.move(x + 300, y + 200)
        page.wait_for("document.querySelector('.coordinates').textContent.startsWith('Pointer: ')")
        assert "EPSG:32617 E " in page.text(".coordinates")
        assert page.ask("[...document.querySelectorAll('#layers .what')].map((w) => w.textContent)") == [
            "Road segments", "Planned works", "Protected streets", "District outlines",
        ]  # fmt: skip
        assert page.ask("document.querySelectorAll('.leaflet-works-pane canvas').length") > 1
        assert page.ask("typeof window.ran") == "undefined"
        assert page.complaints == []


def test_the_overview_moves_the_map_and_closes(tmp_path):
    with open_page(saved(tmp_path, view())) as page:
        wait_until_drawn(page)
        page.ask(f"void map_kerfbook.setView([{STREET}, {EAST}], 19, {{ animate: false }})")
        box = page.page.query_selector(".locator-body").bounding_box()
        page.page.mouse.click(box["x"] + 12, box["y"] + box["height"] / 2)
        page.wait_for(f"map_kerfbook.getCenter().lng < {MIDDLE}")
        page.page.click(".locator-switch")
        assert not page.page.is_visible(".locator-body")
        assert page.ask("document.querySelector('.locator-switch').getAttribute('aria-expanded')") == "false"


def test_names_keep_clear_of_the_figures_of_the_grid(tmp_path):
    """The lane runs north beside the right edge of the map, where the figures of the grid are."""
    with open_page(saved(tmp_path, view()), 1400, 900) as page:
        wait_until_drawn(page)
        overlaps = []
        for away in (26, 32, 38):
            page.ask(
                f"""void (() => {{ const map = map_kerfbook; map.setView([44.8015, {MIDDLE}], 18, {{ animate: false }});
                map.panBy([{away} - map.getSize().x / 2, 0], {{ animate: false }}); }})()"""
            )
            page.page.wait_for_timeout(300)
            overlaps += page.ask(
                """kerfbook.names.placed.filter(({ text }) => text === 'Dory Lane').flatMap(({ points }) =>
                KerfbookGrid.labelsOnScreen().filter(({ isUpright }) => isUpright).map(({ x, y, half }) =>
                  points.some(([px, py]) => Math.abs(px - x) < 8 && Math.abs(py - y) < half + 4)))"""
            )
        assert overlaps
        assert not any(overlaps)


def test_the_canvas_takes_the_dark_colours_and_paper_the_light_ones(tmp_path):
    ground = "KerfbookSymbols.COLOURS.ground"
    with open_page(saved(tmp_path, view()), color_scheme="dark") as page:
        wait_until_drawn(page)
        assert page.ask(ground) == DARK_COLOURS["ground"]
        page.ask("window.dispatchEvent(new Event('beforeprint'))")
        assert page.ask(ground) == COLOURS["ground"]
        page.ask("window.dispatchEvent(new Event('afterprint'))")
        assert page.ask(ground) == DARK_COLOURS["ground"]
        page.page.emulate_media(color_scheme="light")
        page.wait_for(f"{ground} === '{COLOURS['ground']}'")
        assert page.complaints == []
