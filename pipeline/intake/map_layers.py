"""The map layers of a programme, by the names of their sections: each read, and typed as the stages use it."""

from collections.abc import Callable
from pathlib import Path
from typing import Final

import geopandas as gpd
import numpy as np
import pandas as pd
from pyproj import CRS

from pipeline.clock import Counted, Told
from pipeline.contracts import Column, no_text
from pipeline.errors import NoRowsError
from pipeline.intake.area_layers import as_districts, as_surfaces
from pipeline.intake.files.checksums import fingerprint
from pipeline.intake.files.layers import read_raw
from pipeline.intake.files.paths import input_path
from pipeline.intake.files.tables import RawTable, forget_content
from pipeline.intake.layer_facts import LayerFacts, layer_facts
from pipeline.intake.placed_layer import PlacedLayer, place_layer
from pipeline.intake.register import find_column
from pipeline.intake.road_layer import as_segments
from pipeline.intake.road_works import as_joints, as_works
from pipeline.programme.catalogue import Catalogue
from pipeline.programme.settings import Layer, Settings

__all__ = ["LAYERS", "layer_frame", "read_layer", "typed_layers"]

# a month without planned works is no fault of its file
_MAY_BE_EMPTY: Final = ("planned_works",)
_DEGREES: Final = CRS.from_epsg(4326)
_LINES: Final = ("LineString", "MultiLineString")
_POLYGONS: Final = ("Polygon", "MultiPolygon")
# what each map layer is drawn as, and the columns that are read from it
LAYERS: Final = {
    "roads": (_LINES, ("segment_id", "street", "surface", "road_class", "road_authority", "width", "slope", "level")),
    "surfaces": (_POLYGONS, ("surface",)),
    "districts": (_POLYGONS, ("district",)),
    "joints": ((*_LINES, *_POLYGONS), ()),
    "resurfaced": ((*_LINES, *_POLYGONS), ("works_id", "name", "segment_id", "resurfaced_on")),
    "planned_works": ((*_LINES, *_POLYGONS), ("works_id", "name", "segment_id", "due_on", "ends_on")),
    "protected": ((*_LINES, *_POLYGONS), ("works_id", "name", "segment_id", "from", "until")),
}


def read_layer(section: Layer, name: str, folder: Path, announce: Callable[[str], Counted | None]) -> PlacedLayer:
    """Read one map layer and establish its CRS; ``name`` is its section in the programme file.

    Raises
    ------
    InputError
        The file cannot be used.
    """
    tell = announce(section.label(name))
    kinds, columns = LAYERS[name]
    try:
        table = read_raw(section, folder, name, [*section.columns.values(), *columns], tell)
    except NoRowsError as error:
        if name not in _MAY_BE_EMPTY:
            raise
        path = None if section.is_database else input_path(section.path, folder, name, may_be_parts=True)
        return _without_rows(section, name, fingerprint(path) if path else error.sha256)
    for key in section.columns:
        # a column that the programme names has to be in the file, whether it is used or not
        find_column(table, section.columns, Column(key, "text"), name)
    return place_layer(table, section, name, kinds)


def _without_rows(section: Layer, name: str, sha256: str) -> PlacedLayer:
    """Return a layer in which nothing is drawn, with every column that it may have."""
    label, columns = section.label(name), LAYERS[name][1]
    notices = [f"{label}: has no rows, so that no works are planned anywhere."]
    frame, nothing = pd.DataFrame({column: no_text(pd.RangeIndex(0)) for column in columns}), np.empty(0, dtype=object)
    table = RawTable(frame, np.arange(0), 0, label, nothing, _DEGREES, notices=notices, sha256=sha256)
    return PlacedLayer(table, section.model_copy(update={"columns": {}}), name, _DEGREES, (np.nan,) * 4)


def layer_frame(layer: PlacedLayer, settings: Settings, catalogue: Catalogue, crs: CRS) -> gpd.GeoDataFrame:
    """Return a layer as the stages use it, in the run's CRS."""
    timezone, day_first = settings.programme.timezone, settings.day_first
    match layer.name:
        case "roads":
            return as_segments(layer, catalogue, crs)
        case "surfaces":
            return as_surfaces(layer, catalogue, crs)
        case "districts":
            return as_districts(layer, crs)
        case "joints":
            return as_joints(layer, crs)
        case _:
            return as_works(layer, crs, timezone, day_first=day_first)


def typed_layers(
    layers: dict[str, PlacedLayer], settings: Settings, catalogue: Catalogue, crs: CRS, told: Told
) -> tuple[dict[str, gpd.GeoDataFrame], list[LayerFacts]]:
    """Return each layer as the stages use it, and what was understood of it.

    The cells and shapes as the files have them are let go of layer by layer: both forms of all layers would need twice
    the memory. ``told`` is told how many shapes are done.
    """
    frames, facts = {}, []
    sizes = [len(layer.table.frame) for layer in layers.values()]
    for at, (name, layer) in enumerate(layers.items()):
        told(f"shapes of {layer.table.label}", sum(sizes[:at]), sum(sizes), "shapes")
        frames[name] = layer_frame(layer, settings, catalogue, crs)
        facts.append(layer_facts(layer, LAYERS[name][1], catalogue))
        forget_content(layer.table)
    return frames, facts
