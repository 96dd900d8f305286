"""The streets and the year of months on a map whose date lies long before, or long after, what its cores state."""

import datetime as dt

import pytest

from tests.browser.browser import open_page
from tests.browser.town import FINDINGS, STREET, cores, saved, view, wait_until_drawn

_STREETS = "[...document.querySelectorAll('button')].find((one) => one.textContent.trim() === 'Streets').click()"
_MONTHS = "[...document.querySelectorAll('button')].find((one) => one.textContent.trim() === 'Month by month').click()"
_LABELS = "[...document.querySelectorAll('.strip-days text')].map((one) => one.textContent)"


def _sheet(folder, as_of):
    """Sixty open cores, cut in 2026; and one whose day of 1926 is a slip of the pen."""
    days = ["1926-07-01", *["2026-08-03"] * 60]
    rows = [
        {"lon": -82.003 + n * 1e-4, "lat": STREET, "chainage_m": 79.0 + 8 * n, "opened_on": d}
        for n, d in enumerate(days)
    ]
    shown = cores(*rows).assign(state="open", urgency=None, plated_on=[None, *["2026-08-04"] * 60])
    return saved(folder, view(cores=shown, findings=FINDINGS[:0], as_of=as_of, unplaced=0))


def test_before_any_core_was_opened_no_line_runs_backwards_and_the_year_is_that_of_the_map(tmp_path):
    with open_page(_sheet(tmp_path, dt.date(2020, 1, 1)), width=1400, height=900) as page:
        wait_until_drawn(page)
        page.ask(_STREETS)
        page.wait_for("document.querySelectorAll('.mark').length === 61")
        drawn = page.ask(
            "[...document.querySelectorAll('.mark-open, .mark-plated')].map((one) => one.getAttribute('d')).join('')"
        )
        # each part is "Mx fromVto": from the day opened down to the date of the map
        runs = [part.replace("V", " ").split()[1:] for part in drawn.split("M")[1:] if "V" in part]
        assert all(float(begins) <= float(ends) for begins, ends in runs)
        assert len(runs) <= 1
        page.ask(_MONTHS)
        page.wait_for("document.body.innerText.includes('open at the end')")
        text = page.ask("document.body.innerText")
        assert "January 2020" in text
        assert "1925" not in text
        assert page.complaints == []


@pytest.mark.parametrize(("as_of", "label"), [(dt.date(2035, 1, 1), "2030"), (dt.date(2026, 11, 25), "Aug 2026")])
def test_ticks_of_years_are_years_and_not_days_of_a_month(tmp_path, as_of, label):
    with open_page(_sheet(tmp_path, as_of), width=1400, height=900) as page:
        wait_until_drawn(page)
        page.ask(_STREETS)
        page.wait_for("document.querySelectorAll('.strip-days text').length > 0")
        labels = page.ask(_LABELS)
        assert label in labels
        assert not {"Jan 28", "Jan 30", "Jan 32"} & set(labels)
