"""What lies in and on the streets of Harbour Vale: slab joints, resurfaced streets, works planned; and what follows."""

import datetime as dt
import math
from collections import Counter

import geopandas as gpd
import numpy as np
import shapely
from town_map import COUNTY, CRS, STEEP, TownMap
from town_register import Core

__all__ = ["is_county", "joints_near", "plant_crowds", "plant_streets", "resurfaced", "works"]

# surveyed joints; none of its cores lies near one by chance
_JOINTED = "Quince Avenue"
_PANEL = 6.0
_CLEAR = 1.5
_HALF_WIDTH = 4.0
RESURFACED = {"Ferry Lane": dt.date(2023, 6, 12), "Damson Lane": dt.date(2019, 8, 5)}
PROTECTED_YEARS = 5
PLANNED = {"Hazel Close": dt.date(2026, 10, 16), "Fallow Lane": dt.date(2026, 10, 12)}
# cores to 100 m, share of the area: as in programme.toml
CROWDED = 5.5
CUT_UP = 0.002
# a core with one of these lies on no segment
_UNPLACED = {
    "position-missing", "position-unreadable", "position-zero", "position-out-of-range", "position-projected",
    "position-sign-lost", "off-network",
}  # fmt: skip
_WIDTH_BY_CLASS = {"main road": 12, "local street": 7, "footway": 2.5}


def joints_near(town: TownMap, cores: list[Core], planted: int) -> gpd.GeoDataFrame:
    """Draw the joints of one street's slabs, and plant some that run too near to a core."""
    line = town.lines[_JOINTED]
    theirs = [core for core in cores if core.street == _JOINTED]
    at = np.array([line.project(shapely.Point(core.x, core.y)) for core in theirs])
    chainages = [
        float(chainage)
        for chainage in np.arange(_PANEL / 2, line.length, _PANEL)
        if not (np.abs(at - chainage) < _CLEAR).any()
    ]
    able = [core for core in theirs if not core.rules and not core.by_hand and core.surface == "concrete"]
    for core in able[:planted]:
        core.rules.append("joint-near")
        chainages.append(line.project(shapely.Point(core.x, core.y)) + 0.35)
    across = []
    for chainage in sorted(chainages):
        here, ahead = shapely.get_coordinates(shapely.line_interpolate_point(line, [chainage, chainage + 0.01]))
        normal = np.array([-(ahead - here)[1], (ahead - here)[0]]) / np.linalg.norm(ahead - here) * _HALF_WIDTH
        across.append(shapely.LineString(np.round([here - normal, here + normal], 3)))
    return gpd.GeoDataFrame({"kind": "transverse joint"}, index=range(len(across)), geometry=across, crs=CRS)


def resurfaced(town: TownMap) -> gpd.GeoDataFrame:
    """Draw the streets resurfaced, by their segments."""
    rows = town.roads[town.roads["name"].isin(RESURFACED)]
    days = [RESURFACED[name].isoformat() for name in rows["name"]]
    return gpd.GeoDataFrame({"segment": rows["seg_id"], "finished": days}, geometry=rows.geometry, crs=CRS)


def works(town: TownMap) -> gpd.GeoDataFrame:
    """Draw the sites of planned resurfacing, as polygons."""
    rows = [
        {
            "site": f"Resurfacing of {name}",
            "starts": day.isoformat(),
            "geometry": town.lines[name].buffer(5, cap_style="flat"),
        }
        for name, day in PLANNED.items()
    ]
    return gpd.GeoDataFrame(rows, crs=CRS)


def plant_streets(cores: list[Core]) -> None:
    """Add what follows from the street a core is in; its cells are written, and no trouble has befallen it."""
    for core in cores:
        if _UNPLACED & set(core.rules):
            continue
        if core.street in RESURFACED and RESURFACED[core.street].year + PROTECTED_YEARS > 2026:
            core.rules.append("street-protected")
        if core.street == STEEP and not core.is_done:
            core.rules.append("slope-steep")
        if core.street in PLANNED and core.planned is not None:
            core.rules.append("resurfacing-first" if PLANNED[core.street] <= core.planned else "resurfacing-follows")


def plant_crowds(town: TownMap, cores: list[Core]) -> None:
    """Add what follows from the number of cores on a segment, once all troubles are planted."""
    roads = town.roads[town.roads["level"].ge(0)]
    lines = roads.geometry.to_numpy()
    placed = [core for core in {id(core): core for core in cores}.values() if not _UNPLACED & set(core.rules)]
    nearest = [int(shapely.distance(lines, shapely.Point(core.x, core.y)).argmin()) for core in placed]
    count = Counter(nearest)
    area = Counter[int]()
    for core, segment in zip(placed, nearest, strict=True):
        # what is not known or not to be believed counts as 18 in
        odd = {"diameter-missing", "diameter-unreadable", "diameter-implausible"} & set(core.rules)
        area[segment] += math.pi / 4 * ((457.2 if odd else core.diameter_mm) / 1000) ** 2
    for core, segment in zip(placed, nearest, strict=True):
        road = roads.iloc[segment]
        width = road["width"] if road["width"] > 0 else _WIDTH_BY_CLASS[road["class"]]
        density = count[segment] / max(road.geometry.length, 100) * 100
        share = area[segment] / (road.geometry.length * width)
        if abs(density / CROWDED - 1) < 1e-6 or abs(share / CUT_UP - 1) < 0.01:
            raise RuntimeError(f"{road['seg_id']} lies on the limit: change a limit")
        if density > CROWDED:
            core.rules.append("segment-crowded")
        if share > CUT_UP:
            core.rules.append("segment-cut-up")


def is_county(town: TownMap, core: Core) -> bool:
    """Tell whether the county owns the core's street."""
    return bool(town.roads.loc[town.roads["name"].eq(core.street), "owner"].eq(COUNTY).all())
