"""Area layers: surface polygons and districts, in the run's CRS."""

import geopandas as gpd
import numpy as np
import pandas as pd
import shapely
from pyproj import CRS

from pipeline.contracts import NO_DISTRICT
from pipeline.errors import InputError
from pipeline.intake.placed_layer import (
    PlacedLayer,
    layer_column,
    refuse_missing_column,
    surface_column,
    valid_shapes,
    within_crs,
)
from pipeline.programme.catalogue import Catalogue
from pipeline.wording import counted

__all__ = ["as_districts", "as_surfaces"]


def as_surfaces(layer: PlacedLayer, catalogue: Catalogue, crs: CRS) -> gpd.GeoDataFrame:
    """Return the surface polygons in the run's CRS, smallest first: a patch lies within its street.

    Columns ``surface`` and geometry; polygons whose surface is not known are left out.
    """
    shapes = valid_shapes(layer, crs)
    frame = gpd.GeoDataFrame({"surface": surface_column(layer, catalogue)}, geometry=shapes, crs=crs)
    frame = frame[within_crs(layer, shapes)].dropna()
    frame = _with_area(frame, layer)
    if frame.empty:
        layer.table.notices.append(
            f"{layer.table.label}: no polygon has a known surface; the surfaces of the road segments are used."
        )
    area = frame.area
    if area.is_unique:
        order = area.sort_values()
    else:
        keys = {"area": area, "surface": frame["surface"], "wkb": shapely.to_wkb(frame.geometry.array)}
        order = pd.DataFrame(keys).sort_values([*keys])
    return frame.loc[order.index].reset_index(drop=True)


def as_districts(layer: PlacedLayer, crs: CRS) -> gpd.GeoDataFrame:
    """Return the districts in the run's CRS, one row per name, sorted by name.

    Columns ``district`` and geometry; polygons of the same name are merged.

    Raises
    ------
    InputError
        The layer has no column of districts, no name in it, the name of no district, or no polygon with an area.
    """
    refuse_missing_column(layer, "district")
    names = layer_column(layer, "district")
    if names.eq(NO_DISTRICT).any():
        raise InputError(
            f'{layer.table.label}: `district` holds "{NO_DISTRICT}", which stands for cores outside every district; '
            "expected the name of a district. Rename it, or leave the cell blank to have the polygon ignored."
        )
    nameless = int(names.isna().sum())
    if nameless:
        layer.table.notices.append(f"{layer.table.label}: {counted(nameless, 'polygon')} without a district ignored.")
    shapes = valid_shapes(layer, crs)
    frame = gpd.GeoDataFrame({"district": names}, geometry=shapes, crs=crs).dropna(subset="district")
    if frame.empty:
        raise InputError(
            f"{layer.table.label}: every polygon's `district` is blank; expected a name in each. "
            f"Fill the column in, or name another in {layer.name}.columns.district."
        )
    frame = _with_area(frame[within_crs(layer, shapes)[frame.index]], layer)
    if frame.empty:
        raise InputError(
            f"{layer.table.label}: no polygon has an area in {crs.name}; expected the outlines of districts. Check "
            f"{layer.name}.crs, or export the layer again."
        )
    united = frame.dissolve(by="district", sort=True).reset_index()
    return united[["district", "geometry"]]


def _with_area(frame: gpd.GeoDataFrame, layer: PlacedLayer) -> gpd.GeoDataFrame:
    """Return the polygons that have an area; the others hold nothing, and are reported."""
    has_area = frame.area.gt(0) & np.isfinite(frame.area)
    if flat := int((~has_area).sum()):
        layer.table.notices.append(f"{layer.table.label}: {counted(flat, 'polygon')} without an area ignored.")
    return frame[has_area] if flat else frame
