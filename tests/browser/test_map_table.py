"""The cores as a table, and the order of its rows."""

import numpy as np

from tests.browser.browser import open_page
from tests.browser.town import (
    FIVE,
    FIVE_FINDINGS,
    card,
    five,
    saved,
    view,
    wait_until_drawn,
)


def test_the_table_holds_the_same_cores_sorted_and_filtered(tmp_path):
    with open_page(five(tmp_path)) as page:
        wait_until_drawn(page)
        page.page.click("#as-table")
        ids = "[...document.querySelectorAll('.cores-table tbody th')].map((h) => h.textContent)"
        assert page.ask(ids) == ["C-1", "C-2", "C-3", "C-4", "C-5"]
        page.page.click("[data-column=opened] button")
        page.page.click("[data-column=opened] button")
        # cores without a date come last either way
        assert page.ask(ids) == ["C-4", "C-2", "C-3", "C-1", "C-5"]
        assert page.ask("document.querySelector('[data-column=opened]').getAttribute('aria-sort')") == "descending"
        page.ask("kerfbook.filter.ask('status', new Set(['flagged']))")
        assert page.ask(ids) == ["C-1", "C-5"]
        assert page.text(".table-steps p") == "1 to 2 of 2 cores"
        page.page.click(".cores-table tbody tr:nth-child(2) button")
        assert "No coordinates, twice." in page.text("dialog")
        page.page.keyboard.press("Escape")
        page.page.click(".cores-table tbody tr:nth-child(1) button")
        page.page.click("dialog button:has-text('Show on the map')")
        assert card(page).startswith("C-1")


def test_rows_are_sorted_either_way_with_ties_in_order_and_missing_keys_last(tmp_path):
    """Against Python's sort, which keeps equals too; with keys so far apart that key and row do not fit one double."""
    random = np.random.default_rng(8)
    with open_page(five(tmp_path)) as page:
        wait_until_drawn(page)
        for spread in (3, 10**6, 10**14):
            keys = [int(key) if key > -spread * 0.8 else None for key in random.integers(-spread, spread, 300)]
            places = random.permutation(300).tolist()
            for down in (False, True):
                found = page.ask(
                    f"(() => {{ const keys = {keys}.map((key) => key ?? NaN);".replace("None", "null")
                    + f"return [...KerfbookSorting.byKey({places}, (i) => keys[i], {str(down).lower()})]; }})()"
                )
                sign = -1 if down else 1
                assert found == sorted(places, key=lambda i: (keys[i] is None, sign * (keys[i] or 0)))
        assert page.ask("[...KerfbookSorting.byKey([], (i) => i), ...KerfbookSorting.byKey([2, 1], () => NaN)]") == [
            2,
            1,
        ]


IDS = "[...document.querySelectorAll('.cores-table tbody th')].map((h) => h.textContent)"


def _everything(folder):
    """Five cores with all that may be handed over, and long texts."""
    more = FIVE.assign(
        core_id=["HV-9", "hv-10", "HV-2", None, "HV-100"],
        urgency=["overdue", "hazard", None, None, "record"],
        state=["open", "plated", "back", "back", "unknown"],
        permit_no=["P-20", "P-3", None, "P-100", None],
        permit_expires_on=["2026-12-01", None, "2026-10-05", None, None],
        planned_on=[None, "2026-11-30", None, None, "2026-11-27"],
        road_authority=["Harbour Vale highways", "Vale county roads", None, None, "Harbour Vale highways"],
    )
    wrong = FIVE_FINDINGS.assign(urgency=["overdue", "record", "hazard", "record", "record"])
    shown = more.assign(street=["Capstan Street " * 9, "Dory Lane", "Quay", None, None])
    return saved(folder, view(cores=shown, findings=wrong))


def test_the_reinstatement_date_is_seen_at_1400_pixels_and_every_row_has_one_line(tmp_path):
    with open_page(_everything(tmp_path), 1400, 900) as page:
        wait_until_drawn(page)
        page.page.click("#as-table")
        heads = page.ask("[...document.querySelectorAll('.cores-table thead th')].map((h) => h.dataset.column)")
        assert heads[:10] == (
            ["core", "status", "state", "urgency", "findings", "street", "district", "opened", "reinstated", "planned"]
        )
        assert heads[10:] == ["permit", "expires", "authority", "surface", "chainage"]
        box = "document.querySelector('#table-view .scroll').getBoundingClientRect().right"
        assert page.ask(f"document.querySelector('[data-column=reinstated]').getBoundingClientRect().right <= {box}")
        heights = page.ask("[...document.querySelectorAll('.cores-table tbody tr')].map((r) => r.offsetHeight)")
        assert max(heights) <= 36
        # moved sideways, the id is still there
        page.ask("void document.querySelector('#table-view .scroll').scrollBy(9999, 0)")
        left = "document.querySelector('.cores-table tbody th').getBoundingClientRect().left"
        assert page.ask(f"{left} >= 0 && {left} < 30")


def test_findings_are_badges_that_open_one_by_one_or_all_at_once(tmp_path):
    with open_page(_everything(tmp_path), 1400, 900) as page:
        wait_until_drawn(page)
        page.page.click("#as-table")
        badges = "[...document.querySelectorAll('.badge')].map((b) => [b.textContent, b.getAttribute('aria-expanded')])"
        assert page.ask(badges) == [
            ["Road uncertain", "false"],
            ["Open too long +1", "false"],
            ["Position missing +1", "false"],
        ]
        # the mark of a hazard stands on the badge
        assert page.ask("[...document.querySelectorAll('.badge')].map((b) => b.querySelectorAll('svg').length)") == [
            1,
            0,
            0,
        ]
        page.page.click(".badge >> nth=1")
        assert page.ask(badges)[1] == ["Open too long +1", "true"]
        assert "Open for 319 days: reinstate it." in page.text("tr.detail")
        assert page.ask("document.activeElement.className") == "badge fail"
        page.page.keyboard.press("Enter")
        assert page.ask("document.querySelectorAll('tr.detail').length") == 0
        page.page.click("text=Findings in full")
        assert page.ask("document.querySelectorAll('tr.detail').length") == 3
        page.page.click("text=Findings in full")
        assert page.ask("document.querySelectorAll('tr.detail').length") == 0


def test_every_column_sorts_the_table_and_ids_count_as_numbers(tmp_path):
    """By hand: what each column holds, smallest first, what is missing last, equals in the register's order."""
    expected = {
        "core": ["HV-2", "HV-9", "hv-10", "HV-100", "no id"],
        "status": ["HV-9", "HV-100", "hv-10", "HV-2", "no id"],
        "state": ["HV-9", "hv-10", "HV-2", "no id", "HV-100"],
        "urgency": ["hv-10", "HV-9", "HV-100", "HV-2", "no id"],
        "findings": ["HV-9", "HV-100", "hv-10", "HV-2", "no id"],
        "street": ["HV-9", "hv-10", "HV-2", "no id", "HV-100"],
        "district": ["HV-9", "hv-10", "HV-2", "no id", "HV-100"],
        "opened": ["HV-9", "HV-2", "hv-10", "no id", "HV-100"],
        "reinstated": ["HV-2", "no id", "HV-9", "hv-10", "HV-100"],
        "planned": ["HV-100", "hv-10", "HV-9", "HV-2", "no id"],
        "permit": ["hv-10", "HV-9", "no id", "HV-2", "HV-100"],
        "expires": ["HV-2", "HV-9", "hv-10", "no id", "HV-100"],
        "authority": ["HV-9", "HV-100", "hv-10", "HV-2", "no id"],
        "surface": ["HV-9", "HV-2", "no id", "HV-100", "hv-10"],
    }
    with open_page(_everything(tmp_path), 1400, 900) as page:
        wait_until_drawn(page)
        page.page.click("#as-table")
        # the most urgent come first by themselves
        assert page.ask(IDS) == expected.pop("urgency")
        found = {}
        for name in expected:
            page.ask(f"void document.querySelector('[data-column={name}] button').click()")
            found[name] = page.ask(IDS)
        assert found == expected
        assert page.complaints == []


def test_on_a_phone_urgency_and_findings_come_first(tmp_path):
    with open_page(_everything(tmp_path), 390, 844) as page:
        wait_until_drawn(page)
        page.page.click("#as-table")
        heads = "[...document.querySelectorAll('.cores-table thead th')].map((h) => h.dataset.column)"
        assert page.ask(heads)[:3] == ["core", "urgency", "findings"]
        assert page.ask("document.documentElement.scrollWidth <= 390")
        page.page.set_viewport_size({"width": 1400, "height": 900})
        page.wait_for(f"{heads}[1] === 'status'")
