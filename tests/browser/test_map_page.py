"""The map page in a real browser: opened from disk, the network off."""

from pathlib import Path

import pytest

from tests.browser.browser import open_page
from tests.browser.town import (
    FINDINGS,
    MIDDLE,
    STREET,
    THREE,
    card,
    saved,
    spot,
    view,
    wait_until_drawn,
)


def test_the_page_opens_without_a_request_or_a_complaint(tmp_path: Path) -> None:
    path = saved(tmp_path, view())
    with open_page(path) as page:
        wait_until_drawn(page)
        assert page.requests == [path.as_uri()]
        assert page.complaints == []
        assert page.text("h1") == "Harbour Vale water"
        assert page.text("#as-of") == "As of 25 November 2026 · 4 cores"
        assert page.ask("[document.documentElement.lang, document.querySelectorAll('main').length]") == ["en", 1]
        assert page.text(".leaflet-control-attribution") == "Leaflet"
        assert page.text(".credit") == "Data: Harbour Vale road centrelines"
        assert "Lift a core with two people" in page.text("#cautions")
        assert "EPSG:32617" in page.text("#crs")


def test_the_policy_lets_no_other_script_run(tmp_path: Path) -> None:
    with open_page(saved(tmp_path, view())) as page:
        wait_until_drawn(page)
        page.ask(
            "void (() => { const s = document.createElement('script'); s.textContent = 'window.ran = 1';"
            "document.body.append(s); document.body.insertAdjacentHTML('beforeend',"
            "'<img src=x onerror=\"window.ran=1\">'); })()"
        )
        page.page.wait_for_timeout(200)
        assert page.ask("typeof window.ran") == "undefined"
        assert any("Content Security Policy" in complaint for complaint in page.complaints)


def test_the_legend_counts_every_core_and_those_not_on_the_map(tmp_path: Path) -> None:
    with open_page(saved(tmp_path, view())) as page:
        wait_until_drawn(page)
        counts = page.ask(
            "[...document.querySelectorAll('#legend .count')].map((c) => [c.dataset.status, c.textContent])"
        )
        assert counts == [["flagged", "2"], ["pending", "1"], ["reinstated", "1"]]
        assert page.text("#legend .off") == "1 not on the map"
        assert page.text("#unplaced-note").startswith("1 core is not on the map: no usable position.")
        assert page.text("#in-view") == "In view: 1 flagged, 1 pending, 1 reinstated."


def test_a_core_not_on_the_map_is_listed_and_its_card_gives_the_reason(tmp_path: Path) -> None:
    with open_page(saved(tmp_path, view())) as page:
        wait_until_drawn(page)
        page.page.click("#unplaced-note button")
        page.wait_for("document.querySelector('#unplaced button.row')")
        assert page.text("#unplaced .row-id") == "C-4"
        page.page.click("#unplaced button.row")
        page.wait_for("document.querySelector('dialog').open")
        assert "no coordinates in the row" in page.text("dialog")


def test_enter_opens_the_core_nearest_the_centre_and_escape_closes_it(tmp_path: Path) -> None:
    with open_page(saved(tmp_path, view())) as page:
        wait_until_drawn(page)
        page.ask(f"void map_kerfbook.panTo([{STREET}, -81.9985], {{animate: false}})")
        page.ask("map_kerfbook.getContainer().focus()")
        page.page.keyboard.press("Enter")
        assert "No findings." in card(page)
        assert page.text(".leaflet-popup h2") == "C-3"
        page.page.keyboard.press("Escape")
        page.wait_for("!document.querySelector('.leaflet-popup')")
        assert page.ask("document.activeElement === map_kerfbook.getContainer()")


def test_a_street_name_shows_under_the_pointer_and_its_surface_on_a_click(tmp_path: Path) -> None:
    with open_page(saved(tmp_path, view())) as page:
        wait_until_drawn(page)
        x, y = spot(page, MIDDLE, 44.802)
        page.page.mouse.move(x + 2, y)
        page.wait_for("document.querySelector('.street-tip')")
        assert page.text(".street-tip") == "Dory Lane"
        page.page.mouse.click(x + 2, y)
        page.wait_for("document.querySelector('.road-card')")
        assert page.text(".road-card") == "×Dory LaneSurface: concreteRoad segment: HV-2"


def test_districts_show_their_counts_and_orders(tmp_path: Path) -> None:
    with open_page(saved(tmp_path, view())) as page:
        wait_until_drawn(page)
        names = page.ask("[...document.querySelectorAll('.district-name')].map((n) => n.textContent)")
        assert names == ["Old Harbour", "Saltmarsh", "No district"]
        assert page.text(".district:nth-child(1) .tally") == "1 Flagged 1 Pending 0 Reinstated "
        assert page.text(".district:nth-child(3) .tally") == "1 Flagged 0 Pending 0 Reinstated "
        page.wait_for("kerfbook.names.placed.filter((name) => name.kind === 'district').length === 2")
        page.page.click(".district:nth-child(2) summary")
        page.wait_for("document.querySelector('.orders')")
        assert page.text(".orders tbody") == "2026-W48grout, dark, kg61.257513.753"


@pytest.mark.parametrize("with_roads", [True, False])
def test_a_run_without_cores_and_districts_still_draws(tmp_path: Path, *, with_roads: bool) -> None:
    base = view()
    empty = view(
        cores=THREE[:0],
        findings=FINDINGS[:0],
        segments=base.segments if with_roads else base.segments[:0],
        districts=None,
        orders=base.orders[:0],
        unplaced=0,
        sources=[],
        cautions=[],
    )
    with open_page(saved(tmp_path, empty)) as page:
        wait_until_drawn(page)
        assert page.complaints == []
        assert page.text("#in-view") == "In view: 0 flagged, 0 pending, 0 reinstated."
        page.ask("map_kerfbook.getContainer().focus()")
        page.page.keyboard.press("Enter")
        assert page.ask("document.querySelector('.leaflet-popup')") is None


def test_on_a_phone_the_panel_opens_and_closes(tmp_path: Path) -> None:
    with open_page(saved(tmp_path, view()), width=390, height=844) as page:
        wait_until_drawn(page)
        assert page.ask("document.documentElement.scrollWidth <= 390")
        assert page.ask("document.querySelector('#panel').offsetHeight") == 0
        page.page.click("#panel-switch")
        page.wait_for("document.querySelector('#panel').offsetHeight > 300")
        page.page.click("#panel-switch")
        page.wait_for("document.querySelector('#panel').offsetHeight === 0")
