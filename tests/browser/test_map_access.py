"""The map for everyone: axe-core finds nothing, the keyboard reaches everything, and the flagged cores need no script.

axe-core is the copy inside the package axe-playwright-python.
"""

from importlib import resources

import pytest

from pipeline.publish.map.page import Background
from tests.browser.browser import open_page
from tests.browser.town import STREET, card, cores, findings, saved, spot, view, wait_until_drawn

_AXE = (resources.files("axe_playwright_python") / "axe.min.js").read_text("utf-8")


def violations(page):
    page.ask(f"void (() => {{ {_AXE} }})()")
    return page.ask(
        "axe.run(document, { resultTypes: ['violations'] }).then((found) => found.violations.map("
        "(v) => [v.id, v.nodes.map((n) => n.target.join(' ') + ' ' + n.failureSummary.slice(0, 200))]))"
    )


@pytest.mark.parametrize(("width", "scheme"), [(1280, "light"), (1280, "dark"), (390, "light"), (390, "dark")])
def test_axe_finds_nothing_on_the_map_its_card_the_table_and_the_dialog(tmp_path, width, scheme):
    with open_page(saved(tmp_path, view()), width, 800, color_scheme=scheme) as page:
        wait_until_drawn(page)
        page.page.mouse.click(*spot(page, -82.003, STREET))
        card(page)
        # half faded in, a card has less contrast
        page.wait_for("Number(getComputedStyle(document.querySelector('.leaflet-popup')).opacity) > 0.99")
        if width < 760:
            page.page.click("#panel-switch")
        page.ask("document.querySelectorAll('#panel details').forEach((d) => { d.open = true; })")
        assert violations(page) == []
        page.ask("void document.querySelector('#as-table').click()")
        page.ask("void document.querySelector('.badge').click()")
        assert violations(page) == []
        page.ask("void document.querySelector('.cores-table tbody button').click()")
        page.wait_for("document.querySelector('dialog').open")
        assert violations(page) == []


def test_axe_finds_nothing_on_the_list_shown_where_the_map_cannot_draw(tmp_path):
    with open_page(saved(tmp_path, view())) as page:
        page.page.add_init_script("delete window.DecompressionStream")
        page.page.reload()
        page.wait_for("document.documentElement.classList.contains('failed')")
        assert violations(page) == []


def focus(page):
    return page.ask("(() => { const e = document.activeElement; return e.id || e.className || e.tagName; })()")


def test_the_keyboard_alone_finds_filters_opens_and_closes(tmp_path):
    with open_page(saved(tmp_path, view())) as page:
        wait_until_drawn(page)
        keys = page.page.keyboard
        reached = []
        for _ in range(40):
            keys.press("Tab")
            reached.append(focus(page))
        for wanted in (
            "query",
            "as-map",
            "as-table",
            "in-us",
            "print",
            "map_kerfbook",
            "leaflet-control-zoom-in",
            "show-network",
        ):
            assert wanted in reached, (wanted, reached)
        # the map: arrows move, Enter opens the core nearest the middle, Escape closes it
        page.ask("void map_kerfbook.getContainer().focus()")
        before = page.ask("map_kerfbook.getCenter().lng")
        keys.press("ArrowRight")
        page.wait_for(f"map_kerfbook.getCenter().lng > {before}")
        keys.press("Enter")
        assert card(page).startswith("C-")
        keys.press("Escape")
        page.wait_for("!document.querySelector('.leaflet-popup .card')")
        # the filter: a question opens, a choice is ticked, by keys alone
        page.ask("void document.querySelector('[data-question=severity] summary').focus()")
        keys.press("Enter")
        page.wait_for("document.querySelector('[data-question=severity] label')")
        keys.press("Tab")
        if "choices" in str(focus(page)):
            keys.press("Tab")
        keys.press("Space")
        assert page.text("#matching") == "2 of 4 cores match"
        # the table: its switch, a row's button, the card, and back to where one was
        page.ask("void document.querySelector('#as-table').focus()")
        keys.press("Enter")
        page.ask("void document.querySelector('.cores-table tbody button').focus()")
        keys.press("Enter")
        page.wait_for("document.querySelector('dialog').open")
        keys.press("Escape")
        page.wait_for("!document.querySelector('dialog').open")
        assert focus(page) == "link"
        assert page.complaints == []


def test_without_script_the_page_lists_the_flagged_cores_and_the_counts(tmp_path):
    path = saved(tmp_path, view())
    with open_page(path, java_script_enabled=False) as page:
        text = page.page.inner_text("#plain")
        assert "As of 25 Nov 2026: 2 flagged, 1 pending, 1 reinstated; 4 cores in all." in text
        assert "12 mm deep, 25 to 1000 mm expected: measure it again" in text
        assert "no coordinates in the row" in text
        assert "C-2" not in text
        assert not page.page.is_visible("#map-area")
        assert page.page.title() == "Harbour Vale water"


def test_a_browser_that_cannot_unpack_the_data_shows_the_list_instead(tmp_path):
    path = saved(tmp_path, view())
    text = path.read_text("utf-8")
    with open_page(path) as page:
        page.page.add_init_script("delete window.DecompressionStream")
        page.page.reload()
        page.wait_for("document.documentElement.classList.contains('failed')")
        assert page.page.is_visible("#plain")
        assert "C-1" in page.page.inner_text("#plain")
    assert "</noscript>" not in text


def test_a_background_is_off_until_asked_for_and_its_host_alone_is_let_in(tmp_path):
    shown = view(
        background=Background("https://tiles.harbourvale.example/{z}/{x}/{y}.png", "Harbour Vale survey office")
    )
    with open_page(saved(tmp_path, shown)) as page:
        wait_until_drawn(page)
        policy = page.ask("document.querySelector('meta[http-equiv]').content")
        assert "img-src data: https://tiles.harbourvale.example; base-uri" in policy
        assert len(page.requests) == 1
        assert "tiles.harbourvale.example" in page.text("#about")
        page.page.click("#layers label:last-child input")
        page.wait_for("!document.querySelector('.leaflet-background-pane img')")
        assert any(request.startswith("https://tiles.harbourvale.example/") for request in page.requests)
        # the failed pictures are the only complaint, and the map goes on
        assert all("ERR_INTERNET_DISCONNECTED" in complaint for complaint in page.complaints)
        page.page.mouse.click(*spot(page, -82.003, STREET))
        assert card(page).startswith("C-1")


def test_on_a_phone_the_filter_and_the_table_fit(tmp_path):
    wide = cores({"lon": -82.003, "lat": STREET, "street": "W" * 300, "core_id": "I" * 300, "district": "D" * 300})
    with open_page(
        saved(tmp_path, view(cores=wide, findings=findings(), unplaced=0)), width=360, height=740, has_touch=True
    ) as page:
        wait_until_drawn(page)
        fits = "document.documentElement.scrollWidth <= 360"
        page.page.click("#panel-switch")
        assert page.ask(fits)
        page.page.click("#panel-switch")
        page.page.click("#as-table")
        page.wait_for("document.querySelector('.cores-table tbody tr')")
        assert page.ask(fits)
        page.page.click(".cores-table tbody button")
        page.wait_for("document.querySelector('dialog').open")
        assert page.ask(fits)
