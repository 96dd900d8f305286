"""A made-up town of any size for the timing of the map: cores, findings, roads and districts, whole columns at once."""

import datetime as dt

import geopandas as gpd
import numpy as np
import pandas as pd
import shapely

from pipeline.publish.map.page import MapInput

__all__ = ["LAT", "LINES", "LON", "SPAN", "make_view"]

LINES = 12_552
SPAN, LON, LAT = 0.25, -82.3, 44.7
DISTRICTS = 10


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
