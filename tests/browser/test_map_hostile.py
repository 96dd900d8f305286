"""Hostile text in every column and field: shown as it is, and never run."""

import json
from pathlib import Path

import pytest

from pipeline.visible_text import visible
from tests.browser.browser import open_page
from tests.browser.town import (
    FINDINGS,
    HOSTILE,
    MIDDLE,
    STREET,
    card,
    cores,
    findings,
    saved,
    spot,
    view,
    wait_until_drawn,
)

# characters that nobody sees are shown by their numbers
_SHOWN = visible(HOSTILE)
_WORST = {
    "script": "</script><script>window.ran = 1</script>",
    "picture": "<img src=x onerror=window.ran=1>",
    "address": "javascript:window.ran=1",
    "template": "{{ 7*7 }}{% raw %}{# no #}@@core_data@@",
    "backticks": "`${window.ran=1}`",
    "direction": "\u202egnp.exe\u202c \u2066\u200f",
    "nul": "a\0b",
    "big": "y" * 1_000_000,
    "style": "red;background:url(https://evil.example/x)",
    "comment": "<!--<script>",
    "entity": "&lt;b&gt;&#x3c;",
}


@pytest.mark.parametrize("is_used_once", [True, False])
def test_hostile_text_is_shown_as_it_is_and_never_runs(tmp_path: Path, *, is_used_once: bool) -> None:
    """A text used once is in the page as it is; one used more often is in a dictionary."""
    one = {"lon": -82.001, "lat": STREET, "core_id": HOSTILE}
    texts = ("segment_id", "street", "side", "surface", "surface_from", "district", "shade", "bedding")
    one |= dict.fromkeys((*texts, "opened_on", "reinstated_at"), HOSTILE)
    rows = cores(*[one] * (1 if is_used_once else 3))
    wrong = findings((1, HOSTILE, "fail", HOSTILE)).assign(core_id=HOSTILE)
    base = view()
    shown = view(
        title=HOSTILE,
        crs=HOSTILE,
        cores=rows,
        findings=wrong,
        unplaced=0,
        segments=base.segments.assign(segment_id=HOSTILE, street=HOSTILE, surface=HOSTILE),
        districts=base.districts.assign(district=HOSTILE),
        orders=base.orders.assign(district=HOSTILE, period=HOSTILE, item=HOSTILE, unit=HOSTILE, packs=HOSTILE),
        sources=[HOSTILE],
        cautions=[HOSTILE],
    )
    with open_page(saved(tmp_path, shown)) as page:
        wait_until_drawn(page)
        x, y = spot(page, -82.001, STREET)
        page.page.mouse.move(*spot(page, MIDDLE, 44.802))
        page.wait_for("document.querySelector('.street-tip')")
        assert page.text(".street-tip") == _SHOWN
        page.page.mouse.click(x, y)
        card(page)
        page.page.fill("#query", "window.ran")
        for district in page.page.query_selector_all(".district summary"):
            district.click()
        page.page.wait_for_timeout(300)
        literal = json.dumps(_SHOWN)
        # a rule's label is its slug with a capital and without hyphens
        assert page.text(".findings .rule bdi") == visible(HOSTILE.replace("-", " ").capitalize())
        places = "#title,.leaflet-popup h2 bdi,.findings .message bdi,.district-name,"
        places += "#results .row-id,.orders .period,.orders .unit bdi,.credit bdi,#cautions li,#crs bdi"
        for place in places.split(","):
            assert page.ask(f"document.querySelector({place!r}).textContent") == _SHOWN, place
        shown_facts = page.ask(
            f"[...document.querySelectorAll('.fact bdi')].filter((b) => b.textContent.includes({literal})).length"
        )
        assert shown_facts == len(texts)
        assert page.ask("document.title.startsWith('</title></style><!--</script>')")
        assert page.ask("typeof window.ran") == "undefined"
        assert page.ask("document.querySelectorAll('#map-area img, aside img, header img, #title b').length") == 0
        assert page.complaints == []


def _hostile_view():
    """One core per hostile text, with it in every text column."""
    texts = ("core_id", "street", "district", "surface", "shade", "segment_id", "side", "bedding", "surface_from")
    rows = cores(
        *(
            {"lon": -82.003 + 1e-4 * i, "lat": STREET, "status": "flagged", **dict.fromkeys(texts, text)}
            for i, text in enumerate([*_WORST.values(), HOSTILE])
        )
    )
    wrong = FINDINGS.iloc[[1] * len(rows)].assign(
        row=rows["row"].to_numpy(), message=rows["street"].to_numpy(), rule=rows["street"].to_numpy()
    )
    return view(
        cores=rows,
        findings=wrong,
        unplaced=0,
        title=HOSTILE,
        sources=list(_WORST.values()),
        cautions=list(_WORST.values()),
        segments=view().segments.assign(street=[_WORST["script"], _WORST["template"]]),
    )


def test_hostile_text_never_runs_in_table_dialog_filter_or_print(tmp_path):
    path = saved(tmp_path, _hostile_view())
    assert path.stat().st_size < 2_000_000
    with open_page(path, accept_downloads=True) as page:
        wait_until_drawn(page)
        page.ask("document.querySelectorAll('#panel details').forEach((d) => { d.open = true; })")
        page.ask("void document.querySelector('#as-table').click()")
        page.wait_for("document.querySelectorAll('.cores-table tbody tr').length === 12")
        seen = page.ask("[...document.querySelectorAll('.cores-table tbody th')].map((h) => h.textContent)")
        # a text of a million letters is cut
        assert [name for name, text in _WORST.items() if visible(text) not in seen] == ["big"]
        assert "y" * 400 + "…" in seen
        for place in range(1, 13):
            page.ask(f"void document.querySelector('.cores-table tbody tr:nth-child({place}) button').click()")
            page.ask("document.querySelector('dialog').close()")
        page.ask("document.querySelectorAll('#questions input[type=checkbox]').forEach((box) => box.click())")
        page.ask("kerfbook.filter.askAll({ rule: new Set([kerfbook.attributes.findings(0)[0].rule]) })")
        page.ask("void window.dispatchEvent(new Event('beforeprint'))")
        page.page.wait_for_timeout(500)
        assert page.ask("typeof window.ran") == "undefined"
        made = "main img, main a[href^=javascript], dialog img, #paper-page img"
        assert page.ask(f"document.querySelectorAll('{made}').length") == 0
        assert page.complaints == []
        assert len(page.requests) == 1


def test_hostile_text_is_no_markup_in_the_list_for_browsers_without_script(tmp_path):
    with open_page(saved(tmp_path, _hostile_view()), java_script_enabled=False) as page:
        assert page.page.locator("#plain img, #plain script").count() == 0
        assert _WORST["picture"] in page.page.inner_text("#plain")
