"""What was found cell by cell, put together: one row per core, and the tables of candidates, by the places of cores."""

from typing import NamedTuple

import geopandas as gpd
import numpy as np
import numpy.typing as npt
import pandas as pd
import shapely

from pipeline.locate.candidates import nearest_shape
from pipeline.locate.learning.masses import WIDTHS_M
from pipeline.locate.learnt_errors import Learning, LearntErrors
from pipeline.locate.lines import Lines
from pipeline.locate.weighing import Weighed

__all__ = ["Cell", "errors_of", "joined", "one_row_per_core"]

Places = npt.NDArray[np.intp]


class Cell(NamedTuple):
    """The work on one cell: the places of its cores in the register, the rows of its lines, and what was found."""

    cores: Places
    rows: Places | None
    found: Weighed

    def lines(self, numbers: pd.Series) -> Places:
        """Return the rows of lines that are numbered within the cell."""
        found = numbers.to_numpy(dtype=np.intp)
        return found if self.rows is None else self.rows[found]


def joined(made: list[Cell], name: str) -> pd.DataFrame:
    """Return a table of all cells by the places of the cores in the register, in their order."""
    tables = [
        table.assign(core=cell.cores[table["core"].to_numpy()], segment=cell.lines(table["segment"]))
        for cell in made
        for table in [getattr(cell.found, name)]
    ]
    table: pd.DataFrame = pd.concat(tables).sort_values("core", kind="stable", ignore_index=True)
    return table


def errors_of(made: list[Cell], count: int, learning: Learning) -> LearntErrors:
    """Return the errors of ``count`` cores; of those without a position nothing is learnt."""
    widths = np.zeros((count, len(WIDTHS_M) + 1))
    for cell in made:
        widths[cell.cores] = cell.found.widths
    return LearntErrors(widths, np.append(WIDTHS_M, learning.lost_m), learning.outcomes)


def one_row_per_core(
    made: list[Cell], placed: Places, cores: pd.DataFrame, segments: gpd.GeoDataFrame, lines: Lines
) -> pd.DataFrame:
    """Join three tables on the cores: the segment of each, its runner-up, or else the nearest out of reach.

    ``placed`` are the cores that have a position; the rows of the others are missing.
    """
    own, second = (
        pd.concat(
            [
                table.assign(line=cell.lines(table["line"])).set_axis(cell.cores[table.index])
                for cell in made
                for table in [getattr(cell.found, name)]
            ]
        )
        for name in ("own", "second")
    )
    lost = placed[~np.isin(placed, own.index.to_numpy())]
    points = shapely.points(cores["x_m"].to_numpy()[lost], cores["y_m"].to_numpy()[lost])
    far_line, far_m = nearest_shape(points, lines.tree) if len(lost) else (lost, np.empty(0))
    far = pd.DataFrame({"line": far_line, "distance": far_m}, index=lost)
    own, second, far = (table.reindex(range(len(cores))) for table in (own, second, far))
    # no row of the layer is numbered -1, so a core without a segment gets no name
    segment, runner_up, nearest = (table["line"].fillna(-1).astype(int) for table in (own, second, far))
    ids, streets = (segments[name].reset_index(drop=True) for name in ("segment_id", "street"))
    return pd.DataFrame(
        {
            "segment": segment.to_numpy(),
            "segment_id": ids.reindex(segment).array,
            "street_matched": streets.reindex(segment).array,
            "chainage_m": own["chainage_m"].array,
            "offset_m": own["distance"].array,
            "side": own["side"].array,
            "segment_confidence": own["confidence"].array,
            "name_match": own["name_match"].array,
            "runner_up_id": ids.reindex(runner_up).array,
            "runner_up_street": streets.reindex(runner_up).array,
            "runner_up_confidence": second["confidence"].array,
            "nearest_id": ids.reindex(nearest).array,
            "nearest_m": far["distance"].array,
        }
    )
