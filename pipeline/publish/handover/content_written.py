"""What a pack holds, as it would be read back, from what was just written into it."""

from typing import Any

import geopandas as gpd
import pandas as pd
import pyarrow as pa
import pyarrow.compute as pc

from pipeline.publish.handover.drawn import PackContent

__all__ = ["content_of"]


def content_of(
    written: dict[str, pd.DataFrame],
    tables: dict[str, pd.DataFrame],
    facts: dict[str, Any],
) -> PackContent | None:
    """Return what a pack holds; None where a layer could come back from the file other than it was written.

    Parameters
    ----------
    written
        The layers as they are in the GeoPackage.
    tables, facts
        As they were read from its files, and as they were written.
    """
    layers = {name: layer for name, layer in written.items() if isinstance(layer, gpd.GeoDataFrame) and name != "cores"}
    return PackContent(facts, tables, layers) if all(map(_comes_back, layers.values())) else None


def _comes_back(layer: gpd.GeoDataFrame) -> bool:
    """Return whether a layer comes back as it is: a text ends at a NUL there, and heights may be dropped."""
    texts = (pa.array(layer[name], from_pandas=True) for name in layer.select_dtypes(["str", "object", "category"]))
    return not (layer.geometry.has_z.any() or any(map(_has_nul, texts)))


def _has_nul(cells: pa.Array | pa.ChunkedArray) -> bool:
    if pa.types.is_dictionary(cells.type):
        cells = pc.cast(cells, cells.type.value_type)
    is_text = pa.types.is_string(cells.type) or pa.types.is_large_string(cells.type)
    return is_text and bool(pc.any(pc.match_substring(cells, "\0")).as_py())
