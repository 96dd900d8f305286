"""A town of one street and seven cores, for tests that need a whole run."""

import json
from pathlib import Path

import geopandas as gpd
import pandas as pd
import shapely

# cells that must not leave the house: a crew, a remark, a column of the register's own, an unreadable number and position
SECRETS = ("SECRETCREW", "SECRETREMARK", "SECRETCOST", "SECRETBAGS", "SECRETCELL")
# the street as the register writes it, which is handed over only if it is listed
SECRET_STREET = "SECRETSTREET"
_COLUMNS = {
    "core_id": "id", "diameter": "dia", "depth": "depth", "opened_on": "cut", "reinstated_at": "done", "bags_used": "bags",
    "crew": "crew", "remarks": "remarks", "permit_no": "permit", "street": "@road",
}  # fmt: skip


def write_town(folder: Path, handover: str = "") -> Path:
    """Write the town's files, and return its programme file; ``handover`` is appended to it."""
    rows = [
        {
            "id": f"HV-{number}", "lon": -82.2 + number * 1e-3, "lat": 44.8, "dia": 450, "depth": 200,
            "cut": "2026-08-01", "done": "2026-08-03 14:05" if number % 2 else "",
            "bags": "SECRETBAGS" if number == 1 else "0.6", "crew": f"SECRETCREW {number}", "remarks": "SECRETREMARK",
            "cost": "SECRETCOST", "permit": "=P-1+1", "@road": SECRET_STREET,
        }
        for number in range(5)
    ]  # fmt: skip
    rows.append({**rows[0], "id": "HV-off", "lon": ""})
    rows.append({**rows[0], "id": "HV-shifted", "lon": "SECRETCELL 555"})
    pd.DataFrame(rows).to_csv(folder / "cores.csv", index=False)
    line = shapely.LineString([(-82.21, 44.8), (-82.19, 44.8)])
    gpd.GeoDataFrame({"seg": ["S1"], "name": ["Quay Road"], "surface": ["asphalt"]}, geometry=[line], crs=4326).to_file(
        folder / "roads.gpkg"
    )
    box = shapely.box(-82.21, 44.79, -82.19, 44.82)
    gpd.GeoDataFrame({"name": ["Quayside"]}, geometry=[box], crs=4326).to_file(folder / "districts.gpkg")
    columns = ", ".join(f"{key} = {json.dumps(name)}" for key, name in _COLUMNS.items())
    path = folder / "programme.toml"
    path.write_text(
        f"""
        [programme]
        name = "Quay 2026"
        as_of = 2026-09-30
        timezone = "America/Toronto"
        [cores]
        path = "cores.csv"
        x = "lon"
        y = "lat"
        crs = "EPSG:4326"
        columns = {{ {columns} }}
        units = {{ diameter = "mm", depth = "mm" }}
        [roads]
        path = "roads.gpkg"
        columns = {{ segment_id = "seg", street = "name", surface = "surface" }}
        [districts]
        path = "districts.gpkg"
        columns = {{ district = "name" }}
        {handover}
        """,
        encoding="utf-8",
    )
    return path
