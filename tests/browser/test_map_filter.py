"""What the filter lets through, the counts beside its choices, the day slider."""

import numpy as np
import pandas as pd

from tests.browser.browser import open_page
from tests.browser.town import (
    FIVE,
    FIVE_FINDINGS,
    STREET,
    colour_at,
    findings,
    five,
    rows_shown,
    saved,
    view,
    wait_until_drawn,
)

CASES = {
    "status": ("new Set(['pending', 'reinstated'])", [2, 3, 4]),
    "severity": ("new Set(['check'])", [1, 2]),
    "rule": ("new Set(['position-missing', 'open-too-long'])", [1, 5]),
    "district": ("new Set(['Saltmarsh', null])", [3, 4, 5]),
    "surface": ("new Set(['concrete'])", [2]),
    "shade": ("new Set(['dark'])", [1, 3, 4, 5]),
    # 20485 is 1 February 2026, 20504 the 20th: both days count
    "opened": ("[20485, 20504]", [2, 3, 4]),
    "reinstated": ("[null, 20514]", [3]),
    # 1 March 2026 is day 20513: the core reinstated that day is no longer open
    "open": ("20513", [1, 2, 4]),
}


def test_every_question_lets_through_the_cores_that_match(tmp_path):
    with open_page(five(tmp_path)) as page:
        wait_until_drawn(page)
        for question, (wanted, rows) in CASES.items():
            page.ask(f"kerfbook.filter.askAll({{ {question}: {wanted} }})")
            assert rows_shown(page) == rows, question
        page.ask("kerfbook.filter.askAll({ severity: new Set([null]) })")
        assert rows_shown(page) == [3, 4]
        page.ask(
            "kerfbook.filter.askAll({ status: new Set(['flagged']), shade: new Set(['dark']), opened: [0, null] })"
        )
        assert rows_shown(page) == [1]
        assert page.complaints == []


def test_the_counts_of_a_question_follow_the_other_questions_and_not_itself(tmp_path):
    with open_page(five(tmp_path)) as page:
        wait_until_drawn(page)
        page.ask("kerfbook.filter.askAll({ district: new Set(['Saltmarsh']), surface: new Set(['asphalt']) })")
        counted = "Object.fromEntries(kerfbook.filter.counts({0!r}))"
        assert page.ask(counted.format("district")) == {"Old Harbour": 1, "Saltmarsh": 2, "null": 1}
        assert page.ask(counted.format("surface")) == {"asphalt": 2, "concrete": 0}
        page.ask("kerfbook.filter.askAll({})")
        # a core with two findings of a rule is one core
        assert page.ask(counted.format("rule")) == {
            "open-too-long": 1,
            "road-uncertain": 2,
            "position-missing": 1,
            "null": 2,
        }


def test_the_filter_agrees_with_pandas_on_many_cores(tmp_path):
    random = np.random.default_rng(5)
    many = pd.concat([FIVE] * 200, ignore_index=True)
    many["row"] = np.arange(1, 1001)
    many["status"] = random.choice(["flagged", "pending", "reinstated"], 1000)
    many["district"] = random.choice(["Saltmarsh", "Old Harbour", "Quay"], 1000)
    many["opened_on"] = pd.Series(np.datetime64("2026-01-01") + random.integers(0, 200, 1000)).dt.strftime("%Y-%m-%d")
    expected = many[
        many["status"].isin(["pending"])
        & many["district"].isin(["Quay", "Saltmarsh"])
        & many["opened_on"].between("2026-02-01", "2026-05-01")
    ]
    with open_page(saved(tmp_path, view(cores=many, findings=findings(), unplaced=200))) as page:
        wait_until_drawn(page)
        page.ask(
            "location.hash = '#status=%3Dpending&district=%3DQuay&district=%3DSaltmarsh&opened=2026-02-01/2026-05-01'"
        )
        page.wait_for("kerfbook.filter.isAsking()")
        assert rows_shown(page) == sorted(expected["row"])
        assert page.text("#matching") == f"{len(expected)} of 1,000 cores match"


def test_ticking_filters_the_map_the_counts_and_the_labels(tmp_path):
    with open_page(five(tmp_path)) as page:
        wait_until_drawn(page)
        page.page.click("[data-question=surface] summary")
        page.page.click("[data-question=surface] label:has-text('concrete')")
        assert page.text("#matching") == "1 of 5 cores matches"
        assert colour_at(page, -82.001, STREET) is not None
        assert colour_at(page, -82.003, STREET) is None
        counts = "[...document.querySelectorAll('#legend .count')].map((c) => c.textContent)"
        assert page.ask(counts) == ["0", "1", "0"]
        assert page.text(".district:nth-child(2) .tally") == "0 Flagged 0 Pending 0 Reinstated "
        assert page.text("#in-view").startswith("In view: 0 flagged, 1 pending, 0 reinstated.")
        page.page.click("#filter-buttons button")
        assert page.ask(counts) == ["2", "1", "2"]


def test_the_slider_shows_the_cores_that_were_open_on_a_day(tmp_path):
    with open_page(five(tmp_path)) as page:
        wait_until_drawn(page)
        assert page.ask("[document.querySelector('#open-day').min, document.querySelector('#open-day').max]") == [
            "20463",
            "20782",
        ]
        page.ask(
            "(() => { const s = document.querySelector('#open-day'); s.value = 20500; s.dispatchEvent(new Event('input')); })()"
        )
        page.wait_for("kerfbook.filter.wanted.open === 20500")
        assert rows_shown(page) == [1, 2, 3]
        assert page.text(".open-on output") == "16 February 2026"


def test_the_slider_ends_at_the_date_of_the_map_and_a_wrong_century_does_not_stretch_it(tmp_path):
    wild = FIVE.assign(opened_on=["1926-01-10", "2026-02-10", None, "2126-01-01", None])
    with open_page(saved(tmp_path, view(cores=wild, findings=FIVE_FINDINGS))) as page:
        wait_until_drawn(page)
        # 25 November 2026 is day 20782; 20 years are 7,305 days
        assert page.ask("[document.querySelector('#open-day').min, document.querySelector('#open-day').max]") == [
            str(20782 - 7305),
            "20782",
        ]
