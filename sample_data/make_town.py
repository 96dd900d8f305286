"""Make the sample data of Harbour Vale, an invented town: the same bytes on every run.

Usage: python make_town.py [FOLDER]   (without one, the files land beside this script)
"""

import csv
import sys
from pathlib import Path

import geopandas as gpd
import numpy as np
import numpy.typing as npt
import pandas as pd
import pyogrio
import shapely
from town_doubts import doubtful_cores
from town_map import CRS, HALF_WIDTH, TownMap, build_map
from town_register import COLUMNS, TROUBLES, Core, fill_cells
from town_works import is_county, joints_near, plant_crowds, plant_streets, resurfaced, works

ROWS = 400
COPIES = 2
SHARED_IDS = 2
REINSTATED_SHARE = 0.61
REINSTATABLE = ("asphalt", "composite", "concrete", "concrete footway")
# rules that a place alone brings about: pool of places -> rules, cores
PLANTED_PLACES = {
    "off network": (("off-network",), 3),
    "between districts": (("district-gap",), 3),
    "beyond the rim": (("district-gap",), 1),
    "far outside": (("district-outside",), 2),
    "in two districts": (("district-overlap",), 3),
    "on the street pad": (("surface-overlap",), 2),
    "on the harbour pad": (("surface-overlap",), 1),
    "on blocks": (("surface-not-allowed",), 2),
    "on gravel": (("surface-not-allowed",), 1),
    "surface unknown": (("surface-unknown",), 2),
    "surface empty": (("surface-unknown",), 1),
    "surface by register alone": (("value-unreadable",), 1),
}
# metres between the centres of two cores about 457 mm wide
PAIRS = (("cores-overlap", 0.30), ("cores-overlap", 0.38), *[("cores-too-close", 0.60)] * 3)
JOINTS = 2


def sample_places(town: TownMap, rng: np.random.Generator, count: int) -> gpd.GeoDataFrame:
    """Throw places along the streets, one in ten too far off, and measure what surrounds each.

    All lengths are metres. ``edge`` columns hold the distance to the nearest boundary of the layer.
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
    # where ribbons and a pad overlap, the smallest polygon serves
    areas = np.where(on_surface, surfaces.area.to_numpy()[None, :], np.inf)
    smallest = areas.argmin(axis=1)
    on_any = on_surface.any(axis=1)
    surface_edge = shapely.distance(points, shapely.union_all(surfaces.boundary.to_numpy()))
    district_edge = shapely.distance(points, shapely.union_all(districts.boundary.to_numpy()))
    # half way to the next street the answer would change
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
    """Say for each place what it is good for; "" where it is too near some edge to be sure of."""
    on_street = places["is_own_nearest"] & places["nearest"].lt(5.9) & places["junction"].gt(20.5)
    on_street &= places["second_nearest"] - places["nearest"] > 3
    sure_surface = places["surface_edge"].gt(1.1)
    surface = sure_surface & places["surfaces"].eq(places["is_mapped"].astype(int))
    surface &= places["is_on_own_surface"] | ~places["is_mapped"]
    district = places["districts"].eq(1) & places["district_edge"].gt(1.1)
    no_district = places["districts"].eq(0) & places["district_edge"].gt(1.1)
    can_be_done = places["surface"].isin(REINSTATABLE)
    plain = on_street & surface & can_be_done
    on_pad = on_street & sure_surface & district & places["surfaces"].eq(2)
    unknown = on_street & surface & district & places["surface"].eq("unknown")
    pools = {
        "clean": plain & district,
        "off network": places["nearest"].gt(15.3) & places["surfaces"].eq(0) & sure_surface & district & can_be_done,
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
        # takes some of its places from the pool before it
        "surface by register alone": unknown & places["street"].eq("Clay Lane") & (places.index % 2 == 0),
    }
    named = pd.Series("", places.index)
    for name, fits in pools.items():
        named[fits] = name
    return named


def choose(
    places: gpd.GeoDataFrame, pools: pd.Series, quotas: dict[str, int], taken: npt.NDArray[np.float64]
) -> dict[str, list[int]]:
    """Take the first places of each pool that lie 4 m or more from every place already ``taken``."""
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
        raise RuntimeError(f"too few places, found {short} of {quotas}: throw more")
    return chosen


def make_cores(town: TownMap, rng: np.random.Generator) -> list[Core]:
    """Place the cores, with the troubles that lie in a place or a pair of places."""
    places = sample_places(town, rng, 12_000)
    quotas = {pool: count for pool, (_, count) in PLANTED_PLACES.items()}
    cores = doubtful_cores(town, rng, REINSTATED_SHARE)
    taken = np.array([(core.x, core.y) for core in cores])
    quotas["clean"] = ROWS - COPIES - len(PAIRS) - 1 - len(cores) - sum(quotas.values())
    for pool, positions in choose(places, name_pools(places), quotas, taken).items():
        for place in places.iloc[positions].itertuples():
            done = place.surface in REINSTATABLE and bool(rng.random() < REINSTATED_SHARE)
            done |= pool == "surface by register alone"
            core = Core(place.geometry.x, place.geometry.y, place.street, place.surface, done, place.room)
            core.rules += PLANTED_PLACES[pool][0] if pool in PLANTED_PLACES else ()
            cores.append(core)
    clean = [core for core in cores if not core.rules and not core.by_hand]
    for (rule, apart), core in zip(PAIRS, clean, strict=False):
        angle = rng.uniform(0, 2 * np.pi)
        x, y = core.x + apart * np.cos(angle), core.y + apart * np.sin(angle)
        core.rules.append(rule)
        core.room -= apart
        cores.append(Core(x, y, core.street, core.surface, core.is_done, core.room, [rule]))
    # a third beside the last pair, on the other side
    for one in (core, cores[-1]):
        one.rules.append("cores-clustered")
    cores.append(
        Core(2 * core.x - x, 2 * core.y - y, core.street, core.surface, core.is_done, core.room, core.rules[:])
    )
    return [cores[position] for position in rng.permutation(len(cores))]


def fill_register(town: TownMap, cores: list[Core], rng: np.random.Generator) -> list[Core]:
    """Write every core's cells, then plant the troubles that lie in cells."""
    points = gpd.GeoSeries(gpd.points_from_xy([c.x for c in cores], [c.y for c in cores]), crs=CRS).to_crs("EPSG:4326")
    for number, (core, point) in enumerate(zip(cores, points, strict=True), start=1):
        fill_cells(core, rng, number, point.x, point.y)
        if {"cores-overlap", "cores-too-close"} & set(core.rules):
            core.cells["dia"] = "18 in" if core.is_done else "457"
            core.diameter_mm = 457.2 if core.is_done else 457
        if "off-network" in core.rules:
            core.cells["surf"] = core.surface
        if "value-unreadable" in core.rules:
            core.cells |= {"surf": "tarmac", "bedding": "thin"}
    plant_streets(cores)
    shuffled = [cores[position] for position in rng.permutation(len(cores))]
    untouched = [core for core in shuffled if not core.rules and not core.by_hand]
    for rule, status, cells in TROUBLES:
        core = next(c for c in untouched if status in _kinds(town, c))
        untouched.remove(core)
        core.cells |= cells(core) if callable(cells) else cells
        if core.cells["dia"] == "18 in":
            core.diameter_mm = 457.2
        core.rules += [rule] if rule else []
    for written in ("hv-{} ", "HV -{}")[:SHARED_IDS]:
        first, second = untouched.pop(), untouched.pop()
        number = first.cells["id"].strip()[-4:]
        second.cells["id"] = written.format(number)
        for core in (first, second):
            core.rules.append("id-duplicated")
    ragged = untouched.pop()
    # an unquoted comma in the last column
    ragged.cells["remarks"], ragged.extra = "plate rattled", [" reset twice"]
    ragged.rules.append("row-ragged")
    for _ in range(COPIES):
        core = untouched.pop()
        core.rules.append("row-duplicated")
        cores.insert(int(rng.integers(len(cores))), core)
    plant_crowds(town, cores)
    return cores


def _kinds(town: TownMap, core: Core) -> tuple[str, ...]:
    """What TROUBLES may call a core."""
    if not core.is_done:
        return ("any", "pending")
    return ("any", "reinstated", "county" if is_county(town, core) else "town")


def write_files(folder: Path, town: TownMap, cores: list[Core], joints: gpd.GeoDataFrame) -> None:
    """Write the layers, the register and the list of what is planted in it."""
    # a GeoPackage carries the time at which it was written
    pyogrio.set_gdal_config_options({"OGR_CURRENT_DATE": "2026-01-01T00:00:00.000Z"})
    for name, layer in (("roads", town.roads), ("surfaces", town.surfaces), ("joints", joints)):
        path = folder / f"{name}.gpkg"
        path.unlink(missing_ok=True)
        layer.drop(columns=["true_surface", "street"], errors="ignore").to_file(path, layer=name, driver="GPKG")
    geojson = {"districts": town.districts, "resurfaced": resurfaced(town), "planned_works": works(town)}
    for name, layer in geojson.items():
        layer.to_crs("EPSG:4326").to_file(
            folder / f"{name}.geojson", driver="GeoJSON", RFC7946="YES", COORDINATE_PRECISION="7"
        )
    with (folder / "cores.csv").open("w", encoding="utf-8", newline="") as file:
        writer = csv.writer(file, lineterminator="\n")
        writer.writerow(COLUMNS)
        writer.writerows([*(core.cells[column] for column in COLUMNS), *core.extra] for core in cores)
    with (folder / "planted.csv").open("w", encoding="utf-8", newline="") as file:
        writer = csv.writer(file, lineterminator="\n")
        writer.writerow(("row", "core_id", "rule"))
        for row, core in enumerate(cores, start=1):
            writer.writerows((row, core.cells["id"].strip(), rule) for rule in sorted(core.rules))


def main() -> None:
    """Make everything from one seed."""
    folder = Path(sys.argv[1]) if len(sys.argv) > 1 else Path(__file__).parent
    folder.mkdir(parents=True, exist_ok=True)
    rng = np.random.default_rng(20260930)
    town = build_map()
    cores = make_cores(town, rng)
    joints = joints_near(town, cores, JOINTS)
    cores = fill_register(town, cores, rng)
    write_files(folder, town, cores, joints)
    print(f"{len(cores)} cores, {len(town.roads)} road segments, {len(town.surfaces)} surfaces -> {folder}")


if __name__ == "__main__":
    main()
