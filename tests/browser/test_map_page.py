"""The map page in a real browser: opened from disk, the network off.

The town is one street, one lane and two districts:

        lane, HV-2
          |
    ------+------  street, HV-1      west: Old Harbour, east: Saltmarsh
"""

import dataclasses
import datetime as dt
import json
import re
from pathlib import Path
from typing import Any

import folium
import geopandas as gpd
import numpy as np
import pandas as pd
import pytest
import shapely

from pipeline.errors import ContractError, OutputError
from pipeline.publish import map_page
from pipeline.publish.map_page import MapInput, draw_map
from tests.browser.browser import OpenPage, open_page

WEST, MIDDLE, EAST, SOUTH, STREET, NORTH = -82.004, -82.0, -81.996, 44.798, 44.8, 44.803
# The page's own choice, written out a second time: red, yellow, green-blue.
COLOURS = {"flagged": [177, 18, 63], "pending": [255, 224, 122], "reinstated": [58, 167, 160]}
HOSTILE = (
    "</title></style><!--</script><script>window.ran=1</script><img src=x onerror='window.ran=1'>"
    "{{ 7*7 }}{% raw %}${window.ran=1}`'\"\\u003c@@csp@@ \u202eesrever & <b>bold</b>\u2028"
)


def cores(*rows: dict[str, Any]) -> pd.DataFrame:
    usual = {
        "status": "pending",
        "lon": np.nan,
        "lat": np.nan,
        "diameter_mm": 457.0,
        "depth_mm": 180.0,
        "segment_id": "HV-1",
        "street": "Capstan Street",
        "side": "left",
        "surface": "asphalt",
        "surface_from": "polygon",
        "segment_confidence": 1.0,
        "runner_up_id": None,
        "runner_up_street": None,
        "runner_up_confidence": np.nan,
        "surface_confidence": 1.0,
        "surface_next": None,
        "surface_next_confidence": np.nan,
        "district": "Old Harbour",
        "shade": "dark",
        "bedding": "pea gravel, 25 mm",
        "chainage_m": 12.34,
        "offset_m": 1.5,
        "grout_l": 6.04,
        "grout_kg": 11.5,
        "bags": 0.46,
        "water_l_needed": 1.6,
        "gravel_kg": 6.6,
        "opened_on": "2026-10-01",
        "reinstated_at": None,
    }
    filled = [{"row": i, "core_id": f"C-{i}", **usual, **row} for i, row in enumerate(rows, start=1)]
    return pd.DataFrame(filled, columns=["row", "core_id", *usual])


def findings(*rows: tuple[int, str, str, str]) -> pd.DataFrame:
    frame = pd.DataFrame(rows, columns=["row", "rule", "severity", "message"])
    return frame.assign(core_id=[f"C-{row}" for row in frame["row"]])


THREE = cores(
    {"status": "flagged", "lon": -82.003, "lat": STREET},
    {"status": "pending", "lon": -82.001, "lat": STREET},
    {"status": "reinstated", "lon": -81.998, "lat": STREET, "district": "Saltmarsh", "reinstated_at": "2026-11-02"},
    {"status": "flagged", "street": None, "segment_id": None, "district": None},
)
FINDINGS = findings(
    (1, "pavement-thin", "note", "a small remark"),
    (1, "depth-implausible", "fail", "12 mm deep, 25 to 1000 mm expected: measure it again"),
    (4, "position-missing", "fail", "no coordinates in the row"),
)


def view(**changes: Any) -> MapInput:
    street = shapely.LineString([(WEST, STREET), (EAST, STREET)])
    lane = shapely.LineString([(MIDDLE, STREET), (MIDDLE, NORTH)])
    usual = MapInput(
        title="Harbour Vale water",
        as_of=dt.date(2026, 11, 25),
        crs="EPSG:32617",
        cores=THREE,
        findings=FINDINGS,
        segments=gpd.GeoDataFrame(
            {
                "segment_id": ["HV-1", "HV-2"],
                "street": ["Capstan Street", "Dory Lane"],
                "surface": ["asphalt", "concrete"],
            },
            geometry=[street, lane],
            crs=4326,
        ),
        districts=gpd.GeoDataFrame(
            {"district": ["Old Harbour", "Saltmarsh"]},
            geometry=[shapely.box(WEST, SOUTH, MIDDLE, NORTH), shapely.box(MIDDLE, SOUTH, EAST, NORTH)],
            crs=4326,
        ),
        orders=pd.DataFrame(
            [("Saltmarsh", "2026-W48", "grout, dark", "kg", 61.25, 75.0, 13.75, 3)],
            columns=["district", "period", "item", "unit", "needed", "order", "reserve", "packs"],
        ),
        unplaced=1,
        sources=["Harbour Vale road centrelines"],
        cautions=["Lift a core with two people or a hoist."],
    )
    return dataclasses.replace(usual, **changes)


def saved(folder: Path, shown: MapInput) -> Path:
    path = folder / "map.html"
    path.write_text(draw_map(shown), encoding="utf-8")
    return path


def wait_until_drawn(page: OpenPage) -> None:
    page.wait_for("performance.getEntriesByName('cores-drawn').length > 0")


def spot(page: OpenPage, lon: float, lat: float) -> tuple[float, float]:
    x, y = page.ask(
        f"(() => {{ const p = map_kerfbook.latLngToContainerPoint([{lat}, {lon}]);"
        "const b = map_kerfbook.getContainer().getBoundingClientRect(); return [p.x + b.x, p.y + b.y]; })()"
    )
    return x, y


def colour_at(page: OpenPage, lon: float, lat: float) -> list[int] | None:
    """The colour that the core tiles have at a place; None where they are clear."""
    x, y = spot(page, lon, lat)
    return page.ask(
        f"""(() => {{ for (const tile of document.querySelectorAll('.leaflet-cores-pane canvas')) {{
        const b = tile.getBoundingClientRect();
        if ({x} < b.left || {x} >= b.right || {y} < b.top || {y} >= b.bottom) continue;
        const s = tile.width / b.width;
        const c = tile.getContext('2d').getImageData(({x} - b.left) * s, ({y} - b.top) * s, 1, 1).data;
        return c[3] === 255 ? [...c].slice(0, 3) : null; }} return null; }})()"""
    )


def card(page: OpenPage) -> str:
    page.wait_for("document.querySelector('.leaflet-popup .card')")
    return page.text(".leaflet-popup .card")


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
        counts = page.ask(
            "[...document.querySelectorAll('#legend .count')].map((c) => [c.dataset.status, c.textContent])"
        )
        assert counts == [["flagged", "2"], ["pending", "1"], ["reinstated", "1"]]
        assert page.text("#legend .off") == "1 not on the map"
        assert page.text("#unplaced-note").startswith("1 core is not on the map: no usable position.")
        assert page.text("#in-view") == "In view: 1 flagged, 1 pending, 1 reinstated."


def test_an_unplaced_core_is_listed_and_its_card_says_why(tmp_path: Path) -> None:
    with open_page(saved(tmp_path, view())) as page:
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
                "Capstan Street: 62 %, or Dory Lane: 38 %",
                "HV-1: 62 %, or HV-2: 38 %",
                "asphalt: 71 %, or concrete: 29 %",
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
            "2026-10-01",
        ):
            assert said in text


def test_enter_opens_the_core_nearest_the_middle_and_escape_closes_it(tmp_path: Path) -> None:
    with open_page(saved(tmp_path, view())) as page:
        wait_until_drawn(page)
        page.ask(f"void map_kerfbook.panTo([{STREET}, -81.9985], {{animate: false}})")
        page.ask("map_kerfbook.getContainer().focus()")
        page.page.keyboard.press("Enter")
        assert "No finding about this core." in card(page)
        assert page.text(".leaflet-popup h3") == "C-3"
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
        assert page.text(".road-card") == "Dory LaneSurface: concreteRoad segment: HV-2"


def test_districts_show_their_counts_and_orders(tmp_path: Path) -> None:
    with open_page(saved(tmp_path, view())) as page:
        names = page.ask("[...document.querySelectorAll('.district-name')].map((n) => n.textContent)")
        assert names == ["Old Harbour", "Saltmarsh", "In no district"]
        assert page.text(".district:nth-child(1) .tally") == "1 flagged 1 pending 0 reinstated "
        assert page.text(".district:nth-child(3) .tally") == "1 flagged 0 pending 0 reinstated "
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
    texts = ("segment_id", "street", "side", "surface", "surface_from", "district", "shade", "bedding", "opened_on")
    one |= dict.fromkeys((*texts, "reinstated_at"), HOSTILE)
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
        places = "#title,.leaflet-popup h3 bdi,.findings .rule bdi,.label-body strong,.district-name,"
        places += "#results .row-id,.orders .period,.orders .unit bdi,.credit bdi,#cautions li,#crs bdi"
        for place in places.split(","):
            assert page.ask(f"document.querySelector({place!r}).textContent") == HOSTILE, place
        shown_facts = page.ask(
            f"[...document.querySelectorAll('.fact bdi')].filter((b) => b.textContent.includes({literal})).length"
        )
        assert shown_facts == len(texts) + 1
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
        assert f"{'x' * 400}… (100,000 characters in all)" in card(page)


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
        before = page.ask("map_kerfbook.getZoom()")
        for x in range(-80, 81, 8):
            at = spot(page, -82.001, STREET)
            page.page.mouse.click(at[0] + x, at[1])
            page.page.wait_for_timeout(50)
            if page.ask("map_kerfbook.getZoom()") > before or page.ask("map_kerfbook._animatingZoom"):
                break
        page.wait_for(f"map_kerfbook.getZoom() > {before}")


def test_every_core_is_found_where_it_lies_at_any_zoom(tmp_path: Path) -> None:
    """Against a plain search over all of them, through the quadtree's runs and cell borders."""
    random = np.random.default_rng(11)
    rows = pd.concat([THREE.iloc[[0]]] * 500, ignore_index=True)
    rows["row"] = np.arange(1, 501)
    rows["lon"], rows["lat"] = random.uniform(WEST, EAST, 500), random.uniform(SOUTH, NORTH, 500)
    with open_page(saved(tmp_path, view(cores=rows, findings=FINDINGS[:0], unplaced=0))) as page:
        wrong = page.ask(
            """(() => { const made = new KerfbookCores.Cores(KerfbookDom.readJson('core-data')); let wrong = 0;
            for (const zoom of [3, 12.25, 15, 17.5, 22]) { const scale = 256 * 2 ** zoom / 2 ** 30;
              for (let i = 0; i < made.count; i += 7) { const x = made.x[i] * scale + 9, y = made.y[i] * scale - 6;
                const plain = []; for (let j = 0; j < made.count; j += 1)
                  if (Math.hypot(made.x[j] * scale - x, made.y[j] * scale - y) <= 12) plain.push(j);
                const found = made.near(x, y, zoom, 12).sort((a, b) => a - b);
                if (found.join() !== plain.join() || !found.includes(i)) wrong += 1; } } return wrong; })()"""
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


def test_the_printed_map_has_the_cores_in_their_colours(tmp_path: Path) -> None:
    with open_page(saved(tmp_path, view())) as page:
        wait_until_drawn(page)
        x = page.ask(f"map_kerfbook.latLngToContainerPoint([{STREET}, -82.003]).x")
        y = page.ask(f"map_kerfbook.latLngToContainerPoint([{STREET}, -82.003]).y")
        page.ask("void window.dispatchEvent(new Event('beforeprint'))")
        painted = page.ask(
            f"[...document.querySelector('#paper').getContext('2d').getImageData({x} * 3, {y} * 3, 1, 1).data]"
        )
        assert painted == [*COLOURS["flagged"], 255]
        page.ask("void window.dispatchEvent(new Event('afterprint'))")
        assert page.ask("document.querySelector('#paper')") is None
        assert b"/Subtype /Image" in page.as_pdf()


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
