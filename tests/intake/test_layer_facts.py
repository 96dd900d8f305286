"""What was understood of a layer: rows, geometry, CRS, extent, and how far its columns are filled."""

import numpy as np
import pandas as pd
import pytest
import shapely
from pyproj import CRS

from pipeline.intake.files.tables import RawTable
from pipeline.intake.layer_facts import layer_facts, stock_facts
from pipeline.intake.placed_layer import place_layer
from pipeline.programme.catalogue import load_catalogue
from pipeline.programme.input_files import MapLayer

_CATALOGUE = load_catalogue({}, "shipped")


def _layer(name, cells, shapes, kinds, columns):
    frame = pd.DataFrame(cells, dtype="str")
    geometry = np.array(shapes, dtype=object)
    table = RawTable(frame, np.arange(1, len(frame) + 1), 5, f"{name}.gpkg", geometry, CRS.from_epsg(32617))
    section = MapLayer(path=f"{name}.gpkg", columns=columns)
    return place_layer(table, section, name, kinds)


def test_a_layer_of_roads_has_its_columns_and_the_roads_whose_surface_is_not_known():
    """Three roads: asphalt, a word that is no surface, and a blank cell."""
    cells = {"name": ["Quay", None, "Mill"], "paved": ["asphalt", "mud pie", None]}
    lines = [shapely.LineString([(500000, 4961000), (500000 + wide, 4961100)]) for wide in (10, 20, 30)]
    layer = _layer("roads", cells, lines, ("LineString",), {"street": "name", "surface": "paved"})
    facts = layer_facts(layer, ("street", "surface", "slope"), _CATALOGUE)
    assert (facts.rows, facts.rows_in_file, facts.geometry, facts.crs) == (3, 5, {"linestring": 3}, "EPSG:32617")
    assert facts.columns == (("street", "name", 2), ("surface", "paved", 2), ("slope", None, 0))
    assert facts.without_surface == 2
    assert facts.districts is None
    # easting 500000 is the central meridian of the zone, 81 degrees west; 44.8 degrees north by the same projection
    assert facts.extent == pytest.approx((-81, 44.8, -81, 44.8), abs=0.01)


def test_a_layer_of_districts_has_the_number_of_names():
    boxes = [shapely.box(500000, 4961000 + low, 500100, 4961100 + low) for low in (0, 100, 200)]
    layer = _layer("districts", {"ward": ["East", "West", "East"]}, boxes, ("Polygon",), {"district": "ward"})
    facts = layer_facts(layer, ("district",), _CATALOGUE)
    assert (facts.districts, facts.without_surface) == (2, None)


def test_the_stock_has_its_yards_and_items():
    stock = pd.DataFrame({"yard": ["North", "North", "South"], "item": ["grout dark", "gravel", "gravel"]})
    facts = stock_facts("stock.csv", stock)
    assert (facts.rows, facts.yards, facts.items) == (3, ("North", "South"), ("grout dark", "gravel"))
