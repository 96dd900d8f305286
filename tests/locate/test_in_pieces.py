"""Segments of cores that are cut into pieces and sent elsewhere: the same as of all at once."""

import geopandas as gpd
import numpy as np
import pandas as pd
import pytest
import shapely

from pipeline.engines import HERE
from pipeline.locate.posterior import Evidence
from pipeline.locate.segments import find_segments
from tests.engines.sent import Sent


def _town():
    """Twelve streets at all angles, in pieces, with other widths; two paths without a name, one below ground.

    The first is far from all cores, so that the lines sent with them are numbered otherwise.
    """
    random = np.random.default_rng(8)
    start = random.uniform(0, 400, (12, 2))
    step = random.uniform(-300, 300, (12, 2))
    start[0] += 9000
    names = [f"Street {at // 2}" if at < 10 else None for at in range(12)]
    return gpd.GeoDataFrame(
        {
            "segment_id": pd.Series([f"S{at // 2}" for at in range(12)], dtype="str"),
            "street": pd.Series(names, dtype="str"),
            "street_form": pd.Series(names, dtype="str").str.lower(),
            "start_m": np.where(np.arange(12) % 2, 70.0, 0.0),
            "half_width_m": random.uniform(2, 9, 12),
            "is_underground": np.arange(12) == 11,
        },
        geometry=[shapely.LineString([one, one + there, one + there[::-1]]) for one, there in zip(start, step)],
        crs=32617,
    ).set_index(np.arange(12) + 40)


def _cores():
    random = np.random.default_rng(9)
    x, y = random.uniform(-50, 450, (2, 80))
    x[[3, 50]] = np.nan
    written = pd.Series([f"street {at % 5}" if at % 3 else None for at in range(80)], dtype="str")
    return pd.DataFrame({"x_m": x, "y_m": y, "sigma_m": random.uniform(1, 9, 80), "street_form": written})


@pytest.mark.parametrize("most", [1, 7, 80])
@pytest.mark.parametrize("evidence", [None, Evidence(0.9, 5, 0.02)])
def test_pieces_give_what_all_at_once_gives(most, evidence):
    cores, reach = _cores(), np.linspace(15, 60, 80)
    found = find_segments(cores, _town(), reach, evidence, engine=Sent(most))
    whole = find_segments(cores, _town(), reach, evidence, engine=HERE)
    assert whole.frame["segment_id"].nunique() == 6
    assert whole.frame["nearest_id"].notna().sum() > 5
    for name in ("frame", "shares", "candidates"):
        pd.testing.assert_frame_equal(getattr(found, name), getattr(whole, name), check_exact=True)
