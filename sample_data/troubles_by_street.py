"""The findings that follow from the street or the segment a core lies in: protected, steep, due for works, crowded."""

import math
from collections import Counter

import shapely
from register_cells import Core
from road_works import PLANNED, RESURFACED
from town_map import COUNTY, STEEP, TownMap

__all__ = ["is_county", "plant_by_segment", "plant_by_street"]

# as the rules have it
_PROTECTED_YEARS = 5
# as in programme.toml: cores per 100 m, share of the segment's area
_CROWDED = 5.5
_CUT_UP = 0.002
# a core with one of these findings lies on no segment
_UNPLACED = {
    "position-missing", "position-unreadable", "position-zero", "position-out-of-range", "position-projected",
    "position-sign-lost", "off-network",
}  # fmt: skip
_WIDTH_BY_CLASS = {"main road": 12, "local street": 7, "footway": 2.5}


def plant_by_street(cores: list[Core]) -> None:
    """Add the findings that follow from a core's street; call it before troubles are planted in cells."""
    for core in cores:
        if _UNPLACED & set(core.rules):
            continue
        if core.street in RESURFACED and RESURFACED[core.street].year + _PROTECTED_YEARS > 2026:
            core.rules.append("street-protected")
        if core.street == STEEP and not core.is_done:
            core.rules.append("slope-steep")
        if core.street in PLANNED and core.planned is not None:
            core.rules.append("resurfacing-first" if PLANNED[core.street] <= core.planned else "resurfacing-follows")


def plant_by_segment(town: TownMap, cores: list[Core]) -> None:
    """Add the findings that follow from how many cores a segment holds; call it once all troubles are planted."""
    roads = town.roads[town.roads["level"].ge(0)]
    lines = roads.geometry.to_numpy()
    placed = [core for core in {id(core): core for core in cores}.values() if not _UNPLACED & set(core.rules)]
    nearest = [int(shapely.distance(lines, shapely.Point(core.x, core.y)).argmin()) for core in placed]
    count = Counter(nearest)
    area = Counter[int]()
    for core, segment in zip(placed, nearest, strict=True):
        # a size that is missing or implausible counts as 18 in
        is_odd = {"diameter-missing", "diameter-unreadable", "diameter-implausible"} & set(core.rules)
        area[segment] += math.pi / 4 * ((457.2 if is_odd else core.diameter_mm) / 1000) ** 2
    for core, segment in zip(placed, nearest, strict=True):
        road = roads.iloc[segment]
        width = road["width"] if road["width"] > 0 else _WIDTH_BY_CLASS[road["class"]]
        density = count[segment] / max(road.geometry.length, 100) * 100
        share = area[segment] / (road.geometry.length * width)
        if abs(density / _CROWDED - 1) < 1e-6 or abs(share / _CUT_UP - 1) < 0.01:
            raise RuntimeError(
                f"{road['seg_id']} lies on a limit: change _CROWDED or _CUT_UP, and programme.toml with it"
            )
        if density > _CROWDED:
            core.rules.append("segment-crowded")
        if share > _CUT_UP:
            core.rules.append("segment-cut-up")


def is_county(town: TownMap, core: Core) -> bool:
    """Return whether the county owns the core's street."""
    return bool(town.roads.loc[town.roads["name"].eq(core.street), "owner"].eq(COUNTY).all())
