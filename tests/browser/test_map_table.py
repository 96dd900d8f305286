"""The cores as a table, and the order of its rows."""

import numpy as np

from tests.browser.browser import open_page
from tests.browser.town import (
    card,
    five,
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
