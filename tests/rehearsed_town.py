"""A town of three streets and three hundred cores, in metres, for rehearsals: few columns, and nothing wrong with any core."""

from pathlib import Path

import geopandas as gpd
import numpy as np
import pandas as pd
import shapely

__all__ = ["write_rehearsed_town"]

_EAST, _NORTH = 478_000.0, 4_963_000.0
_STREETS = ("Quay Road", "Oat Street", "Clay Lane")


def write_rehearsed_town(folder: Path, name: str = "Rehearsed town") -> Path:
    """Write the town's files, and return its programme file."""
    lines = [shapely.LineString([(_EAST, _NORTH + 200 * n), (_EAST + 5000, _NORTH + 200 * n)]) for n in range(3)]
    roads = gpd.GeoDataFrame({"segment_id": ["1", "2", "3"], "street": _STREETS}, geometry=lines, crs=32617)
    roads.to_file(folder / "roads.gpkg")
    number = np.arange(300)
    street = number % 3
    pd.DataFrame(
        {
            "no": [f"C{one:03d}" for one in number],
            "east": _EAST + 20.5 + 15 * number,
            "north": _NORTH + 200 * street + 1.25,
            "dia": 450,
            "deep": 200,
            "road": np.take(_STREETS, street),
            "cut": [f"2026-09-{one % 9 + 3:02d}" for one in number],
            "done": [f"2026-09-{one % 9 + 4:02d}" if one % 2 else "" for one in number],
        }
    ).to_csv(folder / "cores.csv", index=False)
    path = folder / "programme.toml"
    path.write_text(
        f"""
        [programme]
        name = "{name}"
        as_of = 2026-09-30
        [cores]
        path = "cores.csv"
        x = "east"
        y = "north"
        crs = "EPSG:32617"
        position_accuracy = "2 m"
        columns = {{ core_id = "no", diameter = "dia", depth = "deep", street = "road", opened_on = "cut", reinstated_at = "done" }}
        units = {{ diameter = "mm", depth = "mm" }}
        [roads]
        path = "roads.gpkg"
        """,
        encoding="utf-8",
    )
    return path
