"""Cells put together: rows of lines and places of cores as the whole layer and the whole register number them."""

import geopandas as gpd
import numpy as np
import pandas as pd
import shapely

from pipeline.locate.joined import Cell, errors_of, joined, one_row_per_core
from pipeline.locate.learning.masses import WIDTHS_M
from pipeline.locate.learnt_errors import Learning
from pipeline.locate.lines import lines_of
from pipeline.locate.weighing import Weighed


def _lines():
    """Four streets, 100 m apart."""
    return gpd.GeoDataFrame(
        {
            "segment_id": pd.Series(list("ABCD"), dtype="str"),
            "street": pd.Series(["Ash", "Birch", "Cedar", "Date"], dtype="str"),
            "start_m": 0.0,
        },
        geometry=[shapely.LineString([(0, y), (500, y)]) for y in (0, 100, 200, 300)],
        crs=32617,
    )


def _found(own, second, shares=(), widths=None):
    """Own lines as core, line, metres; runners-up as core, line, confidence; shares as core, line, share; in the cell."""
    cores, line, metres = zip(*own, strict=True)
    own = pd.DataFrame(
        {
            "line": line, "distance": metres, "confidence": 0.75, "name_match": 1.0, "chainage_m": 40.0,
            "side": pd.Series(["left"] * len(line), dtype="str").to_numpy(),
        },
        index=list(cores),
    )  # fmt: skip
    runners_up = pd.DataFrame(second, columns=["core", "line", "confidence"]).set_index("core")
    table = pd.DataFrame(list(shares), columns=["core", "segment", "share"])
    return Weighed(own, runners_up, table, table, widths)


def _cells():
    """Cores 4 and 0 with the lines C and D, core 2 with A and B; 1 has no position, 3 no line within reach."""
    south = Cell(np.array([2, 3]), np.array([0, 1]), _found([(0, 1, 5.0)], [], [(0, 1, 1.0)]))
    north = Cell(
        np.array([4, 0]),
        np.array([2, 3]),
        _found([(0, 0, 3.0), (1, 1, 4.0)], [(1, 0, 0.25)], [(0, 0, 1.0), (1, 1, 0.75), (1, 0, 0.25)]),
    )
    return [north, south]


def test_each_core_has_its_own_line_runner_up_or_nearest_of_the_whole_layer():
    segments = _lines()
    cores = pd.DataFrame({"x_m": [9.0, np.nan, 9.0, 9.0, 9.0], "y_m": [304.0, np.nan, 105.0, 460.0, 203.0]})
    found = one_row_per_core(_cells(), np.array([0, 2, 3, 4]), cores, segments, lines_of(segments, are_weighed=False))
    assert found["segment"].tolist() == [3, -1, 1, -1, 2]
    assert found["segment_id"].fillna("").tolist() == ["D", "", "B", "", "C"]
    assert found["street_matched"].fillna("").tolist() == ["Date", "", "Birch", "", "Cedar"]
    assert found["offset_m"].fillna(-1).tolist() == [4, -1, 5, -1, 3]
    assert found["runner_up_id"].fillna("").tolist() == ["C", "", "", "", ""]
    assert found["runner_up_street"].fillna("").tolist() == ["Cedar", "", "", "", ""]
    assert found["runner_up_confidence"].fillna(-1).tolist() == [0.25, -1, -1, -1, -1]
    # 460 m north, and D runs at 300 m
    assert found["nearest_id"].fillna("").tolist() == ["", "", "", "D", ""]
    assert found["nearest_m"].fillna(-1).tolist() == [-1, -1, -1, 160, -1]


def test_shares_name_cores_and_lines_as_the_whole_does_and_are_in_the_order_of_the_cores():
    shares = joined(_cells(), "shares")
    assert shares.index.tolist() == [0, 1, 2, 3]
    assert list(shares.itertuples(index=False, name=None)) == [(0, 3, 0.75), (0, 2, 0.25), (2, 1, 1.0), (4, 2, 1.0)]


def test_learnt_errors_are_those_of_the_cores_and_the_last_is_that_of_a_lost_one():
    widths = np.zeros((2, len(WIDTHS_M) + 1))
    widths[0, -1], widths[1, 0] = 1.0, 1.0
    cell = Cell(np.array([4, 0]), None, _found([(0, 0, 3.0)], [], widths=widths))
    learnt = errors_of([cell], 5, Learning([], 80.0))
    assert learnt.is_learnt.tolist() == [True, False, False, False, True]
    assert learnt.sigma_m.tolist() == [WIDTHS_M[0], 0, 0, 0, 80]
