"""Planned works, protected streets and resurfaced roads as they are published and handed over."""

from collections.abc import Collection, Mapping
from typing import Final

import geopandas as gpd
import numpy as np
import pandas as pd
import shapely
from pyproj import CRS

from pipeline.works import ListedWorks

__all__ = ["WORKS", "WORKS_CORES", "counts_kept_back", "handed_works", "works_layers", "works_of"]

WORKS: Final = "works.csv"
WORKS_CORES: Final = "works_cores.csv"
# layers of works, by what they are drawn as
_AREAS: Final = "works"
_LINES: Final = "works_lines"
# columns of works, by the column of cores that their counts are made from
_COUNTED_FROM: Final = {"cores_open": "state", "cores_hazard": "urgency", "cores_overdue": "urgency"}


def counts_kept_back(columns: Collection[str]) -> list[str]:
    """Return the counts of cores that are not handed over, as what they are made from is not."""
    return [name for name, source in _COUNTED_FROM.items() if source not in columns]


def handed_works(works: ListedWorks | None, columns: Collection[str], *, is_allowed: bool) -> ListedWorks | None:
    """Return the works as they are handed over: of the cores, only what is handed over of them anyway.

    Parameters
    ----------
    works
        Those of the run; None without a layer of works.
    columns
        The columns of cores that are handed over.
    is_allowed
        Whether the settings allow works to be handed over.
    """
    if works is None or not is_allowed:
        return None
    always = ("works_id", "row", "core_id")
    return ListedWorks(
        works.works.drop(columns=counts_kept_back(columns)),
        works.cores[[name for name in works.cores if name in always or name in columns]],
    )


def works_layers(works: gpd.GeoDataFrame) -> dict[str, gpd.GeoDataFrame]:
    """Return works as the layers ``works``, areas, and ``works_lines``, each where there are any.

    Works that have both are in both layers.
    """
    parts, of = shapely.get_parts(works.geometry.to_numpy(), return_index=True)
    is_area = shapely.get_dimensions(parts) == 2
    layers = {}
    for name, make, here in ((_AREAS, shapely.multipolygons, is_area), (_LINES, shapely.multilinestrings, ~is_area)):
        if here.any():
            rows, group = np.unique(of[here], return_inverse=True)
            layers[name] = works.iloc[rows].set_geometry(make(parts[here], indices=group)).reset_index(drop=True)
    return layers


def works_of(table: pd.DataFrame, layers: Mapping[str, gpd.GeoDataFrame], crs: CRS) -> gpd.GeoDataFrame:
    """Return the works of a table, with their shapes from the layers that ``works_layers`` made of them.

    Parameters
    ----------
    table
        ``works.csv``.
    layers
        By name; other layers are ignored.
    crs
        That of the layers.
    """
    parts = [layers[name][["works_id", "geometry"]] for name in (_AREAS, _LINES) if name in layers]
    each = pd.concat(parts, ignore_index=True)
    number = table["works_id"].reset_index(drop=True)
    # areas come first in both
    at = each["works_id"].map(pd.Series(number.index, number)).to_numpy()
    order = np.argsort(at, kind="stable")
    pieces, of = shapely.get_parts(each.geometry.to_numpy()[order], return_index=True)
    shapes = shapely.geometrycollections(pieces, indices=at[order][of])
    return gpd.GeoDataFrame(table, geometry=shapes, crs=crs)
