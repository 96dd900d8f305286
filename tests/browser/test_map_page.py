"""The map page in a real browser: opened from disk, the network off."""

import json
import re
from pathlib import Path

import folium
import numpy as np
import pandas as pd
import pytest

from pipeline.errors import ContractError, OutputError
from pipeline.publish.map import cores as map_data
from pipeline.publish.map import page as map_page
from pipeline.publish.map.page import draw_map
from tests.browser.browser import open_page
from tests.browser.town import (
    COLOURS,
    EAST,
    FINDINGS,
    HOSTILE,
    MIDDLE,
    NORTH,
    SOUTH,
    STREET,
    THREE,
    WEST,
    card,
    colour_at,
    cores,
    findings,
    saved,
    spot,
    view,
    wait_until_drawn,
)


def test_the_page_opens_without_a_request_or_a_complaint(tmp_path: Path) -> None:
    path = saved(tmp_path, view())
    with open_page(path) as page:
        wait_until_drawn(page)
        assert page.requests == [path.as_uri()]
        assert page.complaints == []
        assert page.text("h1") == "Harbour Vale water"
        assert page.text("#as-of") == "As of 25 November 2026 · 4 cores"
        assert page.ask("[document.documentElement.lang, document.querySelectorAll('main').length]") == ["en", 1]
        assert page.text(".leaflet-control-attribution") == "Leaflet"
        assert page.text(".credit") == "Data: Harbour Vale road centrelines"
        assert "Lift a core with two people" in page.text("#cautions")
        assert "EPSG:32617" in page.text("#crs")


def test_the_policy_lets_no_other_script_run(tmp_path: Path) -> None:
    with open_page(saved(tmp_path, view())) as page:
        wait_until_drawn(page)
        page.ask(
            "void (() => { const s = document.createElement('script'); s.textContent = 'window.ran = 1';"
            "document.body.append(s); document.body.insertAdjacentHTML('beforeend',"
            "'<img src=x onerror=\"window.ran=1\">'); })()"
        )
        page.page.wait_for_timeout(200)
        assert page.ask("typeof window.ran") == "undefined"
        assert any("Content Security Policy" in complaint for complaint in page.complaints)


def test_the_legend_counts_every_core_and_says_which_are_not_on_the_map(tmp_path: Path) -> None:
    with open_page(saved(tmp_path, view())) as page:
        wait_until_drawn(page)
        counts = page.ask(
            "[...document.querySelectorAll('#legend .count')].map((c) => [c.dataset.status, c.textContent])"
        )
        assert counts == [["flagged", "2"], ["pending", "1"], ["reinstated", "1"]]
        assert page.text("#legend .off") == "1 not on the map"
        assert page.text("#unplaced-note").startswith("1 core is not on the map: no usable position.")
        assert page.text("#in-view") == "In view: 1 flagged, 1 pending, 1 reinstated."


def test_an_unplaced_core_is_listed_and_its_card_says_why(tmp_path: Path) -> None:
    with open_page(saved(tmp_path, view())) as page:
        wait_until_drawn(page)
        page.page.click("#unplaced-note button")
        page.wait_for("document.querySelector('#unplaced button.row')")
        assert page.text("#unplaced .row-id") == "C-4"
        page.page.click("#unplaced button.row")
        page.wait_for("document.querySelector('dialog').open")
        assert "no coordinates in the row" in page.text("dialog")


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
                "Capstan Street: 62%, or Dory Lane: 38%",
                "HV-1: 62%, or HV-2: 38%",
                "asphalt: 71%, or concrete: 29%",
            ):
                assert (words in card) == shown


def test_a_core_has_its_status_colour_and_loses_it_with_the_switch(tmp_path: Path) -> None:
    with open_page(saved(tmp_path, view())) as page:
        wait_until_drawn(page)
        for core in THREE.iloc[:3].itertuples():
            assert colour_at(page, core.lon, core.lat) == COLOURS[core.status], core.core_id
        assert colour_at(page, -82.002, STREET) is None
        page.page.click("#legend label:nth-child(2) input")
        assert colour_at(page, -82.001, STREET) is None
        assert colour_at(page, -82.003, STREET) == COLOURS["flagged"]


def test_the_statuses_differ_in_grey_too() -> None:
    greys = sorted(0.2126 * r + 0.7152 * g + 0.0722 * b for r, g, b in COLOURS.values())
    assert np.diff(greys).min() > 60


def test_a_click_opens_the_card_with_the_findings_worst_first(tmp_path: Path) -> None:
    with open_page(saved(tmp_path, view())) as page:
        wait_until_drawn(page)
        x, y = spot(page, -82.003, STREET)
        page.page.mouse.click(x + 5, y + 5)
        text = card(page)
        assert text.startswith("C-1Flagged register row 1")
        assert "Fail 12 mm deep, 25 to 1000 mm expected: measure it again depth-implausible" in text
        assert text.index("Fail") < text.index("a small remark")
        for said in (
            "Capstan Street",
            "12.3 m along the segment",
            "1.5 m left of the centreline",
            "44.800000, -82.003000",
            "asphalt, from the surface polygon it lies in",
            "457 mm across, 180 mm deep",
            "6 L, 11.5 kg, 0.46 bags",
            "1 October 2026",
        ):
            assert said in text


def test_enter_opens_the_core_nearest_the_middle_and_escape_closes_it(tmp_path: Path) -> None:
    with open_page(saved(tmp_path, view())) as page:
        wait_until_drawn(page)
        page.ask(f"void map_kerfbook.panTo([{STREET}, -81.9985], {{animate: false}})")
        page.ask("map_kerfbook.getContainer().focus()")
        page.page.keyboard.press("Enter")
        assert "No finding about this core." in card(page)
        assert page.text(".leaflet-popup h2") == "C-3"
        page.page.keyboard.press("Escape")
        page.wait_for("!document.querySelector('.leaflet-popup')")
        assert page.ask("document.activeElement === map_kerfbook.getContainer()")


def test_cores_at_one_spot_can_all_be_reached(tmp_path: Path) -> None:
    twins = cores({"lon": -82.001, "lat": STREET}, {"lon": -82.001, "lat": STREET})
    with open_page(saved(tmp_path, view(cores=twins, findings=FINDINGS[:0], unplaced=0))) as page:
        wait_until_drawn(page)
        page.page.mouse.click(*spot(page, -82.001, STREET))
        seen = {card(page)[:3]}
        page.page.click(".leaflet-popup .after")
        seen.add(card(page)[:3])
        assert seen == {"C-1", "C-2"}


def test_a_street_name_shows_under_the_pointer_and_its_surface_on_a_click(tmp_path: Path) -> None:
    with open_page(saved(tmp_path, view())) as page:
        wait_until_drawn(page)
        x, y = spot(page, MIDDLE, 44.802)
        page.page.mouse.move(x + 2, y)
        page.wait_for("document.querySelector('.street-tip')")
        assert page.text(".street-tip") == "Dory Lane"
        page.page.mouse.click(x + 2, y)
        page.wait_for("document.querySelector('.road-card')")
        assert page.text(".road-card") == "×Dory LaneSurface: concreteRoad segment: HV-2"


def test_districts_show_their_counts_and_orders(tmp_path: Path) -> None:
    with open_page(saved(tmp_path, view())) as page:
        wait_until_drawn(page)
        names = page.ask("[...document.querySelectorAll('.district-name')].map((n) => n.textContent)")
        assert names == ["Old Harbour", "Saltmarsh", "In no district"]
        assert page.text(".district:nth-child(1) .tally") == "1 Flagged 1 Pending 0 Reinstated "
        assert page.text(".district:nth-child(3) .tally") == "1 Flagged 0 Pending 0 Reinstated "
        assert page.ask("document.querySelectorAll('.label-body:not([hidden])').length") == 2
        page.page.click(".district:nth-child(2) summary")
        page.wait_for("document.querySelector('.orders')")
        assert page.text(".orders tbody") == "2026-W48grout, dark kg61.257513.753"


def test_search_finds_a_core_by_id_and_a_street_by_name(tmp_path: Path) -> None:
    with open_page(saved(tmp_path, view())) as page:
        wait_until_drawn(page)
        page.page.fill("#query", "c-2")
        page.page.press("#query", "Enter")
        assert card(page).startswith("C-2")
        page.page.fill("#query", "dory")
        assert page.text("#results .row-id") == "Dory Lane"
        page.page.press("#query", "Enter")
        page.wait_for(f"map_kerfbook.getBounds().contains([44.8015, {MIDDLE}])")


@pytest.mark.parametrize("is_written_alone", [True, False])
def test_hostile_text_is_shown_as_it_is_and_nothing_of_it_runs(tmp_path: Path, *, is_written_alone: bool) -> None:
    """Alone a text stands in the page as it is; repeated, it stands in a dictionary."""
    one = {"lon": -82.001, "lat": STREET, "core_id": HOSTILE}
    texts = ("segment_id", "street", "side", "surface", "surface_from", "district", "shade", "bedding")
    one |= dict.fromkeys((*texts, "opened_on", "reinstated_at"), HOSTILE)
    rows = cores(*[one] * (1 if is_written_alone else 3))
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
        assert page.text(".street-tip") == HOSTILE
        page.page.mouse.click(x, y)
        card(page)
        page.page.fill("#query", "window.ran")
        for district in page.page.query_selector_all(".district summary"):
            district.click()
        page.page.wait_for_timeout(300)
        literal = json.dumps(HOSTILE)
        places = "#title,.leaflet-popup h2 bdi,.findings .rule bdi,.label-body strong,.district-name,"
        places += "#results .row-id,.orders .period,.orders .unit bdi,.credit bdi,#cautions li,#crs bdi"
        for place in places.split(","):
            assert page.ask(f"document.querySelector({place!r}).textContent") == HOSTILE, place
        shown_facts = page.ask(
            f"[...document.querySelectorAll('.fact bdi')].filter((b) => b.textContent.includes({literal})).length"
        )
        assert shown_facts == len(texts)
        assert page.ask("document.title.startsWith('</title></style><!--</script>')")
        assert page.ask("typeof window.ran") == "undefined"
        assert page.ask("document.querySelectorAll('#map-area img, aside img, header img, #title b').length") == 0
        assert page.complaints == []


def test_a_cell_that_holds_a_file_is_cut_on_the_page_and_says_so(tmp_path: Path) -> None:
    rows = cores({"lon": -82.001, "lat": STREET, "street": "x" * 100_000})
    path = saved(tmp_path, view(cores=rows, findings=FINDINGS[:0], unplaced=0))
    assert path.stat().st_size < 400_000
    with open_page(path) as page:
        wait_until_drawn(page)
        page.page.mouse.click(*spot(page, -82.001, STREET))
        assert f"{'x' * 400}…" in card(page)
        assert "x" * 401 not in card(page)


def test_the_same_input_gives_the_same_bytes() -> None:
    assert draw_map(view()) == draw_map(view())


def test_the_order_of_the_findings_and_an_index_of_its_own_change_nothing() -> None:
    one_each = FINDINGS.iloc[1:]
    moved = view(findings=one_each.iloc[::-1], cores=THREE.set_axis([7, 7, 3, 1], axis=0))
    assert draw_map(moved) == draw_map(view(findings=one_each))


def test_foliums_own_lists_keep_what_they_held() -> None:
    draw_map(view())
    assert len(folium.Map.default_js) > 0
    assert len(folium.Map.default_css) > 0


def test_a_stray_core_does_not_widen_the_first_view_but_can_be_reached(tmp_path: Path) -> None:
    stray = {"status": "flagged", "lon": 12.0, "lat": -45.0, "segment_id": None}
    rows = cores({"lon": -82.001, "lat": STREET}, stray)
    with open_page(saved(tmp_path, view(cores=rows, findings=FINDINGS[:0], unplaced=0))) as page:
        wait_until_drawn(page)
        west, east = page.ask("[map_kerfbook.getBounds().getWest(), map_kerfbook.getBounds().getEast()]")
        assert east - west < 0.03
        assert page.text("#show-cores") == "All placed cores (1 outside)"
        page.page.click("#show-cores")
        page.wait_for("map_kerfbook.getBounds().contains([-45, 12])")


@pytest.mark.parametrize("with_roads", [True, False])
def test_a_run_without_cores_and_districts_still_draws(tmp_path: Path, *, with_roads: bool) -> None:
    base = view()
    empty = view(
        cores=THREE[:0],
        findings=FINDINGS[:0],
        segments=base.segments if with_roads else base.segments[:0],
        districts=None,
        orders=base.orders[:0],
        unplaced=0,
        sources=[],
        cautions=[],
    )
    with open_page(saved(tmp_path, empty)) as page:
        wait_until_drawn(page)
        assert page.complaints == []
        assert page.text("#in-view") == "In view: 0 flagged, 0 pending, 0 reinstated."
        page.ask("map_kerfbook.getContainer().focus()")
        page.page.keyboard.press("Enter")
        assert page.ask("document.querySelector('.leaflet-popup')") is None


def test_many_cores_far_out_are_rings_that_add_up_and_open_on_a_click(tmp_path: Path) -> None:
    random = np.random.default_rng(7)
    rows = pd.concat([THREE.iloc[[1]]] * 3000, ignore_index=True)
    rows["row"] = np.arange(1, 3001)
    rows["core_id"] = "C-" + rows["row"].astype(str)
    rows["lon"] = -82.001 + random.uniform(-0.0004, 0.0004, 3000)
    rows["lat"] = STREET + random.uniform(-0.0004, 0.0004, 3000)
    with open_page(saved(tmp_path, view(cores=rows, findings=FINDINGS[:0], unplaced=0))) as page:
        wait_until_drawn(page)
        assert page.text("#in-view") == "In view: 0 flagged, 3,000 pending, 0 reinstated. Zoom in for single cores."
        assert page.page.is_visible("#ring-key")
        # on a canvas of its own, at a zoom where all lie in one square
        said = page.ask(
            """(() => { const said = [], ctx = document.createElement('canvas').getContext('2d');
            ctx.fillText = (text) => said.push(text); const x = kerfbook.cores.x[0] / 2 ** 30 * 256 * 2 ** 8;
            const y = kerfbook.cores.y[0] / 2 ** 30 * 256 * 2 ** 8;
            kerfbook.cores.paint(ctx, { left: x - 9, top: y - 9, width: 9, height: 9, zoom: 8, ratio: 1, unit: 1 });
            return said; })()"""
        )
        assert said == ["3k"]
        before = page.ask("map_kerfbook.getZoom()")
        for x in range(-80, 81, 8):
            at = spot(page, -82.001, STREET)
            page.page.mouse.click(at[0] + x, at[1])
            page.page.wait_for_timeout(50)
            if page.ask("map_kerfbook.getZoom()") > before or page.ask("map_kerfbook._animatingZoom"):
                break
        page.wait_for(f"map_kerfbook.getZoom() > {before}")
        page.ask(f"void map_kerfbook.setView([{STREET}, -82.001], 22, {{ animate: false }})")
        page.wait_for("document.querySelector('#ring-key').hidden")


@pytest.mark.parametrize("many", [500_000, 100])
def test_every_core_is_found_where_it_lies_at_any_zoom(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, many: int
) -> None:
    """Against a plain search over all of them, through the quadtree's runs and cell borders, cut positions too."""
    monkeypatch.setattr(map_data, "MANY", many)
    random = np.random.default_rng(11)
    rows = pd.concat([THREE.iloc[[0]]] * 500, ignore_index=True)
    rows["row"] = np.arange(1, 501)
    rows["lon"], rows["lat"] = random.uniform(WEST, EAST, 500), random.uniform(SOUTH, NORTH, 500)
    with open_page(saved(tmp_path, view(cores=rows, findings=FINDINGS[:0], unplaced=0))) as page:
        wait_until_drawn(page)
        wrong = page.ask(
            """(() => { const made = window.kerfbook.cores; let wrong = 0;
            for (const zoom of [3, 12.25, 15, 17.5, 22]) { const scale = 256 * 2 ** zoom / 2 ** 30;
              for (let i = 0; i < made.count; i += 7) { const x = made.x[i] * scale + 9, y = made.y[i] * scale - 6;
                const plain = []; for (let j = 0; j < made.count; j += 1)
                  if (Math.hypot(made.x[j] * scale - x, made.y[j] * scale - y) <= 12) plain.push(j);
                const found = made.near(x, y, zoom, 12).sort((a, b) => a - b);
                if (found.join() !== plain.join() || !found.includes(i)) wrong += 1;
                const box = [x - 150, y - 90, x + 40, y + 200];
                const inside = plain.length && Array.from(made.x).filter((_, j) => made.x[j] * scale >= box[0]
                  && made.x[j] * scale <= box[2] && made.y[j] * scale >= box[1] && made.y[j] * scale <= box[3]).length;
                if (made.countInBox(...box, zoom)[0] !== inside) wrong += 1; } } return wrong; })()"""
        )
        assert wrong == 0


def test_tiles_keep_one_canvas_pixel_to_one_on_the_screen_between_whole_zooms(tmp_path: Path) -> None:
    with open_page(saved(tmp_path, view())) as page:
        wait_until_drawn(page)
        for zoom in (16.75, 17, 17.25):
            # Animated, as a user zooms: a jump would lay every tile out anew.
            page.ask(f"void map_kerfbook.setZoom({zoom}, {{animate: {str(zoom > 16.75).lower()}}})")
            page.wait_for(f"map_kerfbook.getZoom() === {zoom} && !map_kerfbook._animatingZoom")
            stretched = page.ask(
                "[...document.querySelectorAll('.leaflet-cores-pane canvas')]"
                ".map((tile) => tile.width / tile.getBoundingClientRect().width)"
            )
            assert stretched == pytest.approx([1.0] * len(stretched), rel=0.01)
            assert colour_at(page, -82.001, STREET) == COLOURS["pending"]


def test_on_a_phone_the_panel_opens_and_closes(tmp_path: Path) -> None:
    with open_page(saved(tmp_path, view()), width=390, height=844) as page:
        wait_until_drawn(page)
        assert page.ask("document.documentElement.scrollWidth <= 390")
        assert page.ask("document.querySelector('#panel').offsetHeight") == 0
        page.page.click("#panel-switch")
        page.wait_for("document.querySelector('#panel').offsetHeight > 300")
        page.page.click("#panel-switch")
        page.wait_for("document.querySelector('#panel').offsetHeight === 0")


def test_the_page_holds_leaflets_licence_and_no_outside_address_to_load() -> None:
    page = draw_map(view())
    assert "Copyright (c) 2010-2024, Volodymyr Agafonkin" in page
    assert re.findall(r'(?:src|href)="(?!data:)[^"#]', page.split("<script")[0]) == []
    assert "sourceMappingURL" not in page


def test_another_leaflet_than_the_pinned_one_is_refused(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setitem(map_page.LEAFLET_SHA256, "leaflet.js", "0" * 64)
    with pytest.raises(OutputError, match=r"leaflet\.js .* Install django-js-lib-leaflet==1\.9\.4\.1"):
        draw_map(view())


def test_a_count_of_unplaced_cores_that_is_not_theirs_is_refused() -> None:
    with pytest.raises(ContractError, match="2 unplaced expected, 1 cores without a position found"):
        draw_map(view(unplaced=2))


def test_a_status_of_no_meaning_is_refused() -> None:
    with pytest.raises(ContractError, match=r"status .*lost.* found"):
        draw_map(view(cores=THREE.assign(status="lost")))


def test_a_finding_about_no_row_is_refused() -> None:
    with pytest.raises(ContractError, match="row 99 is not in the cores"):
        draw_map(view(findings=findings((99, "id-missing", "check", "no id"))))


def test_numbers_that_are_not_finite_are_shown_as_not_known(tmp_path: Path) -> None:
    rows = cores({"lon": -82.001, "lat": STREET, "diameter_mm": np.inf, "depth_mm": np.nan})
    with open_page(saved(tmp_path, view(cores=rows, findings=FINDINGS[:0], unplaced=0))) as page:
        wait_until_drawn(page)
        page.page.mouse.click(*spot(page, -82.001, STREET))
        assert "Sizenot known" in card(page)
