"""The card of a core: findings, what to do, facts in the reader's units."""

import re
from pathlib import Path

import numpy as np
import pytest

from pipeline.publish.map.page import draw_map
from tests.browser.browser import open_page
from tests.browser.town import (
    FINDINGS,
    STREET,
    card,
    cores,
    findings,
    five,
    saved,
    spot,
    view,
    wait_until_drawn,
)


def test_a_click_opens_the_card_with_the_findings_worst_first(tmp_path: Path) -> None:
    with open_page(saved(tmp_path, view())) as page:
        wait_until_drawn(page)
        x, y = spot(page, -82.003, STREET)
        page.page.mouse.click(x + 5, y + 5)
        text = card(page)
        assert text.startswith("C-1Flagged register row 1")
        assert "Fail: Depth implausible12 mm deep, 25 to 1000 mm expected: measure it again" in text
        assert text.index("Fail") < text.index("a small remark")
        for part in (
            "Capstan Street",
            "12.3 m along the segment",
            "1.5 m left of the centreline",
            "44.800000, -82.003000",
            "asphalt, from the surface layer",
            "457 mm dia., 180 mm deep",
            "6 L, 11.5 kg, 0.46 bags",
            "1 October 2026",
        ):
            assert part in text


def test_an_uncertain_core_shows_both_candidates(tmp_path: Path) -> None:
    unsure = {
        "segment_confidence": 0.62,
        "runner_up_id": "HV-2",
        "runner_up_street": "Dory Lane",
        "runner_up_confidence": 0.38,
        "surface_confidence": 0.71,
        "surface_next": "concrete",
        "surface_next_confidence": 0.29,
    }
    placed = cores({"lon": -82.003, "lat": STREET, **unsure}, {"lon": -82.001, "lat": STREET})
    with open_page(saved(tmp_path, view(cores=placed, findings=findings(), unplaced=0))) as page:
        wait_until_drawn(page)
        for query, shown in (("C-1", True), ("C-2", False)):
            page.page.fill("#query", query)
            page.page.press("#query", "Enter")
            page.wait_for(f"document.querySelector('.leaflet-popup')?.textContent.includes({query!r})")
            card = page.text(".leaflet-popup")
            for words in (
                "Capstan Street (62%), or Dory Lane (38%)",
                "HV-1 (62%), or HV-2 (38%)",
                "asphalt (71%), or concrete (29%)",
            ):
                assert (words in card) == shown


def test_every_core_at_one_spot_can_be_opened(tmp_path: Path) -> None:
    twins = cores({"lon": -82.001, "lat": STREET}, {"lon": -82.001, "lat": STREET})
    with open_page(saved(tmp_path, view(cores=twins, findings=FINDINGS[:0], unplaced=0))) as page:
        wait_until_drawn(page)
        page.page.mouse.click(*spot(page, -82.001, STREET))
        seen = {card(page)[:3]}
        page.page.click(".leaflet-popup .after")
        seen.add(card(page)[:3])
        assert seen == {"C-1", "C-2"}


def test_coordinates_are_copied(tmp_path):
    with open_page(five(tmp_path), permissions=["clipboard-read", "clipboard-write"]) as page:
        wait_until_drawn(page)
        page.page.mouse.click(*spot(page, -82.003, STREET))
        card(page)
        page.page.click(".leaflet-popup .copy")
        page.wait_for("document.querySelector('#announcement').textContent.startsWith('Copied')")
        found = re.search(r"Copied: (\S+), (\S+)", page.text("#announcement"))
        assert [float(part) for part in found.groups()] == pytest.approx([STREET, -82.003], abs=1e-6)


def test_units_of_the_reader_are_exact(tmp_path):
    """457.2 mm is 18 in by definition; 3.048 m is 10 ft; 3.785411784 L one US gallon; 0.45359237 kg one pound."""
    one = {
        "lon": -82.003,
        "lat": STREET,
        "diameter_mm": 457.2,
        "chainage_m": 304.8,
        "grout_l": 37.9,
        "grout_kg": 45.4,
        "water_l_needed": np.nan,
    }
    with open_page(saved(tmp_path, view(cores=cores(one), findings=findings(), unplaced=0))) as page:
        wait_until_drawn(page)
        page.page.mouse.click(*spot(page, -82.003, STREET))
        assert "457.2 mm dia., 180 mm deep" in card(page)
        page.page.click("#in-us")
        text = card(page)
        assert "18 in dia., 7.09 in deep" in text
        assert "1,000 ft along the segment" in text
        # 37.9 / 3.785411784 = 10.0121; 45.4 / 0.45359237 = 100.09
        assert "10.01 US gal, 100.1 lb" in text
        assert "Water needednot known" in text


def test_a_cell_that_holds_a_file_is_cut_on_the_page_with_a_mark(tmp_path: Path) -> None:
    rows = cores({"lon": -82.001, "lat": STREET, "street": "x" * 100_000})
    path = saved(tmp_path, view(cores=rows, findings=FINDINGS[:0], unplaced=0))
    short = draw_map(view(cores=rows.assign(street="x"), findings=FINDINGS[:0], unplaced=0))
    assert path.stat().st_size < len(short.encode()) + 5_000
    with open_page(path) as page:
        wait_until_drawn(page)
        page.page.mouse.click(*spot(page, -82.001, STREET))
        assert f"{'x' * 400}…" in card(page)
        assert "x" * 401 not in card(page)


def test_numbers_that_are_not_finite_are_shown_as_not_known(tmp_path: Path) -> None:
    rows = cores({"lon": -82.001, "lat": STREET, "diameter_mm": np.inf, "depth_mm": np.nan})
    with open_page(saved(tmp_path, view(cores=rows, findings=FINDINGS[:0], unplaced=0))) as page:
        wait_until_drawn(page)
        page.page.mouse.click(*spot(page, -82.001, STREET))
        assert "Sizenot known" in card(page)


# status, reinstated, bags known, findings (rule and severity), what the card says to do
ADVICE = [
    (
        "flagged",
        None,
        True,
        [("open-too-long", "fail")],
        "Core still out: resolve every failure above, then reinstate.",
    ),
    (
        "flagged",
        "2026-11-02",
        True,
        [("flush-out-of-tolerance", "fail")],
        "Suspect reinstatement: do not rely on it until every failure above is resolved.",
    ),
    (
        "flagged",
        None,
        True,
        [("reinstatement-date-unreadable", "fail")],
        "Do not rely on this core until every failure above is resolved.",
    ),
    ("pending", None, True, [], "Reinstate with the materials below."),
    ("pending", None, True, [("cores-overlap", "note")], "Reinstate with the materials below."),
    (
        "pending",
        None,
        True,
        [("cores-overlap", "check")],
        "Make the checks above, then reinstate with the materials below.",
    ),
    (
        "pending",
        None,
        False,
        [("depth-missing", "check")],
        "Core still out, quantities not worked out: resolve the findings above first.",
    ),
    ("pending", None, False, [], "Core still out, quantities not worked out: record its surface and size first."),
    ("reinstated", "2026-11-02", True, [], "No action needed."),
    ("reinstated", "2026-11-02", True, [("street-differs", "check")], "Reinstated: make the checks above."),
]


def test_what_to_do_fits_the_state_of_the_core(tmp_path):
    rows = [
        {"status": status, "reinstated_at": day, "lon": -82.003, "lat": STREET} | ({} if has_bags else {"bags": np.nan})
        for status, day, has_bags, _, _ in ADVICE
    ]
    found = [
        (row, rule, severity, "A sentence.")
        for row, (_, _, _, rules, _) in enumerate(ADVICE, start=1)
        for rule, severity in rules
    ]
    with open_page(saved(tmp_path, view(cores=cores(*rows), findings=findings(*found), unplaced=0))) as page:
        wait_until_drawn(page)
        shown = page.ask(
            "(() => { const { attributes } = kerfbook; const cards = new KerfbookCard.Cards(attributes);"
            f"return Array.from({{ length: {len(rows)} }}, (_, r) => cards.build(attributes.ofRow(r + 1)))"
            ".map((made) => made.querySelector('.advice').textContent); })()"
        )
    assert shown == [f"What to do: {advice}" for *_, advice in ADVICE]


def test_a_rule_is_shown_by_its_label_on_the_card_and_kept_by_its_slug_in_the_link(tmp_path):
    with open_page(saved(tmp_path, view())) as page:
        wait_until_drawn(page)
        page.page.mouse.click(*spot(page, -82.003, STREET))
        assert "Depth implausible" in card(page)
        assert "depth-implausible" not in card(page)
        page.page.click("[data-question=rule] summary")
        page.wait_for("document.querySelector('[data-question=rule] .what')")
        choices = "[...document.querySelectorAll('[data-question=rule] .what')].map((c) => c.textContent)"
        # by their labels in the order of the alphabet, the missing one last
        assert page.ask(choices) == ["Depth implausible", "Pavement thin", "Position missing", "no finding"]
        page.page.click("[data-question=rule] label:has-text('Pavement thin')")
        assert page.text("[data-question=rule] .chosen") == "Pavement thin"
        page.wait_for("location.hash.includes('rule=%3Dpavement-thin')")
        assert page.text("#matching") == "1 of 4 cores matches"


def test_a_street_and_a_district_open_their_row_in_the_report_where_they_have_one(tmp_path):
    of_places = (
        "[...document.querySelectorAll('.card a')].map((a) => a.getAttribute('href')).filter((h) => h.includes('t-'))"
    )
    placed = cores(
        {"street": "St. John's Road", "lat": STREET, "lon": -82.003},
        {"street": "Quiet Lane", "lat": STREET, "lon": -81.997, "district": "Saltmarsh"},
    )
    rows = {"report_streets": ["St. John's Road"], "report_districts": ["Saltmarsh"]}
    shown = view(cores=placed, findings=FINDINGS[:0], has_report=True, unplaced=0, **rows)
    with open_page(saved(tmp_path, shown)) as page:
        wait_until_drawn(page)
        links = []
        for lon in (-82.003, -81.997):
            page.page.mouse.click(*spot(page, lon, STREET))
            card(page)
            links.append(page.ask(of_places))
            page.page.keyboard.press("Escape")
            page.wait_for("!document.querySelector('.leaflet-popup .card')")
        assert links == [["report.html#street-St.%20John's%20Road"], ["report.html#district-Saltmarsh"]]
