"""Make the sample data of Harbour Vale, an invented town: the same bytes on every run.

Usage: python make_town.py [FOLDER]   (without a folder, the files are written beside this script)
"""

import csv
import sys
from pathlib import Path

import geopandas as gpd
import numpy as np
import pyogrio
from core_places import REINSTATABLE, choose_places, draw_places, name_pools
from month_before import write_month_before
from planted_troubles import TROUBLES
from register_cells import COLUMNS, Core, fill_cells
from road_works import draw_joints, draw_planned_works, draw_protected, draw_resurfaced
from town_map import CRS, TownMap, build_map
from troubles_by_street import is_county, plant_by_segment, plant_by_street
from uncertain_cores import uncertain_cores
from weather_tables import write_weather

ROWS = 400
COPIES = 2
SHARED_IDS = 2
REINSTATED_SHARE = 0.61
# what a place alone brings about: pool of places, the findings there, the number of cores
PLANTED_PLACES = {
    "off network": (("off-network",), 3),
    "between districts": (("district-gap",), 3),
    "beyond the rim": (("district-outside",), 1),
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
# the finding of both cores of a pair, and the metres between their centres; each is about 457 mm wide
PAIRS = (("cores-overlap", 0.30), ("cores-overlap", 0.38), *[("cores-too-close", 0.60)] * 3)
CORES_NEAR_JOINTS = 2


def make_cores(town: TownMap, rng: np.random.Generator) -> list[Core]:
    """Return the cores in the order of the register, with the troubles that come from where they lie."""
    places = draw_places(town, rng, 12_000)
    quotas = {pool: count for pool, (_, count) in PLANTED_PLACES.items()}
    cores = uncertain_cores(town, rng, REINSTATED_SHARE)
    taken = np.array([(core.x, core.y) for core in cores])
    quotas["clean"] = ROWS - COPIES - len(PAIRS) - 1 - len(cores) - sum(quotas.values())
    for pool, positions in choose_places(places, name_pools(places), quotas, taken).items():
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
    # a third core beside the last pair, on its other side
    for near in (core, cores[-1]):
        near.rules.append("cores-clustered")
    cores.append(
        Core(2 * core.x - x, 2 * core.y - y, core.street, core.surface, core.is_done, core.room, core.rules[:])
    )
    return [cores[position] for position in rng.permutation(len(cores))]


def fill_register(town: TownMap, cores: list[Core], rng: np.random.Generator) -> list[Core]:
    """Return the rows of the register: every core's cells written, then the troubles planted in them."""
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
    plant_by_street(cores)
    shuffled = [cores[position] for position in rng.permutation(len(cores))]
    untouched = [core for core in shuffled if not core.rules and not core.by_hand]
    for rule, status, cells in TROUBLES:
        core = next(c for c in untouched if status in _kinds(town, c))
        untouched.remove(core)
        core.cells |= cells(core) if callable(cells) else cells
        if core.cells["dia"] == "18 in":
            core.diameter_mm = 457.2
        core.rules += rule.split()
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
    plant_by_segment(town, cores)
    return cores


def _kinds(town: TownMap, core: Core) -> tuple[str, ...]:
    """Return the words of TROUBLES that fit a core."""
    if not core.is_done:
        return ("any", "pending")
    return ("any", "reinstated", "county" if is_county(town, core) else "town")


def write_files(folder: Path, town: TownMap, cores: list[Core], joints: gpd.GeoDataFrame) -> None:
    """Write the layers, the register and the list of the findings planted in it."""
    # a GeoPackage holds the time at which it was written
    pyogrio.set_gdal_config_options({"OGR_CURRENT_DATE": "2026-01-01T00:00:00.000Z"})
    for name, layer in (("roads", town.roads), ("surfaces", town.surfaces), ("joints", joints)):
        path = folder / f"{name}.gpkg"
        path.unlink(missing_ok=True)
        layer.drop(columns=["true_surface", "street"], errors="ignore").to_file(path, layer=name, driver="GPKG")
    geojson = {
        "districts": town.districts,
        "resurfaced": draw_resurfaced(town),
        "planned_works": draw_planned_works(town),
        "protected": draw_protected(town),
    }
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
    """Make all files from one seed."""
    folder = Path(sys.argv[1]) if len(sys.argv) > 1 else Path(__file__).parent
    folder.mkdir(parents=True, exist_ok=True)
    rng = np.random.default_rng(20260930)
    town = build_map()
    cores = make_cores(town, rng)
    joints = draw_joints(town, cores, CORES_NEAR_JOINTS)
    cores = fill_register(town, cores, rng)
    write_files(folder, town, cores, joints)
    write_weather(folder)
    write_month_before(folder / "august", cores)
    print(f"{len(cores)} cores, {len(town.roads)} road segments, {len(town.surfaces)} surfaces -> {folder}")


if __name__ == "__main__":
    main()
