"""What a road authority asks of the map beside the four answers: permits, streets, works, changes, a core by its id."""

import csv
import io

from tests.browser.authority_town import authority_cores, authority_town
from tests.browser.browser import open_page
from tests.browser.town import findings, rows_shown, wait_until_drawn

# the audit is on 25 November 2026: a permit is valid on the day that it expires
ASKED = {
    "authority": ("['Port Trust', null]", [4, 5, 6]),
    "street": ("['Dory Lane']", [3, 4, 5]),
    "road_class": ("['main']", [1]),
    "permit=valid": ("['valid']", [2, 3]),
    "permit=expired": ("['expired']", [1]),
    "permit=none": ("['none']", [5, 6]),
    "permit=no expiry": ("['no_expiry']", [4]),
    "permit_no": ("['P-2']", [2, 3]),
    "works": ("['W2']", [1]),
    "works_kind": ("['planned', null]", [2, 3, 4, 5, 6]),
    "changed": ("['closed']", [5]),
    "out": ("['unknown', 'reinstated']", [5, 6]),
}


def _cores():
    return authority_cores().assign(road_class=["main", *["local"] * 5])


def test_every_question_of_an_authority_filters_and_stays_in_the_link_and_in_words(tmp_path):
    with open_page(authority_town(tmp_path, cores=_cores())) as page:
        wait_until_drawn(page)
        for question, (words, rows) in ASKED.items():
            name = question.partition("=")[0]
            page.ask(f"kerfbook.filter.askAll({{ {name}: new Set({words}) }})")
            assert rows_shown(page) == rows, question
            reopened = (
                "KerfbookLink.read(KerfbookLink.write({ filter: kerfbook.filter, centre: [0, 0], zoom: 9 })).wanted"
            )
            assert page.ask(f"JSON.stringify([...{reopened}.{name}]) === JSON.stringify({words})"), question
        page.ask("kerfbook.filter.askAll({ permit: new Set(['expired']), changed: new Set(['opened']) })")
        assert page.text("#filter-words") == "Permit: expired; Changed since 25 October 2026: Opened"
        # more than sixteen questions at once, each with its own bit
        page.ask(
            "kerfbook.filter.askAll({ status: new Set(['pending']), urgency: new Set(['hazard']), authority: new Set(['Port Trust']),"
            " changed: new Set(['opened']), works: new Set(['W1']), opened: [20000, null], open: 20780 })"
        )
        assert rows_shown(page) == [4]
        assert page.complaints == []


def test_a_street_and_the_same_street_as_recorded_are_one_choice(tmp_path):
    """Cores off the network have the street that the register names, marked so; "Ln" is short for "Lane"."""
    streets = [
        "Capstan Street",
        "Dory Lane",
        "Dory Lane (as recorded)",
        "DORY LN (as recorded)",
        "Oat Way (as recorded)",
        None,
    ]
    town = authority_town(tmp_path, cores=authority_cores().assign(street=streets))
    with open_page(town) as page:
        wait_until_drawn(page)
        page.ask("void (document.querySelector('[data-question=street]').open = true)")
        page.wait_for("document.querySelector('[data-question=street] .tick')")
        offered = "[...document.querySelectorAll('[data-question=street] .tick')].map((tick) => [tick.querySelector('.what').textContent, tick.querySelector('.count').textContent])"
        assert dict(page.ask(offered)) == {
            "Capstan Street": "1",
            "Dory Lane": "3",
            "Oat Way (as recorded)": "1",
            "not known": "1",
        }
        page.ask("kerfbook.filter.askAll({ street: new Set(['Dory Lane']) })")
        assert rows_shown(page) == [2, 3, 4]
        # the card keeps the difference
        assert page.ask("kerfbook.attributes.text('street', kerfbook.attributes.ofRow(3))") == "Dory Lane (as recorded)"
        assert page.complaints == []


def test_the_saved_list_has_what_a_road_authority_asks_for_at_the_end(tmp_path):
    with open_page(authority_town(tmp_path, cores=_cores()), accept_downloads=True) as page:
        wait_until_drawn(page)
        with page.page.expect_download() as waiting:
            page.ask("KerfbookSaveCsv.save(kerfbook.attributes, kerfbook.filter.indices())")
        rows = list(csv.DictReader(io.StringIO(waiting.value.path().read_text("utf-8-sig"))))
    assert list(rows[0])[-6:] == ["road_authority", "road_class", "permit_no", "permit_expires_on", "changes", "works"]
    assert [rows[0][name] for name in list(rows[0])[-6:]] == [
        "Vale County",
        "main",
        "P-1",
        "2026-11-24",
        "opened",
        "W2",
    ]
    assert rows[4]["changes"] == "cleared finding;closed"
    assert rows[4]["works"] == "Resurfacing of Dory Lane"


def test_a_core_is_linked_by_its_id_and_its_card_is_written_for_the_authority(tmp_path):
    ids = ["C-1", "C-2", "=C&3", "C-1", None, "C-6"]
    path = authority_town(tmp_path, cores=_cores().assign(core_id=ids))
    with open_page(path, fragment="#core=C-1") as page:
        wait_until_drawn(page)
        page.wait_for("document.querySelector('.leaflet-popup .card')")
        text = page.text(".leaflet-popup .card")
        assert page.text("#announcement") == "2 cores have the id C-1. This is the first."
        for part in (
            "Road authorityVale County",
            "Class of roadmain",
            "PermitP-1, expired 24 November 2026",
            "WorksW2 (protected street, 30 June 2027)",
            "Since 25 October 2026Opened",
            "Hazard",
            "Open: the utility has yet to reinstate it.",
        ):
            assert part in text
        assert "row" not in text
        # an id is taken as it is written; a core without one has its row
        page.ask("location.hash = '#core=' + encodeURIComponent('=C&3')")
        page.wait_for("document.querySelector('.leaflet-popup .card')?.textContent.startsWith('=C&3')")
        page.wait_for("location.hash.includes('core=%3DC%263')")
        # a later register may write it with other capitals and spaces
        page.ask("location.hash = '#core=' + encodeURIComponent('c - 2')")
        page.wait_for("document.querySelector('.leaflet-popup .card')?.textContent.startsWith('C-2')")
        page.ask("location.hash = '#row=5'")
        page.wait_for("document.querySelector('.leaflet-popup .card')?.textContent.startsWith('no id')")
        page.wait_for("location.hash.includes('row=5')")
        page.ask("location.hash = '#core=C-7'")
        page.wait_for("document.querySelector('#announcement').textContent === 'No core \"C-7\" in this map.'")
        assert page.complaints == []


# what is typed; the first group, its first result, and the rows that Enter leaves
TYPED = {
    "capstan st": ("Streets", "Capstan Street", [1, 2]),
    "dorylane": ("Streets", "Dory Lane", [3, 4, 5]),
    "Dôry Ln": ("Streets", "Dory Lane", [3, 4, 5]),
    "old harb": ("Districts", "Old Harbour", [1, 2, 3]),
    "port-trust": ("Road authorities", "Port Trust", [4, 5]),
    "resurfacing": ("Works", "Resurfacing of Dory Lane (planned works, 1 March 2027)", [3, 4, 5]),
    "permit exp": ("Findings", "Permit expired", [2]),
    "p2": ("Permits", "P-2", [2, 3]),
}


def test_search_folds_what_is_typed_and_filters_by_what_it_finds(tmp_path):
    with open_page(authority_town(tmp_path)) as page:
        wait_until_drawn(page)
        for typed, (group, name, rows) in TYPED.items():
            page.ask("kerfbook.filter.askAll({})")
            page.page.fill("#query", typed)
            assert page.text("#results .group strong") == group, typed
            assert page.text("#results .row-id") == name
            assert page.text("#results .row-street") == f"{len(rows)} core{'s' if len(rows) > 1 else ''}"
            page.page.press("#query", "Enter")
            assert rows_shown(page) == rows, typed
        # the district that is chosen stays where it leaves a core
        for district, rows in (("Old Harbour", [3]), ("Saltmarsh", [4, 5]), (None, [3, 4, 5])):
            chosen = "null" if district is None else f"new Set(['{district}'])"
            page.ask(f"kerfbook.filter.askAll({{ district: {chosen} }})")
            page.page.fill("#query", "dory lane")
            page.page.press("#query", "Enter")
            assert rows_shown(page) == rows
        page.ask("kerfbook.filter.askAll({ district: new Set(['Saltmarsh']) })")
        page.page.fill("#query", "capstan")
        page.page.press("#query", "Enter")
        assert rows_shown(page) == [1, 2]
        page.page.fill("#query", "C3")
        page.page.press("#query", "Enter")
        page.wait_for("document.querySelector('.leaflet-popup .card')?.textContent.startsWith('C-3')")
        page.page.fill("#query", "  - ")
        assert page.text("#results .note") == "0 matches"
        assert page.complaints == []


def test_a_long_list_of_streets_is_narrowed_by_what_is_typed(tmp_path):
    many = (
        _cores()
        .loc[[0] * 300]
        .assign(
            row=range(1, 301), core_id=[f"C-{n}" for n in range(300)], street=[f"{n} Harbour Road" for n in range(300)]
        )
    )
    path = authority_town(
        tmp_path, cores=many, findings=findings().assign(urgency=[]), unplaced=0, short_words={"road": "rd"}
    )
    with open_page(path) as page:
        wait_until_drawn(page)
        page.page.click("[data-question=street] summary")
        # a browser says a little later that something was opened
        page.wait_for("document.querySelector('[data-question=street] .choices .hint') !== null")
        assert page.text("[data-question=street] .choices .hint") == "100 more, not listed here"
        page.page.fill("[data-question=street] .narrow", "299 harbour rd")
        assert page.ask("[...document.querySelectorAll('[data-question=street] .what')].map((e) => e.textContent)") == [
            "299 Harbour Road"
        ]
        page.page.click("[data-question=street] .tick")
        assert rows_shown(page) == [300]
