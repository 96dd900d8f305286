"""What lies in the streets of Harbour Vale besides cores: slab joints, resurfacing, protected streets, as layers."""

import datetime as dt

import geopandas as gpd
import numpy as np
import shapely
from register_cells import Core
from town_map import CRS, TownMap

__all__ = ["PLANNED", "RESURFACED", "draw_joints", "draw_planned_works", "draw_protected", "draw_resurfaced"]

# the street whose joints were surveyed; no core lies near one by chance
_JOINTED = "Quince Avenue"
# metres: between joints, kept clear of the other cores, half the width of the street
_PANEL = 6.0
_CLEAR = 1.5
_HALF_WIDTH = 4.0
RESURFACED = {"Ferry Lane": dt.date(2023, 6, 12), "Damson Lane": dt.date(2019, 8, 5)}
PLANNED = {"Hazel Close": dt.date(2026, 10, 16), "Fallow Lane": dt.date(2026, 10, 12)}
# so late that no rule applies to the cores there
_LATER = {"Granary Street": dt.date(2027, 6, 7)}
_LASTS = dt.timedelta(days=18)
# from a day after which no core was cut there
_PROTECTED = {"Orchard Road": (dt.date(2026, 9, 28), dt.date(2029, 9, 28))}


def draw_joints(town: TownMap, cores: list[Core], planted: int) -> gpd.GeoDataFrame:
    """Draw the joints of one street's slabs, some of them planted too near to a core."""
    line = town.lines[_JOINTED]
    in_street = [core for core in cores if core.street == _JOINTED]
    at = np.array([line.project(shapely.Point(core.x, core.y)) for core in in_street])
    chainages = [
        float(chainage)
        for chainage in np.arange(_PANEL / 2, line.length, _PANEL)
        if not (np.abs(at - chainage) < _CLEAR).any()
    ]
    able = [core for core in in_street if not core.rules and not core.by_hand and core.surface == "concrete"]
    for core in able[:planted]:
        core.rules.append("joint-near")
        chainages.append(line.project(shapely.Point(core.x, core.y)) + 0.35)
    across = []
    for chainage in sorted(chainages):
        here, ahead = shapely.get_coordinates(shapely.line_interpolate_point(line, [chainage, chainage + 0.01]))
        normal = np.array([-(ahead - here)[1], (ahead - here)[0]]) / np.linalg.norm(ahead - here) * _HALF_WIDTH
        across.append(shapely.LineString(np.round([here - normal, here + normal], 3)))
    return gpd.GeoDataFrame({"kind": "transverse joint"}, index=range(len(across)), geometry=across, crs=CRS)


def draw_resurfaced(town: TownMap) -> gpd.GeoDataFrame:
    """Draw the resurfaced streets, by their segments."""
    rows = town.roads[town.roads["name"].isin(RESURFACED)]
    days = [RESURFACED[name] for name in rows["name"]]
    called = [f"{name} {day.year}" for name, day in zip(rows["name"], days, strict=True)]
    cells = {"segment": rows["seg_id"], "finished": [day.isoformat() for day in days], "scheme": called}
    return gpd.GeoDataFrame(cells, geometry=rows.geometry, crs=CRS)


def draw_planned_works(town: TownMap) -> gpd.GeoDataFrame:
    """Draw the streets to be resurfaced, as polygons."""
    rows = [
        {
            "ref": f"W-{number}",
            "site": f"Resurfacing of {name}",
            "starts": day.isoformat(),
            "ends": (day + _LASTS).isoformat(),
            "geometry": town.lines[name].buffer(5, cap_style="flat"),
        }
        for number, (name, day) in enumerate({**PLANNED, **_LATER}.items(), start=101)
    ]
    return gpd.GeoDataFrame(rows, crs=CRS)


def draw_protected(town: TownMap) -> gpd.GeoDataFrame:
    """Draw the streets that the town protects, as lines."""
    rows = [
        {
            "name": f"{name}, no cutting",
            "from": start.isoformat(),
            "until": end.isoformat(),
            "geometry": town.lines[name],
        }
        for name, (start, end) in _PROTECTED.items()
    ]
    return gpd.GeoDataFrame(rows, crs=CRS)
