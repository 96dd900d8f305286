"""The map of a handover: withheld columns are not in it and not mentioned, and the rest works."""

import dataclasses
import re

from axe_playwright_python.sync_playwright import Axe

from pipeline.contracts import HANDED_ALWAYS
from tests.browser.browser import open_page
from tests.browser.town import saved, view, wait_until_drawn


def _handed():
    full = view()
    return dataclasses.replace(
        full, cores=full.cores[["row", *(n for n in HANDED_ALWAYS if n in full.cores)]], orders=None
    )


def test_a_map_of_the_fewest_columns_opens_filters_lists_and_prints_without_a_complaint(tmp_path):
    with open_page(saved(tmp_path, _handed())) as page:
        wait_until_drawn(page)
        asked = page.ask("[...document.querySelectorAll('#questions [data-question]')].map((q) => q.dataset.question)")
        assert asked == ["severity", "rule", "district", "street"]
        assert page.ask("document.querySelector('#open-day') === null")
        page.ask("kerfbook.filter.ask('district', new Set(['Old Harbour']))")
        assert page.ask("kerfbook.filter.total") == 2
        # a link from a fuller map may filter by a column that is withheld here: nothing is hidden by it
        page.ask("kerfbook.filter.askAll({ surface: new Set(['asphalt']), opened: [20000, null] })")
        assert page.ask("kerfbook.filter.total") == 4
        page.ask("void document.querySelector('#as-table').click()")
        page.wait_for("document.querySelectorAll('.cores-table tbody tr').length === 4")
        heads = page.ask("[...document.querySelectorAll('.cores-table thead th')].map((h) => h.dataset.column)")
        assert heads == ["core", "status", "findings", "street", "district"]
        for name in heads:
            page.ask(f"void document.querySelector('[data-column={name}] button').click()")
        page.ask("void document.querySelector('.cores-table tbody button').click()")
        facts = page.ask("[...document.querySelectorAll('dialog .fact')].map((f) => f.dataset.fact)")
        assert facts == ["street", "segment", "district", "position"]
        page.ask("document.querySelector('dialog').close()")
        page.ask("document.querySelectorAll('#panel details').forEach((d) => { d.open = true; })")
        assert (
            page.ask("document.querySelector('#districts-section').innerText.toLowerCase().includes('order')") is False
        )
        page.ask("void window.dispatchEvent(new Event('beforeprint'))")
        assert page.complaints == []
        assert len(page.requests) == 1


def test_the_card_of_a_pending_core_does_not_mention_withheld_materials(tmp_path):
    with open_page(saved(tmp_path, _handed())) as page:
        wait_until_drawn(page)
        text = page.ask("new KerfbookCard.Cards(kerfbook.attributes).build(kerfbook.attributes.ofRow(2)).textContent")
        assert "Core still out: not yet reinstated." in text
        assert not re.search("grout|bedding|materials|size|opened", text.lower())


def test_the_saved_list_has_the_columns_of_the_file_and_no_others(tmp_path):
    with open_page(saved(tmp_path, _handed()), accept_downloads=True) as page:
        wait_until_drawn(page)
        with page.page.expect_download() as waiting:
            page.ask("KerfbookSaveCsv.save(kerfbook.attributes, kerfbook.filter.indices())")
        lines = waiting.value.path().read_text("utf-8-sig").splitlines()
    assert lines[0] == "row,core_id,status,findings,segment_id,street,district,lat,lon,what_is_wrong"
    assert len(lines) == 5


def test_the_page_on_how_to_read_it_has_no_violation(run_folder):
    place = run_folder / "handover" / "how-to-read.html"
    for width in (1280, 390):
        with open_page(place, width=width, bypass_csp=True) as page:
            found = Axe().run(page.page)
            assert not found.response["violations"], found.generate_report()
            wide = page.page.evaluate("document.documentElement.scrollWidth - document.documentElement.clientWidth")
            assert wide == 0
