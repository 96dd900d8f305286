"""Size and speed of the map page, beside folium's markers and clusters: ``python -m tests.bench.bench_map [CORES ...]``.

Cores and roads are made up here, whole columns at once, and passed straight to ``draw_map``. Times in the browser are
of headless Chromium without a graphics card, each the lowest of several openings; the first line shows how busy the
machine was. Clusters are drawn where their script is installed: ``pip install xstatic-leaflet-markercluster==1.4.1.1``.
"""

import argparse
import datetime as dt
import importlib.util
import os
import tempfile
import time
from collections.abc import Callable
from pathlib import Path

import folium
import geopandas as gpd
import numpy as np
import pandas as pd
import shapely
from folium.plugins import MarkerCluster

from pipeline.publish.map.page import MapInput, draw_map
from tests.browser.browser import OpenPage, open_page, stop

SIZES = (0, 1, 400, 100_000, 1_000_000)
# plain markers and clusters take minutes above these
MOST_MARKERS, MOST_CLUSTERED = 10_000, 100_000
LINES = 12_552
SPAN, LON, LAT = 0.25, -82.3, 44.7
DISTRICTS = 10
CLOSE = 16


def make_roads(lines: int = LINES, seed: int = 1) -> gpd.GeoDataFrame:
    """Return a town of crooked streets on a grid, about 200 m per segment."""
    random = np.random.default_rng(seed)
    side = int(np.ceil(np.sqrt(lines / 2)))
    step = SPAN / side
    at = np.arange(lines) // 2
    x, y = (at % side) * step, (at // side) * step
    is_across = np.arange(lines) % 2 == 0
    share = np.linspace(0, 1, 5)
    xs = x[:, None] + np.where(is_across[:, None], share * step, 0) + random.normal(0, step / 60, (lines, 5))
    ys = y[:, None] + np.where(is_across[:, None], 0, share * step) + random.normal(0, step / 60, (lines, 5))
    coordinates = np.stack([LON + xs, LAT + ys], axis=-1).reshape(-1, 2)
    geometry = shapely.linestrings(coordinates, indices=np.repeat(np.arange(lines), 5))
    street = np.where(
        is_across, "Row " + pd.Series((at // side).astype(str)), "Line " + pd.Series((at % side).astype(str))
    )
    frame = {
        "segment_id": "S" + pd.Series(np.arange(lines)).astype(str),
        "street": street,
        "surface": random.choice(["asphalt", "concrete", "composite"], lines),
        "half_width_m": random.choice([3.5, 6.0], lines, p=[0.9, 0.1]),
    }
    return gpd.GeoDataFrame(frame, geometry=geometry, crs=4326)


def make_cores(count: int, roads: gpd.GeoDataFrame, seed: int = 2) -> pd.DataFrame:
    """Return cores along the roads, with every column that the page shows."""
    random = np.random.default_rng(seed)
    owner = random.integers(0, len(roads), count)
    share = random.uniform(0, 1, count)
    on_line = shapely.line_interpolate_point(roads.geometry.to_numpy()[owner], share, normalized=True)
    lon = shapely.get_x(on_line) + random.normal(0, 3e-5, count)
    lat = shapely.get_y(on_line) + random.normal(0, 3e-5, count)
    diameter = random.choice([300.0, 450.0, 457.0, 600.0], count)
    # crews write depths to the half centimetre
    depth = np.round(random.normal(200, 30, count) / 5) * 5
    litres = np.round(diameter**2 * depth * np.pi / 4e6 * 0.2, 3)
    # in order of date, as registers are, within a week
    opened = dt.date(2026, 9, 20).toordinal() - np.linspace(700, 0, count).astype(int) + random.integers(-3, 4, count)
    done = opened + random.integers(1, 60, count)
    epoch = dt.date(1970, 1, 1).toordinal()
    iso = lambda days: pd.Series((days - epoch).astype("datetime64[D]").astype(str), dtype="str")  # noqa: E731 - one line of a long function
    status = random.choice(["flagged", "pending", "reinstated"], count, p=[0.1, 0.3, 0.6])
    sure = np.where(random.uniform(0, 1, count) < 0.2, np.round(random.uniform(0.5, 1, count), 3), 1.0)
    # the runner-up is a street that meets it
    other = (owner + random.choice([-2, -1, 1, 2], count)) % max(1, len(roads))
    picked = roads.iloc[owner]
    surface = picked["surface"].to_numpy()
    district = np.floor((lon - LON) / SPAN * DISTRICTS).clip(0, DISTRICTS - 1).astype(int)
    return pd.DataFrame(
        {
            "row": np.arange(1, count + 1),
            "core_id": "C-" + pd.Series(np.arange(1, count + 1)).astype(str),
            "status": status,
            "lon": lon,
            "lat": lat,
            "diameter_mm": diameter,
            "depth_mm": depth,
            "segment_id": picked["segment_id"].to_numpy(),
            "street": picked["street"].to_numpy(),
            "side": random.choice(["left", "right"], count),
            "surface": surface,
            "surface_from": "segment",
            "segment_confidence": sure,
            "runner_up_id": np.where(sure < 1, roads["segment_id"].to_numpy()[other], None),
            "runner_up_street": np.where(sure < 1, roads["street"].to_numpy()[other], None),
            "runner_up_confidence": np.where(sure < 1, 1 - sure, np.nan),
            "surface_confidence": 1.0,
            "surface_next": None,
            "surface_next_confidence": np.nan,
            "district": np.array([f"District {d}" for d in range(DISTRICTS)])[district],
            "shade": np.where(surface == "concrete", "pale", "dark"),
            "bedding": "pea gravel",
            "chainage_m": np.round(share * 400, 3),
            "offset_m": np.round(np.abs(random.normal(0, 3, count)), 3),
            "grout_l": litres,
            "grout_kg": litres * 1.95,
            "bags": litres * 1.95 / 20,
            "water_l_needed": litres * 0.2,
            "gravel_kg": np.round(diameter**2 * np.pi / 4e6 * 25 * 1.6 / 1000, 3),
            "opened_on": iso(opened),
            "reinstated_at": iso(done).where(status == "reinstated", None),
        }
    )


def make_findings(cores: pd.DataFrame, seed: int = 3) -> pd.DataFrame:
    """Return a failure for every flagged core, and a check for one in ten of the others."""
    random = np.random.default_rng(seed)
    fails = cores[cores["status"] == "flagged"]
    checks = cores[(cores["status"] != "flagged") & (random.uniform(0, 1, len(cores)) < 0.1)]
    rules = random.choice(["open-too-long", "depth-implausible", "grout-short"], len(fails))
    days = pd.Series(random.integers(31, 300, len(fails)), fails.index).astype("str")
    first = pd.DataFrame({"row": fails["row"], "core_id": fails["core_id"], "rule": rules, "severity": "fail"})
    first["message"] = "Open for " + days + " days, 30 allowed: reinstate it."
    share = pd.Series(random.integers(50, 80, len(checks)), checks.index).astype("str")
    second = pd.DataFrame(
        {"row": checks["row"], "core_id": checks["core_id"], "rule": "road-uncertain", "severity": "check"}
    )
    second["message"] = "On " + checks["street"].astype("str") + " with " + share + "%: settle the street."
    return pd.concat([first, second], ignore_index=True)


def make_view(count: int, lines: int = LINES) -> MapInput:
    """Return the whole input of a map."""
    roads = make_roads(lines)
    cores = make_cores(count, roads)
    west = LON + np.arange(DISTRICTS) * SPAN / DISTRICTS
    districts = gpd.GeoDataFrame(
        {"district": [f"District {d}" for d in range(DISTRICTS)]},
        geometry=shapely.box(west, LAT, west + SPAN / DISTRICTS, LAT + SPAN),
        crs=4326,
    )
    orders = pd.DataFrame(columns=["district", "period", "item", "unit", "needed", "order", "reserve", "packs"])
    return MapInput(
        title="Made-up town",
        as_of=dt.date(2026, 9, 30),
        crs="EPSG:32617",
        cores=cores,
        findings=make_findings(cores),
        segments=roads,
        districts=districts,
        orders=orders,
        unplaced=0,
        sources=["made up"],
        cautions=[],
    )


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
    """Return seconds until the first cores and until everything, frame and filter times in milliseconds."""
    with open_page(path, 1280, 800) as page:
        page.wait_for("performance.getEntriesByName('all-usable').length > 0", 120)
        marks = page.ask("['cores-drawn', 'all-usable'].map((m) => performance.getEntriesByName(m)[0].startTime)")
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
        assert page.complaints == []
        assert page.requests == [path.as_uri()]
    return {
        "drawn": marks[0] / 1000,
        "usable": marks[1] / 1000,
        "far": far,
        "near": near,
        "rows": asked[0],
        "filter": asked[1],
    }


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


def print_line(way: str, count: int, size: float, built: float, seen: dict[str, float]) -> None:
    names = {"drawn": 2, "usable": 2, "far": 1, "near": 1, "rows": 1, "filter": 1}
    figures = "".join(f"{seen[name]:>11.{digits}f}" if name in seen else f"{'':>11}" for name, digits in names.items())
    print(f"{way:<24}{count:>10,}{size / 1e6:>9.2f}{built:>9.2f}{figures}", flush=True)


def main() -> None:
    arguments = argparse.ArgumentParser(description=__doc__)
    arguments.add_argument("cores", nargs="*", type=int, default=list(SIZES))
    arguments.add_argument("--lines", type=int, default=LINES, help="road lines")
    arguments.add_argument("--runs", type=int, default=3, help="openings of each page")
    options = arguments.parse_args()
    print(f"ten million steps: {busy():.2f} s; load {os.getloadavg()[0]:.1f}; {options.lines:,} road lines")
    heads = ("drawn s", "usable s", "drag far", "drag near", "rows ms", "filter ms")
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
