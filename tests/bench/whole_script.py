"""The script that a user would write for the same job, as the peer of the whole run: ``python -m tests.bench.whole_script IN OUT``.

It reads the same files, finds the nearest segment, the surface and the district with geopandas' joins, works out each core
with pint row by row, draws one marker per core, and writes a GeoPackage, a table and a map. It checks nothing.
"""

import sys
from pathlib import Path
from typing import Any

import folium
import geopandas as gpd
import pandas as pd
import pint

_UNITS = pint.UnitRegistry()
_REACH_M = 15


def _needs(row: Any) -> pd.Series:
    """Volume of grout and bags of one core, as a script has them: kerf, pilot hole and bed of a cylinder."""
    try:
        hole = _length(row["dia"])
        depth = _length(row["depth"])
    except (ValueError, TypeError, pint.errors.PintError):
        return pd.Series({"grout_l": None, "bags_needed": None})
    ring = 3.14159265 / 4 * (hole**2 - (hole - 18 * _UNITS.mm) ** 2) * depth
    bed = 3.14159265 / 4 * hole**2 * (25 * _UNITS.mm) * 0.4
    pilot = 3.14159265 / 4 * (32 * _UNITS.mm) ** 2 * depth
    litres = (ring + bed + pilot).to("L").magnitude
    return pd.Series({"grout_l": litres, "bags_needed": litres * 1.95 / 20})


def _length(cell: str) -> Any:
    number, _, unit = str(cell).partition(" ")
    return float(number) * _UNITS(unit or "mm")


def main(folder: Path, out: Path) -> None:
    """Do the whole job and write its three files."""
    out.mkdir(parents=True, exist_ok=True)
    cores = gpd.read_parquet(folder / "cores.parquet")
    roads = gpd.read_parquet(folder / "roads.parquet")
    surfaces = gpd.read_parquet(folder / "surfaces.parquet")
    districts = gpd.read_parquet(folder / "districts.parquet").rename(columns={"name": "district"})
    placed = cores[cores.geometry.notna()]
    found = placed.sjoin_nearest(roads[["seg_id", "name", "surface", "geometry"]], max_distance=_REACH_M, how="left")
    found = found[~found.index.duplicated()].drop(columns="index_right")
    found = found.sjoin(surfaces, how="left", rsuffix="polygon")
    found = found[~found.index.duplicated()].drop(columns="index_polygon")
    found = found.sjoin(districts, how="left")
    found = found[~found.index.duplicated()].drop(columns="index_right")
    found = found.join(found.apply(_needs, axis=1))
    found["status"] = found["done"].isna().map({True: "pending", False: "reinstated"})
    found.to_file(out / "cores.gpkg", layer="cores")
    found.drop(columns="geometry").to_csv(out / "cores.csv", index=False)
    degrees = found.to_crs(4326)
    page = folium.Map(location=[degrees.geometry.y.mean(), degrees.geometry.x.mean()], zoom_start=12)
    for row in degrees.itertuples():
        folium.CircleMarker([row.geometry.y, row.geometry.x], radius=4, popup=f"{row.id}: {row.status}").add_to(page)
    page.save(out / "map.html")


if __name__ == "__main__":
    main(Path(sys.argv[1]), Path(sys.argv[2]))
