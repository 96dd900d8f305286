"""Small road layers for the tests of the network."""

import geopandas as gpd
import numpy as np
import shapely

from pipeline.plan.streets.network import network_of
from pipeline.plan.streets.seats import seats_of


def layer(*lines, underground=()):
    """Return one segment per line, each a list of (x, y); those whose numbers are in ``underground`` lie below."""
    return gpd.GeoDataFrame(
        {"is_underground": [at in underground for at in range(len(lines))], "start_m": 0.0},
        geometry=[shapely.LineString(line) for line in lines],
        crs="EPSG:32617",
    )


def network(*lines, gap_m=1.0, underground=()):
    return network_of(layer(*lines, underground=underground), gap_m)


def seated(roads, *places, detour=1.4):
    """Return the seats and positions of places, each (line or None, metres along it, metres from it, x, y)."""
    line, along, off, x, y = zip(*places)
    xy = np.column_stack([x, y]).astype(float)
    lines = np.array([-1 if one is None else one for one in line])
    return seats_of(roads, xy, lines, np.array(along, float), np.array(off, float), detour), xy
