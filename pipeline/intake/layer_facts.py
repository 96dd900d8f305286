"""What was understood of a map layer or of the stock: its rows, geometry, CRS, extent and columns."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
import pandas as pd
import shapely
from pyproj import CRS

from pipeline.contracts import Column
from pipeline.intake.crs import extent_of, name_of
from pipeline.intake.placed_layer import PlacedLayer, layer_column
from pipeline.intake.register import find_column
from pipeline.programme.catalogue import Catalogue

__all__ = ["LayerFacts", "StockFacts", "layer_facts", "stock_facts"]

_WGS84: Final = CRS.from_epsg(4326)


@dataclass(frozen=True)
class LayerFacts:
    """What was understood of a map layer.

    ``name``: its section in the programme file. ``rows``: features used. ``geometry``: counts by type. ``extent``:
    west, south, east and north, in degrees. ``columns``: for each column that can be used, the file's column (None
    where it has none), and how many features have it filled. ``without_surface``: features whose surface is missing or
    not in the catalogue; None for layers without surfaces. ``districts``: names of districts.
    """

    name: str
    path: str
    rows: int
    rows_in_file: int
    geometry: dict[str, int]
    crs: str
    extent: tuple[float, float, float, float]
    columns: tuple[tuple[str, str | None, int], ...]
    without_surface: int | None = None
    districts: int | None = None


@dataclass(frozen=True)
class StockFacts:
    """What was understood of the stock: rows, yards and items."""

    path: str
    rows: int
    yards: tuple[str, ...]
    items: tuple[str, ...]


def layer_facts(layer: PlacedLayer, columns: Sequence[str], catalogue: Catalogue) -> LayerFacts:
    """Return what was understood of a map layer.

    Parameters
    ----------
    layer
        The layer in its own CRS.
    columns
        The columns that can be used of such a layer.
    catalogue
        Knows the names of surfaces.
    """
    table = layer.table
    found = {name: find_column(table, layer.section.columns, Column(name, "text"), layer.name) for name in columns}
    kinds, counts = np.unique(shapely.get_type_id(table.geometry), return_counts=True)
    surfaces = catalogue.surface_names(layer_column(layer, "surface")) if "surface" in columns else None
    return LayerFacts(
        layer.name, table.label, len(table.frame), table.rows_in_file,
        {shapely.GeometryType(kind).name.lower(): int(count) for kind, count in zip(kinds, counts, strict=True)},
        name_of(layer.crs), extent_of(layer.extent, layer.crs, _WGS84),
        tuple((name, source, 0 if source is None else int(table.frame[source].notna().sum()))
              for name, source in found.items()),
        None if surfaces is None else int((surfaces.isna() | surfaces.eq("unknown")).sum()),
        int(layer_column(layer, "district").nunique()) if "district" in columns else None,
    )  # fmt: skip


def stock_facts(path: str, stock: pd.DataFrame) -> StockFacts:
    """Return what was understood of the stock."""
    yards, items = (tuple(map(str, stock[name].dropna().unique())) for name in ("yard", "item"))
    return StockFacts(path, len(stock), yards, items)
