"""The link to a view: it reopens place, filter, units and core, and never breaks the page."""

import pytest

from tests.browser.browser import open_page
from tests.browser.town import (
    STREET,
    card,
    five,
    rows_shown,
    spot,
    wait_until_drawn,
)


def test_the_link_reopens_place_filter_units_and_core(tmp_path):
    path = five(tmp_path)
    with open_page(path) as page:
        wait_until_drawn(page)
        page.page.mouse.click(*spot(page, -82.003, STREET))
        card(page)
        page.ask("void kerfbook.map.setView([44.8005, -82.0025], 17.5, { animate: false })")
        page.page.click("#in-us")
        page.ask(
            "kerfbook.filter.askAll({ status: new Set(['flagged']), district: new Set([null, 'Old Harbour']), opened: [20000, null], rule: new Set(['open-too-long']) })"
        )
        page.wait_for("location.hash.includes('rule') && location.hash.includes('core=C-1')")
        fragment = page.ask("location.hash")
        assert page.complaints == []
    with open_page(path, fragment=fragment) as page:
        wait_until_drawn(page)
        assert "17.99 in dia." in card(page)
        assert card(page).startswith("C-1")
        assert rows_shown(page) == [1]
        lat, lon, zoom = page.ask(
            "[kerfbook.map.getCenter().lat, kerfbook.map.getCenter().lng, kerfbook.map.getZoom()]"
        )
        assert (lat, lon, zoom) == pytest.approx((44.8005, -82.0025, 17.5), abs=2e-3)
        page.page.wait_for_timeout(400)
        assert page.ask("kerfbook.filter.wanted.district.has(null)")
        assert page.requests[0].endswith("map.html") or "#" in page.requests[0]
        assert len(page.requests) == 1


def test_the_page_does_not_overwrite_an_address_that_it_has_not_followed_yet(tmp_path):
    with open_page(five(tmp_path)) as page:
        wait_until_drawn(page)
        # as when it is typed, its event still to come, while the page is about to write its own
        page.ask("void history.replaceState(null, '', '#status=%3Dpending')")
        page.ask("void kerfbook.map.panBy([30, 0], { animate: false })")
        page.page.wait_for_timeout(500)
        assert page.ask("location.hash") == "#status=%3Dpending"
        page.ask("void window.dispatchEvent(new HashChangeEvent('hashchange'))")
        assert rows_shown(page) == [2]


@pytest.mark.parametrize(
    "fragment",
    [
        "#at=x/y/z",
        "#at=17/95/400&row=99999&units=roods",
        "#opened=never/2026-13-45",
        "#%E0%A4%A",
        "#status=%3Dlost&open=x&view=chair",
    ],
)
def test_a_nonsense_link_still_opens_the_map(tmp_path, fragment):
    with open_page(five(tmp_path), fragment=fragment) as page:
        wait_until_drawn(page)
        assert page.complaints == []
        assert page.ask("kerfbook.map.getZoom() > 10")
