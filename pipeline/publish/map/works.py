"""Planned works, protected streets and resurfaced roads as the map page lists and draws them."""

from typing import Any, Final

import geopandas as gpd
import pandas as pd
import shapely

from pipeline.publish.map.packing import shown_text

__all__ = ["pack_works"]

# degrees, about a metre: less than the width of an outline
_TOLERANCE: Final = 1e-5
_DIGITS: Final = 6


def pack_works(works: gpd.GeoDataFrame) -> list[dict[str, Any]]:
    """Return one entry per works: id, kind, name, days, limits and outline in degrees, latitude first.

    Parameters
    ----------
    works
        In EPSG:4326: ``works_id``, ``kind``, ``name``, ``on`` and ``until`` (ISO days, or missing), geometry.
    """
    thin = shapely.simplify(works.geometry.to_numpy(), _TOLERANCE, preserve_topology=True)
    return [
        {
            "id": shown_text(row.works_id),
            "kind": str(row.kind),
            "name": None if pd.isna(row.name) else shown_text(row.name),
            "on": None if pd.isna(row.on) else str(row.on),
            "until": None if pd.isna(row.until) else str(row.until),
            "lines": _lines(shape),
        }
        for row, shape in zip(works.drop(columns="geometry").itertuples(index=False), thin, strict=True)
    ]


def _lines(shape: shapely.Geometry) -> list[list[list[float]]]:
    """Return the lines of a shape, and the outlines of its polygons, as positions with the latitude first."""
    parts = shapely.get_parts(shape)
    outlines = shapely.get_parts(
        [shapely.boundary(part) if shapely.get_dimensions(part) == 2 else part for part in parts]
    )
    return [
        [[round(float(lat), _DIGITS), round(float(lon), _DIGITS)] for lon, lat in shapely.get_coordinates(line)]
        for line in outlines
    ]
