"""Which cells of a column are among others: pandas takes texts of Arrow one by one for this, Arrow does not."""

import numpy as np
import numpy.typing as npt
import pandas as pd
import pyarrow as pa
import pyarrow.compute as pc

__all__ = ["is_among"]


def is_among(column: pd.Series, others: pd.Series) -> npt.NDArray[np.bool_]:
    """Return which of N cells are among others; a missing cell is among none."""
    cells, known = (pa.array(cells, from_pandas=True) for cells in (column, others.unique()))
    if isinstance(cells, pa.ChunkedArray):
        cells = cells.combine_chunks()
    if pa.types.is_dictionary(cells.type):
        cells = pc.cast(cells, cells.type.value_type)
    if pa.types.is_null(cells.type) or pa.types.is_null(known.type):
        return np.zeros(len(column), dtype=bool)
    found = pc.is_in(cells, value_set=pc.cast(known, cells.type), skip_nulls=True)
    return np.asarray(found.to_numpy(zero_copy_only=False), dtype=bool)
