"""A page at 200 and 400 percent, and on phones: nothing is lost, and the map keeps half of the screen."""

import pytest

from tests.browser.browser import open_page
from tests.browser.town import cores, findings, saved, view, wait_until_drawn

LONG = "Harbour Vale and Saltmarsh water mains renewal programme, second stage"


def _town(folder):
    long_name = "Old Harbour and the Upper Saltmarsh Conservation Area"
    places = [
        {"lon": -82.003, "lat": 44.8, "district": long_name},
        {"lon": -81.998, "lat": 44.8, "district": "Saltmarsh"},
    ]
    placed = cores(*places)
    return saved(folder, view(title=LONG, cores=placed, findings=findings(), unplaced=0))


SHARE = "document.querySelector('#map-area').getBoundingClientRect().height / innerHeight"
SEEN = "(id) => { const b = document.querySelector(id).getBoundingClientRect(); return b.width > 0 && b.height > 0 && b.left >= 0 && b.right <= innerWidth && b.bottom <= innerHeight; }"


@pytest.mark.parametrize(
    ("width", "height", "least"),
    [(640, 400, 0.5), (320, 256, 0.5), (320, 200, 0.5), (390, 844, 0.45), (360, 640, 0.45), (844, 390, 0.45)],
)
def test_the_map_keeps_half_of_a_small_screen_and_nothing_is_wider_than_it(tmp_path, width, height, least):
    with open_page(_town(tmp_path), width, height) as page:
        wait_until_drawn(page)
        assert page.ask(SHARE) >= least
        assert page.ask("document.documentElement.scrollWidth") <= width
        assert page.ask("document.documentElement.scrollHeight") <= height
        assert page.complaints == []


def test_at_200_percent_nothing_disappears(tmp_path):
    with open_page(_town(tmp_path), 640, 400) as page:
        wait_until_drawn(page)
        for part in (
            "#title",
            "#as-of",
            "#query",
            "#as-table",
            "#in-us",
            "#print",
            "#scope",
            "#four",
            "#panel-switch",
        ):
            assert page.ask(f"({SEEN})('{part}')"), part
        lost = "[...document.querySelectorAll('.answer')].filter((a) => a.scrollHeight > a.clientHeight + 1).length"
        assert page.ask(lost) == 0


def test_at_400_percent_the_head_is_one_line_that_opens_and_closes(tmp_path):
    with open_page(_town(tmp_path), 320, 256) as page:
        wait_until_drawn(page)
        assert page.ask("document.querySelector('.top').offsetHeight") <= 44
        hidden = "['#query', '#as-table', '#print', '#four'].filter((id) => !document.querySelector(id).getClientRects().length).length"
        assert page.ask(hidden) == 4
        page.page.keyboard.press("Tab")
        page.page.keyboard.press("Tab")
        page.page.keyboard.press("Tab")
        assert page.ask("document.activeElement.id") == "head-switch"
        page.page.keyboard.press("Enter")
        assert page.ask(hidden) == 0
        assert page.ask("document.activeElement.getAttribute('aria-expanded')") == "true"
        assert page.ask("document.documentElement.scrollWidth") <= 320
        # what is chosen there shows on the map, with the head out of the way
        page.page.fill("#query", "C-1")
        page.page.click("#results button:has-text('C-1')")
        page.wait_for("document.querySelector('.leaflet-popup .card')")
        assert page.ask(hidden) == 4
        assert page.ask(SHARE) >= 0.5


@pytest.mark.parametrize(("touch", "least"), [(False, 24), (True, 44)])
def test_what_is_pressed_is_large_enough_for_a_pointer_and_a_finger(tmp_path, touch, least):
    """24 pixels: WCAG 2.2, 2.5.8; 44: 2.5.5, asked here of the main buttons."""
    with open_page(_town(tmp_path), 390, 844, has_touch=touch, is_mobile=touch) as page:
        wait_until_drawn(page)
        mains = ["#as-map", "#as-table", "#in-us", "#print", "#panel-switch", "#query"]
        sizes = {part: page.ask(f"document.querySelector('{part}').offsetHeight") for part in mains}
        assert {part: size for part, size in sizes.items() if size < least} == {}
        small = (
            "[...document.querySelectorAll('button, select, input:not([type=checkbox])')].filter((b) => "
            "b.getClientRects().length && (b.offsetHeight < 24 || b.offsetWidth < 24)).map((b) => b.id || b.className)"
        )
        page.page.click("#panel-switch")
        assert page.ask(small) == []
