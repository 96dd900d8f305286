"""A small town for the tests of the map page, and what they all ask of an open page.

The town is one street, one lane and two districts:

        lane, HV-2
          |
    ------+------  street, HV-1      west: Old Harbour, east: Saltmarsh
"""

import dataclasses
import datetime as dt
from pathlib import Path
from typing import Any

import geopandas as gpd
import numpy as np
import pandas as pd
import shapely

from pipeline.publish.map.page import MapInput, draw_map
from tests.browser.browser import OpenPage

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
    page.wait_for("performance.getEntriesByName('all-read').length > 0")


def wait_until_still(page: OpenPage) -> None:
    """Wait until the map no longer pans: a card that opens moves it into view."""
    page.ask(
        "new Promise((done) => { const at = () => map_kerfbook.getBounds().toBBoxString(); let last = at();"
        "const look = () => { const now = at(); if (now === last) done(true); else { last = now; setTimeout(look, 60); } };"
        "setTimeout(look, 60); })"
    )


def spot(page: OpenPage, lon: float, lat: float) -> tuple[float, float]:
    """Return where a place is on the screen, once the map is still."""
    wait_until_still(page)
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
    """Return the text of the open card, once the map has made room for it: a click on what still moves is lost."""
    page.wait_for("document.querySelector('.leaflet-popup .card')")
    wait_until_still(page)
    return page.text(".leaflet-popup .card")


# opened and reinstated on different days
FIVE = cores(
    {"status": "flagged", "lon": -82.003, "lat": STREET, "opened_on": "2026-01-10"},
    {
        "status": "pending",
        "lon": -82.001,
        "lat": STREET,
        "opened_on": "2026-02-10",
        "surface": "concrete",
        "shade": "pale",
    },
    {
        "status": "reinstated",
        "lon": -81.998,
        "lat": STREET,
        "district": "Saltmarsh",
        "opened_on": "2026-02-01",
        "reinstated_at": "2026-03-01",
    },
    {
        "status": "reinstated",
        "lon": -81.997,
        "lat": STREET,
        "district": "Saltmarsh",
        "opened_on": "2026-02-20",
        "reinstated_at": "2026-04-01",
    },
    {"status": "flagged", "district": None, "opened_on": None},
)
FIVE_FINDINGS = findings(
    (1, "open-too-long", "fail", "Open for 319 days: reinstate it."),
    (1, "road-uncertain", "check", "Settle the street."),
    (2, "road-uncertain", "check", "Settle the street."),
    (5, "position-missing", "fail", "No coordinates."),
    (5, "position-missing", "fail", "No coordinates, twice."),
)


def five(folder: Path) -> Path:
    return saved(folder, view(cores=FIVE, findings=FIVE_FINDINGS))


def rows_shown(page: OpenPage) -> list[int]:
    """The register rows of the cores that the filter lets through."""
    return sorted(page.ask("[...kerfbook.filter.indices()].map((i) => kerfbook.attributes.row(i))"))
