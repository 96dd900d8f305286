"""State, urgency, hazards, weights, cautions and accepted findings on the map."""

import csv
import io

import pytest

from pipeline.programme.catalogue import load_catalogue
from tests.browser.browser import open_page
from tests.browser.town import (
    COLOURS,
    FIVE,
    FIVE_FINDINGS,
    STREET,
    card,
    colour_at,
    findings,
    rows_shown,
    saved,
    spot,
    view,
    wait_until_drawn,
)

_CAUTIONS = load_catalogue({}, "test").core_cautions
_CORES = FIVE.assign(
    state=["plated", "open", "back", "back", "unknown"],
    urgency=["hazard", "quality", None, "overdue", "record"],
    core_kg=[85.1, 120.1, 18.0, None, None],
    segment_id="HV-1",
)
_FINDINGS = FIVE_FINDINGS.assign(urgency=["overdue", "hazard", "quality", "record", "record"])
_ACCEPTED = _FINDINGS.assign(
    decision=["accept", None, None, "accept", "accept"],
    decision_standing=["holds", None, None, "holds", "expired"],
    decided_until=["2026-12-31", None, None, None, "2026-01-31"],
)


def _open(folder, findings=_FINDINGS, **changes):
    return open_page(saved(folder, view(cores=_CORES, findings=findings, core_cautions=_CAUTIONS, **changes)))


def _card_of(page, number):
    # on a low telephone the search is behind a button
    page.ask("void (document.querySelector('#query').offsetParent || document.querySelector('#head-switch').click())")
    page.page.fill("#query", f"C-{number}")
    page.page.press("#query", "Enter")
    page.wait_for(f"document.querySelector('.card h2')?.textContent === 'C-{number}'")
    return card(page)


def test_the_card_has_the_state_beside_the_status_and_the_most_urgent_finding_first(tmp_path):
    with _open(tmp_path) as page:
        wait_until_drawn(page)
        text = _card_of(page, 1)
        assert text.startswith("C-1Flagged Plated Hazard register row 1")
        titles = page.ask("[...document.querySelectorAll('.card .findings strong')].map((t) => t.textContent)")
        assert titles == ["Hazard · Check: Road uncertain", "Overdue · Fail: Open too long"]
        assert "Core still out" in page.text(".card .advice")


def test_the_weight_and_the_cautions_are_those_of_the_core_in_the_readers_units(tmp_path):
    with _open(tmp_path) as page:
        wait_until_drawn(page)
        lines = "[...document.querySelectorAll('.card .cautions li')].map((line) => line.textContent)"
        _card_of(page, 1)
        assert page.ask(lines) == [
            *_CAUTIONS.state.plated,
            *_CAUTIONS.reinstating.cautions,
            "Core: about 85 kg. Lift it by machine, never by hand, and never stand beneath a load.",
        ]
        assert "Core weightabout 85 kg" in page.text(".card")
        page.page.click("#in-us")
        # 85.1 / 0.45359237 = 187.6
        assert "Core weightabout 188 lb" in page.text(".card")
        assert page.ask(lines)[-1].startswith("Core: about 188 lb.")
        _card_of(page, 2)
        assert _CAUTIONS.surface["concrete"][0] in page.ask(lines)


@pytest.mark.parametrize(
    ("urgency", "advice"),
    [("record", "What to do: Correct the register"), ("quality", "What to do: Suspect reinstatement")],
)
def test_a_reinstated_core_whose_failures_are_in_the_record_alone_is_not_called_suspect(tmp_path, urgency, advice):
    found = findings((1, "depth-implausible", "fail", "Depth 3 mm.")).assign(urgency=urgency)
    cores = _CORES.assign(state=["back", *_CORES["state"][1:]])
    with open_page(saved(tmp_path, view(cores=cores, findings=found, core_cautions=_CAUTIONS))) as page:
        wait_until_drawn(page)
        _card_of(page, 1)
        assert page.text(".card .advice").startswith(advice)


def test_a_light_core_may_be_lifted_by_two_and_one_of_unknown_weight_by_machine(tmp_path):
    with _open(tmp_path) as page:
        wait_until_drawn(page)
        last = "[...document.querySelectorAll('.card .cautions li')].at(-1).textContent"
        _card_of(page, 3)
        assert page.ask(last) == "Core: about 18 kg. Lift it with two people or by machine, never alone."
        _card_of(page, 4)
        assert page.ask(last) == _CAUTIONS.lifting.not_known
        assert "not known" in page.text(".card [data-fact=weight]")


def test_a_map_without_states_and_weights_treats_each_core_as_unknown(tmp_path):
    lacking = _CORES.drop(columns=["state", "urgency", "core_kg"])
    plain = _FINDINGS.drop(columns="urgency")
    with open_page(saved(tmp_path, view(cores=lacking, findings=plain, core_cautions=_CAUTIONS))) as page:
        wait_until_drawn(page)
        assert _card_of(page, 1).startswith("C-1Flagged register row 1")
        assert _CAUTIONS.state.unknown[0] in page.text(".card .cautions")
        assert page.ask("document.querySelector('.card [data-fact=weight]')") is None
        assert page.ask("document.querySelector('#questions [data-question=urgency]')") is None
        assert "Hazard" not in page.text("#keys")
        page.page.click("#as-table")
        assert page.ask("document.querySelector('.cores-table [data-column=urgency]')") is None


def test_an_accepted_finding_comes_last_and_says_until_when(tmp_path):
    with _open(tmp_path, _ACCEPTED) as page:
        wait_until_drawn(page)
        _card_of(page, 1)
        items = "[...document.querySelectorAll('.card .findings li')].map((i) => [i.className, i.textContent])"
        assert page.ask(items) == [
            ["check", "Hazard · Check: Road uncertainSettle the street."],
            [
                "accepted",
                "Overdue · Fail: Open too long (accepted until 31 December 2026)Open for 319 days: reinstate it.",
            ],
        ]
        page.page.click("#as-table")
        page.page.click("text=Findings in full")
        found = page.text(".cores-table")
        assert "(accepted, no end date)No coordinates." in found
        # an acceptance that has ended is none
        assert "Record · Fail: Position missingNo coordinates, twice." in found


def test_the_filters_on_urgency_and_state_are_in_their_own_order(tmp_path):
    with _open(tmp_path) as page:
        wait_until_drawn(page)
        choices = "[...document.querySelectorAll('#questions [data-question={0}] .what')].map((w) => w.textContent)"
        for question, words in {
            "urgency": ["Hazard", "Overdue", "Quality", "Record", "no failure or check"],
            "state": ["Open", "Plated", "Reinstated", "State unknown"],
        }.items():
            page.page.click(f"#questions [data-question={question}] summary")
            page.wait_for(f"document.querySelector('#questions [data-question={question}] .what')")
            assert page.ask(choices.replace("{0}", question)) == words
        page.ask("kerfbook.filter.ask('urgency', new Set(['hazard', null]))")
        assert rows_shown(page) == [1, 3]
        page.ask("kerfbook.filter.ask('state', new Set(['back']))")
        assert rows_shown(page) == [3]
        page.wait_for("location.hash.includes('urgency=%3Dhazard') && location.hash.includes('state=%3Dback')")


def test_the_table_begins_with_the_most_urgent_cores(tmp_path):
    with _open(tmp_path) as page:
        wait_until_drawn(page)
        page.page.click("#as-table")
        ids = "[...document.querySelectorAll('.cores-table tbody th')].map((h) => h.textContent)"
        assert page.ask(ids) == ["C-1", "C-4", "C-2", "C-5", "C-3"]
        page.page.click("[data-column=state] button")
        assert page.ask(ids) == ["C-2", "C-1", "C-3", "C-4", "C-5"]
        row = page.ask("[...document.querySelectorAll('.cores-table tbody tr')][1].textContent")
        assert "Plated" in row
        assert "Hazard" in row


def test_the_list_has_state_urgency_and_weight_at_its_end_and_says_what_is_accepted(tmp_path):
    path = saved(tmp_path, view(cores=_CORES, findings=_ACCEPTED, core_cautions=_CAUTIONS))
    with open_page(path, accept_downloads=True) as page:
        wait_until_drawn(page)
        with page.page.expect_download() as waited:
            page.page.click("#filter-buttons button:nth-of-type(2)")
        waited.value.save_as(tmp_path / "list.csv")
    text = (tmp_path / "list.csv").read_bytes().decode("utf-8-sig")
    rows = list(csv.DictReader(io.StringIO(text, newline="")))
    assert list(rows[0])[-3:] == ["state", "urgency", "core_kg"]
    assert [list(row.values())[-3:] for row in rows[:3]] == [
        ["plated", "hazard", "85.1"], ["open", "quality", "120.1"], ["back", "", "18"],
    ]  # fmt: skip
    assert rows[0]["what_is_wrong"] == (
        "Settle the street. Open for 319 days: reinstate it. (accepted until 31 December 2026)"
    )


def _around(page, lon, lat):
    """The different colours of the core tiles within the mark of a hazard, up and right of a core."""
    x, y = spot(page, lon, lat)
    found = page.ask(
        f"""(() => {{ const found = new Set();
        for (const tile of document.querySelectorAll('.leaflet-cores-pane canvas')) {{
          const b = tile.getBoundingClientRect(); const s = tile.width / b.width;
          if ({x} < b.left || {x} >= b.right || {y} < b.top || {y} >= b.bottom) continue;
          const at = tile.getContext('2d').getImageData(({x} - b.left + 2.5) * s, ({y} - b.top - 9.5) * s, 8 * s, 8 * s);
          for (let p = 0; p < at.data.length; p += 4) if (at.data[p + 3] === 255) found.add([...at.data.slice(p, p + 3)].join());
        }} return [...found]; }})()"""
    )
    return {tuple(map(int, colour.split(","))) for colour in found}


def _luminance(colour):
    parts = [
        share / 12.92 if share <= 0.04045 else ((share + 0.055) / 1.055) ** 2.4 for share in (c / 255 for c in colour)
    ]
    return 0.2126 * parts[0] + 0.7152 * parts[1] + 0.0722 * parts[2]


def _contrast(one, other):
    high, low = sorted((_luminance(one), _luminance(other)), reverse=True)
    return (high + 0.05) / (low + 0.05)


def test_a_hazard_has_an_exclamation_mark_close_in_that_stands_out_and_leaves_the_status_as_it_is(tmp_path):
    # the finding that makes a core hollow would hide its colour
    with _open(tmp_path, _FINDINGS[_FINDINGS["rule"].ne("road-uncertain")]) as page:
        wait_until_drawn(page)
        ink, white = (34, 34, 34), (255, 255, 255)
        assert _contrast(ink, white) >= 4.5
        page.ask(f"void map_kerfbook.setView([{STREET}, -82.002], 17, {{ animate: false }})")
        page.wait_for("map_kerfbook.getZoom() === 17")
        assert {ink, white} <= _around(page, -82.003, STREET)
        # its state is marked in the middle, where the colour of the status is looked for
        page.ask("(() => { kerfbook.cores.state = null; kerfbook.filter.ask('status', null); })()")
        assert colour_at(page, -82.003, STREET) == COLOURS["flagged"]
        assert "Hazard to people or to the road" in page.text("#keys")
        # far out there is no room for it: its symbol is larger than that of any other core of the status, as it is close in
        seen = page.ask(
            """[14, 15].map((zoom) => { const sprites = []; const { cores } = kerfbook;
            const ctx = { drawImage: (sprite) => sprites.push(sprite) }; const i = cores.hazard.indexOf(1);
            cores.stamp(ctx, i, zoom, 50, 50, 8.5, 1); const { hasBadge } = cores.lookOf(i, zoom);
            const late = cores.overdue[i]; cores.hazard[i] = 0; cores.overdue[i] = 0;
            cores.stamp(ctx, i, zoom, 50, 50, 8.5, 1); cores.hazard[i] = 1; cores.overdue[i] = late;
            return [hasBadge, sprites[0].width > 1.25 * sprites[1].width]; })"""
        )
        assert seen == [[False, True], [True, True]]


@pytest.mark.parametrize("width", [390, 320])
def test_the_card_fits_a_telephone(tmp_path, width):
    with _open(tmp_path) as page:
        page.page.set_viewport_size({"width": width, "height": 700})
        wait_until_drawn(page)
        _card_of(page, 1)
        assert page.ask("document.querySelector('.card').scrollWidth <= document.querySelector('.card').clientWidth")
