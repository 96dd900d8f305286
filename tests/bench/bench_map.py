"""Size and speed of the map page, beside folium's markers and clusters: ``python -m tests.bench.bench_map [CORES ...]``.

Cores and roads are made up here, whole columns at once, and passed straight to ``draw_map``. Times in the browser are
of headless Chromium without a graphics card, each the lowest of several openings; the first line shows how busy the
machine was. Clusters are drawn where their script is installed: ``pip install xstatic-leaflet-markercluster==1.4.1.1``.
"""

import argparse
import importlib.util
import os
import tempfile
import time
from collections.abc import Callable
from pathlib import Path

import folium
import numpy as np
import pandas as pd
from folium.plugins import MarkerCluster

from pipeline.publish.map.page import draw_map
from tests.bench.made_up_town import LAT, LINES, LON, SPAN, make_view
from tests.browser.browser import OpenPage, open_page, stop

SIZES = (0, 1, 400, 100_000, 1_000_000)
# plain markers and clusters take minutes above these
MOST_MARKERS, MOST_CLUSTERED = 10_000, 100_000
CLOSE = 16
# the button that opens each view, and what is pressed after it
_BUTTONS = {"table": "table", "streets": "streets", "months": "streets"}
_AFTER = {"months": "document.querySelectorAll('.streets-head .tabs button')[1].click(); "}


def drag(page: OpenPage) -> float:
    """Return the 95th percentile of the time between frames while the map is dragged, in milliseconds."""
    page.ask(
        "void (() => { window.frames_ = []; let last = performance.now(); window.going = true;"
        "const next = (now) => { window.frames_.push(now - last); last = now; if (window.going) requestAnimationFrame(next); };"
        "requestAnimationFrame(next); })()"
    )
    page.page.mouse.move(400, 400)
    page.page.mouse.down()
    for step in range(60):
        page.page.mouse.move(400 + 5 * step, 400 + 3 * step)
        page.page.wait_for_timeout(8)
    page.page.mouse.up()
    frames = page.ask("(() => { window.going = false; return window.frames_.slice(1); })()")
    return float(np.percentile(frames, 95)) if frames else float("nan")


def look_at_ours(path: Path) -> dict[str, float]:
    """Return seconds until the first drawing, until all can be used and until all is read; frames and filters in ms."""
    with open_page(path, 1280, 800) as page:
        page.wait_for("performance.getEntriesByName('all-read').length > 0", 120)
        marks = page.ask(
            "['streets-drawn', 'cores-drawn', 'all-usable', 'all-read'].map((m) => performance.getEntriesByName(m)[0].startTime)"
        )
        page.page.wait_for_timeout(300)
        far = drag(page)
        page.ask(f"void map_kerfbook.setView([{LAT + SPAN / 2}, {LON + SPAN / 2}], {CLOSE}, {{ animate: false }})")
        page.page.wait_for_timeout(500)
        near = drag(page)
        # filtering the rows alone, then with every count, label and tile that follows
        asked = page.ask(
            "['answers', 'ask'].map((what) => [0, 1, 2, 3].map((turn) => { const wanted = new Set([turn % 2 ? 'fail' : 'check']);"
            "const start = performance.now(); kerfbook.filter[what]('severity', wanted); return performance.now() - start; })"
            ".sort((a, b) => a - b)[0])"
        )
        opened = {view: _seconds_to_show(page, view) for view in ("table", "streets", "months")}
        assert page.complaints == []
        assert page.requests == [path.as_uri()]
    return {
        "drawn": marks[0] / 1000,
        "cores": marks[1] / 1000,
        "usable": marks[2] / 1000,
        "read": marks[3] / 1000,
        "far": far,
        "near": near,
        "rows": asked[0],
        "filter": asked[1],
        **opened,
    }


def _seconds_to_show(page: OpenPage, view: str) -> float:
    """Return the seconds from asking for a view of all cores to the frame that shows it."""
    page.ask("kerfbook.filter.askAll({})")
    seconds = page.ask(
        "new Promise((done) => { const start = performance.now(); "
        f"document.getElementById('as-map').click(); document.querySelector('#as-{_BUTTONS[view]}').click(); "
        f"{_AFTER.get(view, '')}"
        "requestAnimationFrame(() => setTimeout(() => done((performance.now() - start) / 1000), 0)); })"
    )
    return float(seconds)


def folium_markers(cores: pd.DataFrame, *, clustered: bool) -> folium.Map:
    drawn = folium.Map(location=[LAT + SPAN / 2, LON + SPAN / 2], zoom_start=12, tiles=None)
    layer = MarkerCluster().add_to(drawn) if clustered else drawn
    for core in cores[["lat", "lon", "core_id", "status"]].itertuples(index=False):
        folium.CircleMarker([core.lat, core.lon], radius=5, popup=f"{core.core_id}: {core.status}").add_to(layer)
    return drawn


def inline_links(page: str) -> str | None:
    """Return folium's page with its scripts inline, so that it opens offline; None where a script is not installed."""
    scripts = [_package_file("js_lib_leaflet", "static/js_lib_leaflet/leaflet.js")]
    if "markercluster" in page:
        scripts.append(_package_file("xstatic.pkg.leaflet_markercluster", "data/leaflet.markercluster.js"))
    if None in scripts:
        return None
    texts = [script.read_text("utf-8").partition("//# sourceMappingURL")[0] for script in scripts if script]
    kept = "\n".join(line for line in page.split("\n") if "<script src=" not in line and "<link " not in line)
    return kept.replace("<head>", "<head>" + "".join(f"<script>{text}</script>" for text in texts), 1)


def _package_file(package: str, name: str) -> Path | None:
    try:
        found = importlib.util.find_spec(package)
    except ModuleNotFoundError:
        return None
    folders = found.submodule_search_locations if found else None
    return next((path for folder in folders or () if (path := Path(folder) / name).exists()), None)


def look_at_folium(path: Path) -> dict[str, float]:
    with open_page(path, 1280, 800) as page:
        # the load event comes once every marker is made; two frames later all are on the screen
        page.wait_for("document.readyState === 'complete'", 300)
        drawn = page.ask(
            "new Promise((done) => requestAnimationFrame(() => requestAnimationFrame(() => done(performance.now() / 1000))))"
        )
        return {"drawn": float(drawn), "far": drag(page)}


def busy() -> float:
    """Return the seconds that ten million steps of a loop take: 0.6 on an idle machine."""
    start, total = time.perf_counter(), 0
    for step in range(10**7):
        total += step
    return time.perf_counter() - start


def lowest(look: Callable[[Path], dict[str, float]], path: Path, runs: int) -> dict[str, float]:
    """Return the lowest of every measure over several openings."""
    found = [look(path) for _ in range(runs)]
    return {name: min(one[name] for one in found) for name in found[0]}


# what is measured, its heading, and its decimals; the first drawing is the streets, coloured by the cores on them; once
# all can be used, what a reader asks of a single core waits until all is read
COLUMNS = (
    ("drawn", "drawn s", 2),
    ("cores", "cores s", 2),
    ("usable", "usable s", 2),
    ("read", "read s", 2),
    ("far", "drag far", 1),
    ("near", "drag near", 1),
    ("rows", "rows ms", 1),
    ("filter", "filter ms", 1),
    ("table", "table s", 2),
    ("streets", "streets s", 2),
    ("months", "months s", 2),
)


def print_line(way: str, count: int, size: float, built: float, seen: dict[str, float]) -> None:
    names = {name: digits for name, _, digits in COLUMNS}
    figures = "".join(f"{seen[name]:>11.{digits}f}" if name in seen else f"{'':>11}" for name, digits in names.items())
    print(f"{way:<24}{count:>10,}{size / 1e6:>9.2f}{built:>9.2f}{figures}", flush=True)


def main() -> None:
    arguments = argparse.ArgumentParser(description=__doc__)
    arguments.add_argument("cores", nargs="*", type=int, default=list(SIZES))
    arguments.add_argument("--lines", type=int, default=LINES, help="road lines")
    arguments.add_argument("--runs", type=int, default=3, help="openings of each page")
    options = arguments.parse_args()
    print(f"ten million steps: {busy():.2f} s; load {os.getloadavg()[0]:.1f}; {options.lines:,} road lines")
    heads = [head for _, head, _ in COLUMNS]
    print(f"{'way':<24}{'cores':>10}{'MB':>9}{'build s':>9}" + "".join(f"{head:>11}" for head in heads))
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder).resolve() / "map.html"
        for count in options.cores:
            shown = make_view(count, options.lines)
            start = time.perf_counter()
            path.write_text(draw_map(shown), encoding="utf-8")
            built = time.perf_counter() - start
            print_line("this page", count, path.stat().st_size, built, lowest(look_at_ours, path, options.runs))
            for way, most in (("folium CircleMarker", MOST_MARKERS), ("folium MarkerCluster", MOST_CLUSTERED)):
                if not 0 < count <= most:
                    continue
                start = time.perf_counter()
                page = folium_markers(shown.cores, clustered="Cluster" in way).get_root().render()
                built = time.perf_counter() - start
                offline = inline_links(page)
                path.write_text(offline or page, encoding="utf-8")
                seen = lowest(look_at_folium, path, 1) if offline else {}
                print_line(way, count, path.stat().st_size, built, seen)
    stop()


if __name__ == "__main__":
    main()
