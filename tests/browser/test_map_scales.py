"""What the map says at each scale: coloured streets far out, then flagged cores, then every core; names; the legend."""

import numpy as np
import pandas as pd

from tests.browser.browser import open_page
from tests.browser.town import FINDINGS, MIDDLE, STREET, THREE, cores, saved, spot, view, wait_until_drawn

# the page's own choice, written out a second time: overdue and open streets
_OVERDUE, _OPEN = [177, 18, 63], [255, 224, 122]


def _many(**changes):
    """3,000 open cores on the street and one overdue on the lane; one of them on no street."""
    random = np.random.default_rng(7)
    rows = pd.concat([THREE.iloc[[1]]] * 3000, ignore_index=True)
    rows["lon"] = -82.001 + random.uniform(-0.0004, 0.0004, 3000)
    rows["lat"] = STREET + random.uniform(-0.0004, 0.0004, 3000)
    late = {"status": "flagged", "lon": MIDDLE, "lat": 44.801, "segment_id": "HV-2", "street": "Dory Lane"}
    loose = {"status": "pending", "lon": -82.002, "lat": 44.802, "segment_id": None, "street": None}
    rows = pd.concat([rows, cores(late, loose)], ignore_index=True)
    rows["row"] = np.arange(1, len(rows) + 1)
    rows["core_id"] = "C-" + rows["row"].astype(str)
    urgency = pd.Series(None, index=rows.index, dtype="str").mask(rows["status"].eq("flagged"), "overdue")
    shown = rows.assign(urgency=urgency, state="open")
    return view(cores=shown, findings=FINDINGS[:0].assign(urgency=None), unplaced=0, **changes)


def _road_colours(page, lon, lat):
    """The colours that the road tiles have at a place and beside it: a street with one core is two pixels wide."""
    x, y = spot(page, lon, lat)
    return page.ask(
        f"""(() => {{ for (const tile of document.querySelectorAll('.leaflet-roads-pane canvas')) {{
        const b = tile.getBoundingClientRect();
        if ({x} < b.left || {x} >= b.right || {y} < b.top || {y} >= b.bottom) continue;
        const s = tile.width / b.width;
        const c = tile.getContext('2d').getImageData(({x} - b.left) * s - 1, ({y} - b.top) * s - 1, 3, 3).data;
        return Array.from({{ length: 9 }}, (_, p) => [...c.slice(4 * p, 4 * p + 3)]); }} return null; }})()"""
    )


def test_far_out_streets_have_the_colour_of_their_most_urgent_core_and_the_filter_changes_it(tmp_path):
    with open_page(saved(tmp_path, _many())) as page:
        wait_until_drawn(page)
        page.ask(f"void map_kerfbook.setView([{STREET}, {MIDDLE}], 15, {{ animate: false }})")
        assert "Zoom in to see individual cores." in page.text("#in-view")
        assert _OPEN in _road_colours(page, -82.003, STREET)
        assert _OVERDUE in _road_colours(page, MIDDLE, 44.8018)
        keys = page.text("#keys")
        assert "Streets, by the most urgent core on each" in keys
        assert "Open and overdue" in keys
        assert "Open, plated or interim; none flagged" in keys
        # no street has a hazard, and none is in order: neither is explained
        assert "Hazard" not in keys
        assert "Reinstated, none flagged" not in keys
        # the flagged core and the one on no street alone have symbols
        drawn = "kerfbook.cores.drawnIn(kerfbook.names.view(), 0).map((i) => kerfbook.attributes.row(i))"
        assert sorted(page.ask(drawn)) == [3001, 3002]
        page.ask("kerfbook.filter.ask('status', new Set(['flagged']))")
        # one core is shown, and has room for a symbol however far out: the streets are quiet
        assert page.ask(drawn) == [3001]
        assert "Streets, by" not in page.text("#keys")
        page.ask("kerfbook.filter.ask('status', new Set(['pending']))")
        assert _OPEN in _road_colours(page, -82.003, STREET)
        colours = _road_colours(page, MIDDLE, 44.8018)
        assert _OVERDUE not in colours
        assert _OPEN not in colours
        page.ask("kerfbook.filter.ask('status', null)")
        page.ask(f"void map_kerfbook.setView([{STREET}, -82.001], 22, {{ animate: false }})")
        page.wait_for("!document.querySelector('#keys').textContent.includes('Streets, by')")
        assert "Open" in page.text("#keys")


def test_each_zoom_at_which_symbols_fit_is_the_same_in_the_page_as_packed(tmp_path):
    with open_page(saved(tmp_path, _many())) as page:
        wait_until_drawn(page)
        packed = page.ask("kerfbook.cores.packedZooms")
        page.ask("kerfbook.cores.fit(true)")
        assert page.ask("kerfbook.cores.zooms") == packed
        assert packed["hazard"] == 1
        assert packed["all"] > packed["flagged"]


def test_names_are_written_once_beside_their_street_clear_of_symbols_and_of_each_other(tmp_path):
    with open_page(saved(tmp_path, view())) as page:
        wait_until_drawn(page)
        page.wait_for("kerfbook.names.placed.length === 4")
        placed = page.ask("kerfbook.names.placed.map((name) => [name.text, name.points])")
        assert sorted(text for text, _ in placed) == ["Capstan Street", "Dory Lane", "Old Harbour", "Saltmarsh"]
        symbols = page.ask(
            "(() => { const { cores, names } = kerfbook; const box = names.view(); const to = names.toScreen(box);"
            "return cores.drawnIn(box, 0).map((i) => to([cores.x[i], cores.y[i]])); })()"
        )
        assert len(symbols) == 3
        circles = {text: np.array(points)[:, :2] for text, points in placed}
        gap = lambda one, other: np.hypot(*(one[:, None] - other[None]).transpose(2, 0, 1)).min()  # noqa: E731 - one formula
        for text, own in circles.items():
            # half the height of a letter, and the radius of a symbol
            assert gap(own, np.array(symbols)) > 5 + 7, text
            for other in set(circles) - {text}:
                assert gap(own, circles[other]) > 10, (text, other)
        # along the lane, which runs north: read from below
        lane = dict(placed)["Dory Lane"]
        assert abs(abs(lane[0][2]) - np.pi / 2) < 0.1


def test_a_name_without_room_in_one_line_is_set_in_two_and_stays_inside_the_view(tmp_path):
    with open_page(saved(tmp_path, view())) as page:
        wait_until_drawn(page)
        found = page.ask(
            """(() => { const { Taken, placeLevel, widthOf } = KerfbookLettering; const taken = new Taken(); const fonts = ['600 14px', '600 12px'];
            taken.keepInside(300, 60); const one = { spots: [[150, 30]], fonts, taken, width: 300, height: 60 };
            const wide = widthOf('Old Harbour', fonts[0]);
            taken.add(150 + wide / 2, 30, 4);
            const placed = placeLevel('Old Harbour', one);
            return [placed.font, placed.lines.map(([line]) => line), placed.points.every(([x, y]) => x > 0 && y > 0 && x < 300 && y < 60),
              placeLevel('Old Harbour', one), taken.isFree(299, 30, 5)]; })()"""
        )
        assert found == ["600 14px", ["Old", "Harbour"], True, None, False]
