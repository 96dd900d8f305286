"""The map of Harbour Vale: streets cut into segments, surface ribbons, districts. An invented town.

Lengths and coordinates are metres in EPSG:32617 (UTM zone 17N); the town lies on open water, so that
nobody takes it for a real place.
"""

import itertools
import math
from collections.abc import Iterable
from typing import NamedTuple

import geopandas as gpd
import numpy as np
import shapely
from shapely.ops import substring

__all__ = ["COUNTY", "CRS", "HALF_WIDTH", "SPELLINGS", "STEEP", "TownMap", "build_map"]

CRS = "EPSG:32617"
# lon -82.20, lat 44.80
ORIGIN = (405_093.0, 4_961_434.0)

# a surface as different offices of a town write it
SPELLINGS = {
    "asphalt": ("asphalt", "asphalt", "Asphalt", "ASPH", "tarmac", "bitmac", "AC", "HMA"),
    "composite": ("composite", "Composite", "asphalt over concrete", "AC over PCC"),
    "concrete": ("concrete", "Concrete", "PCC", "Conc."),
    "concrete footway": ("concrete footway", "sidewalk", "Sidewalk"),
    "block paving": ("block paving", "sett", "paving blocks", "setts"),
    "unbound": ("gravel", "unbound"),
    "unknown": ("unknown", ""),
}
HALF_WIDTH = {"main road": 5.5, "local street": 4.0, "footway": 1.5}

# slopes in percent; one lane is steep
SLOPES = {"main road": 1.5, "local street": 2.5, "footway": 3.0}
STEEP = "Hollow Lane"
COUNTY = "Vale County"

Point = tuple[float, float]


class Street(NamedTuple):
    """One street; a ``mapped`` street was surveyed: the surface layer has its ribbon, the road layer its width."""

    name: str
    road_class: str
    surface: str
    mapped: bool
    level: int  # 0 at grade, -1 below ground
    line: shapely.LineString


class TownMap(NamedTuple):
    """The layers, and what the register needs to know about them."""

    lines: dict[str, shapely.LineString]  # whole streets by name
    roads: gpd.GeoDataFrame  # with true_surface, the catalogue's word
    surfaces: gpd.GeoDataFrame  # with true_surface and street ("" for the two pads)
    districts: gpd.GeoDataFrame
    junctions: shapely.MultiPoint


def _node(i: int, j: int) -> Point:
    """Return the crossing of avenue i and street j: a grid that is not quite square."""
    return (170 * i + 14 * math.sin(1.7 * j + 0.4 * i), 150 * j + 12 * math.sin(1.1 * i + 0.5 * j))


def _harbour(x: float) -> Point:
    """Return a point on the curved harbour front."""
    return (x, -130 - 70 * math.sin(math.pi * (x + 250) / 1250))


def _row(first: int, last: int, j: int) -> list[Point]:
    """Return the crossings along street j."""
    return [_node(i, j) for i in range(first, last + 1)]


def _avenue(i: int, first: int, last: int) -> list[Point]:
    """Return the crossings along avenue i."""
    return [_node(i, j) for j in range(first, last + 1)]


def _street(name: str, kind: str, surface: str, points: Iterable[Point]) -> Street:
    """Return a street; ``kind``: M main road, L local street, F footway, U subway; a small letter: not surveyed."""
    road_class = {"M": "main road", "L": "local street", "F": "footway", "U": "footway"}[kind.upper()]
    level = -1 if kind.upper() == "U" else 0
    placed = np.round(np.add(list(points), ORIGIN), 3)
    return Street(name, road_class, surface, kind.isupper(), level, shapely.LineString(placed))


def _streets() -> list[Street]:
    """Return every street; one listed earlier keeps its surface where two cross."""
    quay = [_harbour(x) for x in range(-250, 1001, 50)]
    walk = [(x, y - 13) for x, y in quay[6:15]]
    return [
        _street("Harbour Road", "M", "asphalt", quay),
        _street("Beacon Avenue", "M", "composite", [_harbour(-50), (830, 720)]),
        _street("Mill Street", "M", "composite", _row(0, 5, 2)),
        _street("Anchor Avenue", "M", "asphalt", [_harbour(350), *_avenue(2, 0, 4)]),
        _street("North Road", "M", "asphalt", [_node(2, 4), (345, 700), (370, 790), (368, 840), (360, 1200)]),
        _street("Chandler Street", "L", "asphalt", _row(0, 5, 0)),
        _street("Market Street", "L", "block paving", _row(0, 3, 1)),
        _street("Barley Street", "l", "asphalt", _row(3, 5, 1)),
        _street("Granary Street", "L", "asphalt", _row(0, 2, 3)),
        _street("Oat Street", "L", "concrete", _row(2, 5, 3)),
        _street("Meadow Street", "l", "asphalt", _row(0, 5, 4)),
        _street("West Avenue", "L", "asphalt", _avenue(0, 0, 4)),
        _street("Rope Avenue", "l", "concrete", _avenue(1, 0, 2)),
        _street("Clover Avenue", "L", "asphalt", _avenue(1, 2, 4)),
        _street("Tide Avenue", "L", "composite", _avenue(3, 0, 4)),
        _street("Plum Avenue", "L", "asphalt", _avenue(4, 0, 2)),
        _street("Pear Avenue", "l", "asphalt", _avenue(4, 2, 4)),
        _street("Quince Avenue", "L", "concrete", _avenue(5, 0, 4)),
        _street("Slipway Lane", "L", "concrete", [_node(1, 0), _harbour(150)]),
        _street("Ferry Lane", "L", "concrete", [_node(3, 0), _harbour(500)]),
        _street("Net Lane", "l", "asphalt", [_node(5, 0), (880, -70), _harbour(900)]),
        _street("Quay Walk", "F", "concrete footway", walk),
        _street("Pier Road", "L", "concrete", [_harbour(600), (620, -300), (600, -400)]),
        _street("Breakwater Path", "F", "concrete footway", [_harbour(1000), (1060, -220), (1080, -330)]),
        _street("Hollow Lane", "L", "asphalt", [_node(0, 1), (-90, 170), (-170, 120), (-260, 150)]),
        _street("Reed Lane", "l", "asphalt", [_node(0, 3), (-120, 480), (-230, 430)]),
        _street("Marsh Lane", "l", "unbound", [(-260, 150), (-290, 290), (-230, 430)]),
        _street("Fen Path", "f", "concrete footway", [(-170, 120), (-160, 20), _harbour(-150)]),
        _street("Kiln Lane", "l", "unknown", [_node(1, 4), (180, 720), (215, 790)]),
        _street("Brick Lane", "L", "asphalt", [(215, 790), (290, 810), (370, 790)]),
        _street("Clay Lane", "l", "unknown", [_node(3, 4), (530, 700), (520, 760)]),
        _street("Fallow Lane", "L", "asphalt", [_node(4, 4), (690, 700), (720, 800)]),
        _street("Hazel Close", "L", "concrete", [(690, 700), (760, 690), (830, 720)]),
        _street("Thistle Path", "F", "concrete footway", [(720, 800), (560, 830), (368, 840)]),
        _street("Orchard Road", "L", "asphalt", [_node(5, 2), *_ORCHARD]),
        _street("Apple Lane", "L", "asphalt", [_ORCHARD[0], (975, 230), (940, 150)]),
        _street("Cherry Lane", "l", "asphalt", [_ORCHARD[1], (1075, 200), (1110, 110)]),
        _street("Damson Lane", "L", "composite", [(940, 150), (1030, 130), (1110, 110)]),
        _street("Medlar Lane", "L", "asphalt", [_node(5, 3), (980, 500), (1090, 490), (1150, 420), _ORCHARD[2]]),
        _street("Bramble Lane", "l", "unbound", [(1110, 110), (1140, 60), (1150, 0)]),
        _street("Walnut Close", "L", "block paving", [(1090, 490), (1100, 540), (1130, 590)]),
        # passes below Harbour Road from the end of Quay Walk
        _street("Quay Subway", "u", "concrete footway", [walk[-1], (452, walk[-1][1] + 33)]),
    ]


_ORCHARD: list[Point] = [(960, 330), (1060, 300), (1150, 340), (1260, 330)]


def _cuts(line: shapely.LineString, others: list[shapely.LineString]) -> list[float]:
    """Return the chainages, in metres, at which other streets cross a street or end on it."""
    crossings = shapely.get_coordinates(shapely.intersection(line, others))
    ends = np.array([coordinate for other in others for coordinate in (other.coords[0], other.coords[-1])])
    ends = ends.reshape(-1, 2)
    ends = ends[shapely.distance(line, shapely.points(ends)) < 0.05]
    chainages = shapely.line_locate_point(line, shapely.points(np.concatenate([crossings, ends])))
    return sorted({0.0, *np.round(chainages, 3).tolist(), line.length})


def _roads(streets: list[Street]) -> gpd.GeoDataFrame:
    """Return the road segments: streets cut where they meet."""
    spellings = {surface: itertools.cycle(written) for surface, written in SPELLINGS.items()}
    rows: list[dict[str, object]] = []
    for street in streets:
        # a subway meets no street above it
        others = [other.line for other in streets if other is not street and other.level == street.level]
        cuts = _cuts(street.line, others)
        for start, end in itertools.pairwise(cuts):
            # a cut this near to the street's own end is that end
            if end - start < 0.5:
                continue
            part = substring(street.line, start, end)
            rows.append(
                {
                    "seg_id": f"HV-S{len(rows) + 1:03d}",
                    "name": street.name,
                    "class": street.road_class,
                    "width": 2 * HALF_WIDTH[street.road_class] if street.mapped else np.nan,
                    "level": street.level,
                    "slope": 9.0 if street.name == STEEP else SLOPES[street.road_class],
                    "owner": COUNTY if street.road_class == "main road" else "Town of Harbour Vale",
                    "surface": next(spellings[street.surface]),
                    "true_surface": street.surface,
                    "geometry": shapely.LineString(np.round(shapely.get_coordinates(part), 3)),
                }
            )
    return gpd.GeoDataFrame(rows, crs=CRS)


def _surfaces(streets: list[Street]) -> gpd.GeoDataFrame:
    """Return the surface polygons: a ribbon per surveyed street, and the two pads."""
    spellings = {surface: itertools.cycle(written) for surface, written in SPELLINGS.items()}
    rows: list[tuple[str, str, str, shapely.Geometry]] = []
    taken = shapely.Polygon()
    for street in (street for street in streets if street.mapped):
        ribbon = street.line.buffer(HALF_WIDTH[street.road_class], cap_style="flat", quad_segs=4)
        spelling = next(spellings[street.surface])
        # a street listed earlier runs through, one listed later stops at it
        parts = shapely.get_parts(ribbon.difference(taken))
        rows += [(spelling, street.surface, street.name, part) for part in parts if part.area > 5]
        taken = taken.union(ribbon)
    # planted: two pads drawn over the ribbons without cutting them
    for name, chainage, surface in (("Mill Street", 570, "concrete"), ("Harbour Road", 1010, "composite")):
        line = next(street.line for street in streets if street.name == name)
        pad = substring(line, chainage, chainage + 36).buffer(5.5, cap_style="flat")
        rows.append((surface, surface, "", pad))
    return gpd.GeoDataFrame(rows, columns=["surface", "true_surface", "street", "geometry"], crs=CRS)


_OUTLINE: list[Point] = [
    (-350, -200), (-100, -290), (300, -320), (560, -440), (680, -430), (760, -310), (1000, -390),
    (1140, -370), (1180, -120), (1320, 60), (1330, 420), (1180, 650), (960, 840), (600, 900), (360, 905),
    (150, 880), (-100, 700), (-340, 520), (-380, 200),
]  # fmt: skip
_DISTRICT_AT: dict[str, Point] = {
    "Harbourside": (100, 100),
    "Old Market": (500, 80),
    "Orchard Rise": (1000, 100),
    "Mill Bank": (50, 500),
    "North Fields": (420, 520),
    "Meadow End": (900, 500),
}


def _strip(start: Point, end: Point, half_width: float) -> shapely.Polygon:
    """Return a strip along a street from 25 m after one crossing to 25 m before the next."""
    line = shapely.LineString(np.add([start, end], ORIGIN))
    return substring(line, 25, line.length - 25).buffer(half_width, cap_style="flat")


def _districts() -> gpd.GeoDataFrame:
    """Return the districts, with the gap and the overlap planted in them."""
    edges = [
        [(-500, 330), (-200, 310), *_row(0, 5, 2), *_ORCHARD, (1450, 350)],
        [_node(2, 2), _node(2, 1), _node(2, 0), _harbour(350), (340, -600)],
        [_node(4, 2), _node(4, 1), _node(4, 0), (700, -250), (730, -600)],
        [_node(1, 2), _node(1, 3), _node(1, 4), (180, 720), (215, 790), (200, 1000)],
        [_node(4, 2), _node(4, 3), _node(4, 4), (690, 700), (720, 800), (740, 1000)],
    ]
    outline = shapely.LinearRing(np.add(_OUTLINE, ORIGIN))
    lines = [outline, *(shapely.LineString(np.add(edge, ORIGIN)) for edge in edges)]
    faces = list(shapely.get_parts(shapely.polygonize([shapely.union_all(lines)])))
    gap = _strip(_node(4, 0), _node(4, 1), 5)
    shared = _strip(_node(1, 2), _node(1, 3), 5)
    rows = []
    for name, (x, y) in _DISTRICT_AT.items():
        at = shapely.Point(x + ORIGIN[0], y + ORIGIN[1])
        face = next(face for face in faces if face.contains(at))
        # planted: a gap along Plum Avenue, and a strip of Clover Avenue that two districts claim
        face = face.difference(gap)
        rows.append((name, face.union(shared) if face.intersects(shared) else face))
    return gpd.GeoDataFrame(rows, columns=["name", "geometry"], crs=CRS)


def build_map() -> TownMap:
    """Return the layers of the town; nothing in them is random."""
    streets = _streets()
    roads = _roads(streets)
    ends = np.concatenate([shapely.get_coordinates(line)[[0, -1]] for line in roads.geometry])
    junctions = shapely.MultiPoint(np.unique(np.round(ends, 1), axis=0))
    lines = {street.name: street.line for street in streets}
    return TownMap(lines, roads, _surfaces(streets), _districts(), junctions)
