"""Places along the streets of Harbour Vale where a core may lie, sorted by what an audit must find there."""

import geopandas as gpd
import numpy as np
import numpy.typing as npt
import pandas as pd
import shapely
from town_map import CRS, HALF_WIDTH, TownMap

__all__ = ["REINSTATABLE", "choose_places", "draw_places", "name_pools"]

REINSTATABLE = ("asphalt", "composite", "concrete", "concrete footway")


def draw_places(town: TownMap, rng: np.random.Generator, count: int) -> gpd.GeoDataFrame:
    """Draw places along the streets, one in ten too far off, and measure what surrounds each.

    All lengths are metres. A column ending in ``edge`` holds the distance to the nearest boundary of that layer.
    """
    roads, surfaces, districts = town.roads, town.surfaces, town.districts
    lengths = roads.length.to_numpy()
    open_air = lengths * roads["level"].ge(0).to_numpy()
    own = rng.choice(len(roads), size=count, p=open_air / open_air.sum())
    lines = roads.geometry.to_numpy()[own]
    chainages = rng.uniform(0, lengths[own])
    ahead = shapely.get_coordinates(shapely.line_interpolate_point(lines, np.minimum(chainages + 0.5, lengths[own])))
    behind = shapely.get_coordinates(shapely.line_interpolate_point(lines, np.maximum(chainages - 0.5, 0)))
    along = (ahead - behind) / np.linalg.norm(ahead - behind, axis=1)[:, None]
    reach = roads["class"].map(HALF_WIDTH).to_numpy()[own] - 0.3
    offsets = np.where(rng.random(count) < 0.9, rng.uniform(-1, 1, count) * reach, rng.uniform(15.5, 40, count))
    at = shapely.get_coordinates(shapely.line_interpolate_point(lines, chainages))
    at = at + offsets[:, None] * np.column_stack([-along[:, 1], along[:, 0]])
    points = shapely.points(at)

    to_roads = shapely.distance(points[:, None], roads.geometry.to_numpy()[None, :])
    first_two = np.partition(to_roads, 1, axis=1)[:, :2]
    on_surface = shapely.contains(surfaces.geometry.to_numpy()[None, :], points[:, None])
    # where ribbons and a pad overlap, the smallest polygon counts
    areas = np.where(on_surface, surfaces.area.to_numpy()[None, :], np.inf)
    smallest = areas.argmin(axis=1)
    on_any = on_surface.any(axis=1)
    surface_edge = shapely.distance(points, shapely.union_all(surfaces.boundary.to_numpy()))
    district_edge = shapely.distance(points, shapely.union_all(districts.boundary.to_numpy()))
    # halfway to the next street the answer would change
    room = np.minimum.reduce([surface_edge, district_edge, np.diff(first_two, axis=1)[:, 0] / 2])
    in_district = shapely.contains(districts.geometry.to_numpy()[None, :], points[:, None])
    street = roads["name"].to_numpy()[own]
    return gpd.GeoDataFrame(
        {
            "street": street,
            "is_mapped": np.isin(street, surfaces["street"]),
            "surface": np.where(
                on_any, surfaces["true_surface"].to_numpy()[smallest], roads["true_surface"].to_numpy()[own]
            ),
            "is_own_nearest": to_roads.argmin(axis=1) == own,
            "nearest": first_two[:, 0],
            "second_nearest": first_two[:, 1],
            "junction": shapely.distance(points, town.junctions),
            "surfaces": on_surface.sum(axis=1),
            "is_on_own_surface": on_any & (surfaces["street"].to_numpy()[smallest] == street),
            "surface_edge": surface_edge,
            "districts": in_district.sum(axis=1),
            "district_edge": district_edge,
            "room": room,
            "beyond_hull": shapely.distance(points, shapely.union_all(districts.geometry.to_numpy()).convex_hull),
        },
        geometry=points,
        crs=CRS,
    )


def name_pools(places: gpd.GeoDataFrame) -> pd.Series:
    """Return the pool of each place, by what it can show; "" where it is too near an edge to be certain."""
    on_street = places["is_own_nearest"] & places["nearest"].lt(5.9) & places["junction"].gt(20.5)
    on_street &= places["second_nearest"] - places["nearest"] > 3
    is_clear_of_edges = places["surface_edge"].gt(1.1)
    surface = is_clear_of_edges & places["surfaces"].eq(places["is_mapped"].astype(int))
    surface &= places["is_on_own_surface"] | ~places["is_mapped"]
    district = places["districts"].eq(1) & places["district_edge"].gt(1.1)
    no_district = places["districts"].eq(0) & places["district_edge"].gt(1.1)
    can_be_done = places["surface"].isin(REINSTATABLE)
    plain = on_street & surface & can_be_done
    on_pad = on_street & is_clear_of_edges & district & places["surfaces"].eq(2)
    unknown = on_street & surface & district & places["surface"].eq("unknown")
    pools = {
        "clean": plain & district,
        "off network": places["nearest"].gt(15.3)
        & places["surfaces"].eq(0)
        & is_clear_of_edges
        & district
        & can_be_done,
        "between districts": plain & no_district & places["beyond_hull"].eq(0),
        "beyond the rim": plain & no_district & places["beyond_hull"].gt(5) & places["district_edge"].lt(45),
        "far outside": plain & no_district & places["beyond_hull"].gt(60),
        "in two districts": plain & places["districts"].eq(2) & places["district_edge"].gt(1.1),
        "on the street pad": on_pad & places["street"].eq("Mill Street"),
        "on the harbour pad": on_pad & places["street"].eq("Harbour Road"),
        "on blocks": on_street & surface & district & places["surface"].eq("block paving"),
        "on gravel": on_street & surface & district & places["surface"].eq("unbound"),
        "surface unknown": unknown & places["street"].eq("Kiln Lane"),
        "surface empty": unknown & places["street"].eq("Clay Lane"),
        # takes half of the places of the pool before it
        "surface by register alone": unknown & places["street"].eq("Clay Lane") & (places.index % 2 == 0),
    }
    named = pd.Series("", places.index)
    for name, fits in pools.items():
        named[fits] = name
    return named


def choose_places(
    places: gpd.GeoDataFrame, pools: pd.Series, quotas: dict[str, int], taken: npt.NDArray[np.float64]
) -> dict[str, list[int]]:
    """Return the first places of each pool that lie 4 m or more from every place already ``taken``."""
    xy = shapely.get_coordinates(places.geometry.to_numpy())
    chosen: dict[str, list[int]] = {name: [] for name in quotas}
    for position, pool in enumerate(pools):
        if pool in quotas and len(chosen[pool]) < quotas[pool]:
            far = np.hypot(*(taken - xy[position]).T) >= 4
            if far.all():
                chosen[pool].append(position)
                taken = np.vstack([taken, xy[position]])
    short = {name: len(found) for name, found in chosen.items() if len(found) < quotas[name]}
    if short:
        raise RuntimeError(f"too few places, found {short} of {quotas}: draw more in make_cores")
    return chosen
