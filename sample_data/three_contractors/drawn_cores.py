"""The cores of three invented contractors in Harbour Vale, as they really are: places, days and amounts, before anyone
writes them down.
"""

import datetime as dt
import math
from dataclasses import dataclass
from pathlib import Path
from typing import NamedTuple

import geopandas as gpd
import numpy as np
import pyproj
import shapely

__all__ = ["AS_OF", "GALLON_L", "INCH_MM", "Core", "Site", "draw_cores", "draw_sites", "working_days"]

AS_OF = dt.date(2026, 9, 30)
INCH_MM = 25.4
GALLON_L = 3.785411784
# nothing is bonded back into these; two avenues lie in no district or in two
_NOT_BONDED = {"block paving", "paving blocks", "sett", "setts", "gravel", "unbound", "unknown", "", None}
_UNCLEAR_STREETS = {"Plum Avenue", "Clover Avenue"}
_PALE = ("concrete", "pcc", "conc")
# metres: kept clear of the ends of a segment, between cores, from the centreline
_FROM_END = 22
_APART = 5
_ASIDE = (0.5, 3.0)
# mean temperature of a working day in degrees Fahrenheit, March to September
_FAHRENHEIT = {3: 48, 4: 52, 5: 59, 6: 68, 7: 75, 8: 73, 9: 64}


class Site(NamedTuple):
    """A place in a street: metres in the CRS of the roads, degrees in EPSG:4326, and the shade of grout it takes."""

    x: float
    y: float
    lon: float
    lat: float
    street: str
    shade: str


@dataclass
class Core:
    """One core. ``number`` counts the real cores; a core in two registers keeps its number.

    ``done``: the day on which it was put back, None while it is open. ``fahrenheit``, ``water_l`` and ``bags``: of the
    reinstatement.
    """

    number: int
    site: Site
    core_id: str
    opened: dt.date
    done: dt.date | None
    diameter_mm: float = 18 * INCH_MM
    depth_mm: float = 8 * INCH_MM
    fahrenheit: int = 0

    @property
    def bags(self) -> float:
        """Bags of grout to a tenth: kerf of 9 mm, pilot hole of 38 mm, bed of 12.7 mm, 10.2 L per bag, 20 % over."""
        kerf = math.pi * (self.diameter_mm - 9) * 9 * self.depth_mm
        pilot_and_bed = math.pi / 4 * (38**2 * self.depth_mm + 12.7 * self.diameter_mm**2)
        return round(1.2 * (kerf + pilot_and_bed) / 1e6 / 10.2, 1)


def draw_sites(roads_path: Path, rng: np.random.Generator, count: int) -> list[Site]:
    """Return places in the streets of the town, well apart from each other and from the ends of the segments."""
    roads = gpd.read_file(roads_path)
    is_fit = roads["level"].ge(0) & roads["class"].ne("footway") & (roads.length > 3 * _FROM_END)
    is_fit &= ~roads["surface"].isin(_NOT_BONDED) & ~roads["name"].isin(_UNCLEAR_STREETS)
    roads = roads[is_fit].reset_index(drop=True)
    to_degrees = pyproj.Transformer.from_crs(roads.crs, "EPSG:4326", always_xy=True)
    sites: list[Site] = []
    while len(sites) < count:
        road = roads.iloc[int(rng.choice(len(roads), p=roads.length / roads.length.sum()))]
        chainage = rng.uniform(_FROM_END, road.geometry.length - _FROM_END)
        at, ahead = shapely.get_coordinates(shapely.line_interpolate_point(road.geometry, [chainage, chainage + 0.01]))
        along = (ahead - at) / np.linalg.norm(ahead - at)
        aside = rng.uniform(*_ASIDE) * rng.choice((-1, 1))
        x, y = np.round(at + aside * np.array([-along[1], along[0]]), 2)
        if all(math.hypot(x - site.x, y - site.y) >= _APART for site in sites):
            lon, lat = to_degrees.transform(x, y)
            shade = "pale" if str(road["surface"]).lower().startswith(_PALE) else "dark"
            sites.append(Site(float(x), float(y), lon, lat, str(road["name"]), shade))
    return sites


def working_days(year: int, month: int) -> list[dt.date]:
    """Return the Mondays to Fridays of a month, none after the day of the audit."""
    first = dt.date(year, month, 1)
    days = [first + dt.timedelta(days=after) for after in range(31)]
    return [day for day in days if day.month == month and day.weekday() < 5 and day <= AS_OF]


def draw_cores(
    sites: list[Site], rng: np.random.Generator, first_number: int, per_month: dict[int, int], core_id: str
) -> list[Core]:
    """Return the cores of one contractor in the order in which they were cut.

    Parameters
    ----------
    sites
        One place for each core.
    rng
        Draws days, temperatures and which cores are still open.
    first_number
        The number of the first core.
    per_month
        How many cores were cut in each month of 2026.
    core_id
        How the contractor numbers its cores: a format string of the running number ``n``, the number in the month
        ``m`` and the month ``month``.
    """
    cores: list[Core] = []
    for month, count in per_month.items():
        days = working_days(2026, month)
        for in_month, day in enumerate(sorted(rng.choice(len(days), size=count)), start=1):
            opened = days[int(day)]
            done: dt.date | None = opened + dt.timedelta(days=int(rng.integers(1, 6)))
            is_recent = opened > AS_OF - dt.timedelta(days=24)
            if done > AS_OF or (is_recent and rng.random() < 0.6):
                done = None
            n = len(cores) + 1
            written = core_id.format(n=n, m=in_month, month=month)
            fahrenheit = int(_FAHRENHEIT[month] + rng.integers(-7, 9))
            cores.append(Core(first_number + n - 1, sites[n - 1], written, opened, done, fahrenheit=fahrenheit))
    return cores
