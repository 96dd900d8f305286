"""How many urgent cores a street has shows in its width, on the screen, in the legend and on paper."""

import dataclasses

import geopandas as gpd
import numpy as np
import pandas as pd
import pytest
import shapely

from tests.browser.browser import open_page
from tests.browser.town import FINDINGS, cores, saved, view, wait_until_drawn

_WEST, _EAST, _SOUTH, _APART = -82.004, -81.996, 44.8, 0.0015
# streets lie in pairs, about 20 pixels apart at zoom 15, and 78 pixels from pair to pair
_LATS = [_SOUTH + 2 * _APART * (n // 2) + 0.4 * _APART * (n % 2) for n in range(10)]
_OVERDUE = ("flagged", "overdue")
# by segment: its street, and how many cores of each status and urgency lie on it
_TOWN = {
    "A": ("Anchor Street", {_OVERDUE: 1}),
    "B": ("Buoy Street", {_OVERDUE: 4}),
    "C": ("Capstan Street", {_OVERDUE: 3}),
    "C2": ("Capstan Street", {_OVERDUE: 2}),
    "D": ("Dory Street", {("flagged", "hazard"): 1, _OVERDUE: 11}),
    "E": ("Eel Street", {("pending", None): 3000}),
    "U": (None, {("flagged", "quality"): 2}),
    "V": (None, {("flagged", "record"): 2}),
    "F": ("Float Street", {("reinstated", None): 2}),
    "G": ("Gull Street", {_OVERDUE: 1}),
}
_STEPS = ["1", "2–4", "5–9", "10 or more"]


def _town():
    random = np.random.default_rng(3)
    rows = []
    for n, (segment, (street, some)) in enumerate(_TOWN.items()):
        for (status, urgency), count in some.items():
            for lon in random.uniform(_WEST + 0.001, _EAST - 0.001, count):
                place = {"lon": lon, "lat": _LATS[n], "segment_id": segment, "street": street}
                rows.append({"status": status, "urgency": urgency, **place})
    frame = cores(*rows).assign(urgency=pd.Series([row["urgency"] for row in rows], dtype="str"), state="open")
    lines = [shapely.LineString([(_WEST, y), (_EAST, y)]) for y in _LATS]
    streets = {"segment_id": list(_TOWN), "street": [street for street, _ in _TOWN.values()], "surface": "asphalt"}
    layer = gpd.GeoDataFrame(streets, geometry=lines, crs=4326)
    shown = view(cores=frame, segments=layer, findings=FINDINGS[:0].assign(urgency=None), unplaced=0)
    return dataclasses.replace(shown, districts=None)


@pytest.fixture(scope="module")
def page(tmp_path_factory):
    with open_page(saved(tmp_path_factory.mktemp("streets"), _town()), 1400, 900) as opened:
        wait_until_drawn(opened)
        opened.ask(
            f"void map_kerfbook.setView([{_SOUTH + 4 * _APART}, {(_WEST + _EAST) / 2}], 15, {{ animate: false }})"
        )
        yield opened


def _line_widths(page):
    """By segment, how many pixels are painted across its western end, casing included."""
    found = page.ask(
        f"""(async () => {{ await new Promise((done) => setTimeout(done, 300));
        const {{ roads }} = kerfbook; const found = {{}};
        const tiles = [...document.querySelectorAll('.leaflet-roads-pane canvas')].map((tile) => [tile, tile.getBoundingClientRect()]);
        const origin = map_kerfbook.getContainer().getBoundingClientRect();
        for (let i = 0; i < roads.count; i += 1) {{
          const lat = kerfbook.map.unproject([0, roads.y[roads.start[i]] / 2 ** 22], 0).lat;
          const p = map_kerfbook.latLngToContainerPoint([lat, {_WEST + 0.0004}]);
          let n = 0;
          for (let dy = -8; dy <= 8; dy += 1) {{
            const [x, y] = [p.x + origin.x, p.y + origin.y + dy];
            const at = tiles.find(([, b]) => x >= b.left && x < b.right && y >= b.top && y < b.bottom);
            if (!at) continue;
            const [tile, b] = at;
            const c = tile.getContext('2d').getImageData(Math.floor((x - b.left) * tile.width / b.width), Math.floor((y - b.top) * tile.height / b.height), 1, 1).data;
            n += c[3] / 255;
          }}
          found[roads.textOf('id', i)] = n;
        }} return found; }})()"""
    )
    return {segment: found[segment] for segment in _TOWN}


def _legend(page):
    rows = page.ask(
        "[...document.querySelectorAll('#keys .street-keys tr')].map((row) => [...row.cells].map((c) => c.textContent))"
    )
    return {name: cells for name, *cells in rows}


def _steps(page):
    found = page.ask(
        "Object.fromEntries(Array.from({ length: kerfbook.roads.count }, (_, i) => [kerfbook.roads.textOf('id', i),"
        "[KerfbookSymbols.LEVELS[kerfbook.roads.level[i]], kerfbook.roads.step[i]]]))"
    )
    return {segment: tuple(found[segment]) for segment in _TOWN}


def test_a_street_with_more_such_cores_is_drawn_wider_by_steps(page):
    """Capstan Street has five overdue cores on two segments, and both are as wide."""
    widths = _line_widths(page)
    # pixels at zoom 12, by 1.24 for each of three zooms, and the casing: 1.1, 1.7, 2.7 and 4.2; 0.8, 1.1, 1.5 and 1.9
    thin, few, many, most = 2.9, 4.3, 6.6, 9.9
    assert widths == pytest.approx(
        {"A": thin, "B": few, "C": many, "C2": many, "D": most, "E": most, "U": few, "V": few, "G": thin}
        | {"F": widths["F"]},
        abs=0.7,
    )
    growing = page.ask(
        "[6, 10, 12, 14, 16, 18, 20].flatMap((zoom) => [0, 1, 2].map((s) => KerfbookRoads.Roads.width(zoom, 1, s + 1) / KerfbookRoads.Roads.width(zoom, 1, s)))"
    )
    # told apart without colour, side by side or not, at every zoom
    assert min(growing) >= 1.3


def test_the_legend_counts_the_streets_of_each_colour_and_width(page):
    assert page.ask("kerfbook.roads.limits") == [2, 5, 10]
    assert _legend(page) == {
        "Such cores on the street": _STEPS,
        "Hazard to people or to the road": ["", "", "", "1"],
        "Open and overdue": ["2", "1", "1", ""],
        "Flagged for another reason": ["", "2", "", ""],
        "Open, plated or interim; none flagged": ["", "", "", "1"],
        "Reinstated, none flagged": ["1"],
    }
    assert page.ask("document.querySelectorAll('#keys .street-keys th:not([scope])').length") == 0
    assert "Hazards and cores that are open and overdue are counted together." in page.text("#keys")


def test_the_page_counts_what_a_filter_shows_as_it_was_packed(page):
    packed = _steps(page)
    assert packed == {
        "A": ("overdue", 0),
        "B": ("overdue", 1),
        "C": ("overdue", 2),
        "C2": ("overdue", 2),
        "D": ("hazard", 3),
        "E": ("open", 3),
        "U": ("flagged", 1),
        "V": ("flagged", 1),
        "F": ("order", 0),
        "G": ("overdue", 0),
    }
    page.ask("kerfbook.filter.ask('status', new Set(['flagged', 'pending', 'reinstated']))")
    assert _steps(page) == packed
    page.ask(
        "kerfbook.filter.askAll({ urgency: new Set(['overdue']), street: new Set(['Dory Street', 'Buoy Street']) })"
    )
    asked = _steps(page)
    assert {segment: level for segment, level in asked.items() if level[0] != "none"} == {
        "B": ("overdue", 1),
        "D": ("overdue", 3),
    }
    page.ask("kerfbook.filter.askAll({ status: new Set(['pending']) })")
    assert _legend(page) == {
        "Such cores on the street": _STEPS,
        "Open, plated or interim; none flagged": ["", "", "", "1"],
        "No core": ["8"],
    }
    page.ask("kerfbook.filter.askAll({})")
    assert _steps(page) == packed


def test_the_printed_legend_says_what_the_widths_mean(page):
    page.ask("void window.dispatchEvent(new Event('beforeprint'))")
    page.wait_for("document.querySelector('.paper-legend')")
    legend = " ".join(page.text(".paper-legend").split())
    assert "Such cores on the street 1 2–4 5–9 10 or more" in legend
    page.ask("void window.dispatchEvent(new Event('afterprint'))")
    # the browser's own advice about reading pixels back, which only this test does
    assert [one for one in page.complaints if "willReadFrequently" not in one] == []


def test_names_keep_clear_of_wide_coloured_streets(page):
    """There is room for each name on the outer side of a pair of streets."""
    page.wait_for("kerfbook.names.placed.length === 7")
    gaps = page.ask(
        """(() => { const { names, roads } = kerfbook; const box = names.view(); const to = names.toScreen(box);
        const lines = Array.from({ length: roads.count }, (_, i) => [to(roads.lineOf(i)[0])[1], roads.halfWidth(i, box.zoom)]).filter(([, half]) => half > 2);
        return names.placed.map(({ text, points }) => [text, Math.min(...points.flatMap(([, y]) => lines.map(([at, half]) => Math.abs(y - at) - half)))]); })()"""
    )
    # the streets run from west to east; half the height of a letter
    assert all(gap > 4 for _, gap in gaps), gaps
