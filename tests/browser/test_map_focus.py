"""Where the focus is: past the head, into the card and back; what a screen reader is told of a card that closes."""

from tests.browser.browser import open_page
from tests.browser.town import (
    STREET,
    card,
    cores,
    findings,
    five,
    saved,
    spot,
    view,
    wait_until_drawn,
    wait_until_still,
)

FOCUSED = "(() => { const e = document.activeElement; return e.id || e.className || e.tagName; })()"
POPUP = "document.querySelector('.leaflet-popup')"


def test_the_first_two_keys_lead_past_the_head_to_map_table_or_panel(tmp_path):
    with open_page(five(tmp_path), 390, 844) as page:
        wait_until_drawn(page)
        address = page.ask("location.href")
        keys = page.page.keyboard
        keys.press("Tab")
        assert page.ask(FOCUSED) == "skip-map"
        # seen only while it has the focus
        box = "document.querySelector('#skip-map').getBoundingClientRect()"
        assert page.ask(f"{box}.height > 24 && {box}.left >= 0")
        keys.press("Enter")
        assert page.ask(FOCUSED) == "map_kerfbook"
        page.ask("void document.querySelector('#skip-panel').focus()")
        assert page.ask(f"{box}.width") == 1
        keys.press("Enter")
        # on a phone the panel opens first
        assert page.ask(FOCUSED) == "panel"
        assert page.ask("document.body.classList.contains('panel-open')")
        keys.press("Escape")
        assert page.ask(FOCUSED) == "panel-switch"
        assert not page.ask("document.body.classList.contains('panel-open')")
        page.ask("void document.querySelector('#as-table').click()")
        page.ask("void document.querySelector('#skip-map').focus()")
        keys.press("Enter")
        assert page.ask(FOCUSED) == "scroll"
        assert page.ask("location.href").split("#")[0] == address.split("#")[0]
        assert "#map-area" not in page.ask("location.href")


def test_a_card_takes_the_focus_and_gives_it_back_to_where_it_was(tmp_path):
    with open_page(five(tmp_path)) as page:
        wait_until_drawn(page)
        page.page.fill("#query", "C-2")
        page.page.click("#results button:has-text('C-2')")
        assert card(page).startswith("C-2")
        assert page.ask(FOCUSED) == "stack"
        assert page.ask(f"[{POPUP}.getAttribute('role'), {POPUP}.getAttribute('aria-label')]") == ["dialog", "Core C-2"]
        # nothing inside it is read a second time
        assert page.ask(f"{POPUP}.querySelectorAll('[aria-live], [role=status], [role=alert]').length") == 0
        page.page.keyboard.press("Escape")
        page.wait_for(f"!{POPUP}")
        page.ask("void document.querySelector('#near').setAttribute('open', '')")
        wait_until_still(page)
        page.wait_for(
            "document.querySelector('#near button.row')?.focus() || document.activeElement.className === 'row'"
        )
        page.page.keyboard.press("Enter")
        page.wait_for(POPUP)
        wait_until_still(page)
        page.page.click(".leaflet-popup .closer")
        # the list was written anew as the map moved: its head is what is left of where the focus was
        assert page.ask("document.activeElement.parentElement.id") == "near"
        # from the map, by mouse: back to the map, once it no longer moves to make room for a card
        page.wait_for("!map_kerfbook._panAnim || !map_kerfbook._panAnim._inProgress")
        page.page.mouse.click(*spot(page, -82.003, STREET))
        assert card(page).startswith("C-1")
        assert page.ask(FOCUSED) == "stack"
        page.page.keyboard.press("Escape")
        assert page.ask(FOCUSED) == "map_kerfbook"
        assert page.complaints == []


def test_of_several_cores_at_a_spot_the_button_keeps_the_focus_and_names_what_it_brought(tmp_path):
    pair = cores({"lon": -82.003, "lat": STREET}, {"lon": -82.003, "lat": STREET})
    with open_page(saved(tmp_path, view(cores=pair, findings=findings(), unplaced=0))) as page:
        wait_until_drawn(page)
        page.page.mouse.click(*spot(page, -82.003, STREET))
        first = card(page)[:3]
        # the map may still move to make room for the card
        wait_until_still(page)
        page.page.click(".leaflet-popup .after")
        second = {"C-1": "C-2", "C-2": "C-1"}[first]
        assert page.ask(f"{POPUP}.getAttribute('aria-label')") == f"Core {second}"
        assert page.ask(FOCUSED) == "more after"
        page.page.wait_for_timeout(400)
        assert page.ask(f"{POPUP} !== null")
        described = "document.getElementById(document.activeElement.getAttribute('aria-describedby')).textContent"
        assert page.ask(described) == second


def test_the_card_of_a_core_that_a_filter_hides_closes_and_says_so(tmp_path):
    with open_page(five(tmp_path)) as page:
        wait_until_drawn(page)
        page.page.mouse.click(*spot(page, -82.003, STREET))
        assert card(page).startswith("C-1")
        page.ask("kerfbook.filter.ask('status', new Set(['flagged', 'pending']))")
        assert page.text("#announcement") == ""
        assert page.ask(f"{POPUP} !== null")
        page.ask("kerfbook.filter.ask('status', new Set(['pending']))")
        assert page.text("#announcement") == "Card closed: core C-1 does not match the filter."
        page.wait_for(f"!{POPUP}")
        assert page.ask(FOCUSED) == "map_kerfbook"
        page.wait_for("!location.hash.includes('C-1')")
