"""However a register is sorted, the same is learnt from it, and each core gets the same segment and confidence."""

import importlib

import geopandas as gpd
import numpy as np
import pandas as pd
import pytest
import shapely

from pipeline.locate import candidates, changed, locate
from pipeline.locate.core_order import along_a_curve
from pipeline.locate.learning import sample
from pipeline.programme.catalogue import load_catalogue
from pipeline.programme.settings import Matching
from tests.locate.learning.grid_town import draw, streets

_CATALOGUE = load_catalogue({}, "test")
# the package has a function of the same name
_LEARN = importlib.import_module("pipeline.locate.learning.learn")


def _segments():
    lines = streets()
    names = pd.Series([f"Street {number}" for number in range(len(lines))], dtype="str")
    return gpd.GeoDataFrame(
        {
            "segment_id": names, "street": names, "surface": pd.Series(["asphalt"] * len(lines), dtype="str"),
            "half_width_m": 4.0, "is_underground": False, "start_m": 0.0, "class_name": "other",
            "road_authority": pd.Series([None] * len(lines), dtype="str"), "slope_percent": float("nan"),
        },
        geometry=lines, crs=32617,
    )  # fmt: skip


def _cores(crew, **drawn):
    cores = draw(streets(), len(crew), **drawn)
    # every sixteenth core at the position of the one before, with its own name and crew
    twin = np.arange(15, len(crew), 16)
    cores.x[twin], cores.y[twin] = cores.x[twin - 1], cores.y[twin - 1]
    nothing = pd.Series([None] * len(crew), dtype="str")
    return pd.DataFrame(
        {
            "x_m": cores.x, "y_m": cores.y, "street": pd.Series([f"Street {at}" for at in cores.street], dtype="str"),
            "crew": pd.Series(crew, dtype="str"), "contractor": nothing, "register": pd.Series(["day book"] * len(crew), dtype="str"),
            "position_accuracy_m": np.nan, "position_method": nothing, "accuracy_by_register_m": np.nan,
            "rounding_sigma_m": np.nan, "surface_recorded": nothing,
            "opened_on": pd.Series(pd.NaT, range(len(crew)), dtype="datetime64[us, UTC]"),
        }
    )  # fmt: skip


@pytest.mark.parametrize("shift", [(0.0, 0.0), (2.0, 1.0)])
def test_the_order_of_the_register_changes_nothing_that_is_learnt(monkeypatch, shift):
    """Two crews, and more cores than are learnt from or compared: which ones are taken does not depend on the order."""
    monkeypatch.setattr(sample, "_MOST_OF_REGISTER", 400)
    monkeypatch.setattr(changed, "_MOST", 100)
    crew = np.where(np.arange(640) % 2 == 0, "A", "B")
    cores = _cores(crew, sigma=np.where(crew == "A", 0.2, 4.0), seed=1, shift=shift)
    segments = _segments()
    order = np.random.default_rng(2).permutation(len(cores))
    found, mixed = (locate(each, segments, None, None, Matching(), _CATALOGUE) for each in (cores, cores.iloc[order]))
    (own,), (other,) = found.reasons.learning, mixed.reasons.learning
    assert own.is_accepted
    assert (own.key, list(own.batches), own.reading.says) == (other.key, list(other.batches), other.reading.says)
    assert own.gain == other.gain
    assert own.mixture.widths.tolist() == other.mixture.widths.tolist()
    pd.testing.assert_frame_equal(own.reliability, other.reliability)
    pd.testing.assert_frame_equal(found.frame, mixed.frame.loc[cores.index])
    pd.testing.assert_frame_equal(found.reasons.changed, mixed.reasons.changed.sort_index())


def test_cores_at_one_position_come_in_the_order_of_what_they_say():
    crew = np.array(["B", "A", None, "A"], dtype=object)
    cores = pd.DataFrame(
        {"x_m": [1.0, 1.0, np.nan, 5.0], "y_m": [2.0, 2.0, 2.0, 2.0], "crew": pd.Series(crew, dtype="str")}
    )
    assert [at for at in along_a_curve(cores) if at != 3] == [1, 0]
    assert sorted(along_a_curve(cores)) == [0, 1, 3]


def test_without_positions_there_is_no_order():
    assert along_a_curve(pd.DataFrame({"x_m": [np.nan], "y_m": [1.0]})).tolist() == []


def test_what_is_worked_on_is_told_with_how_much_of_it_is_done(monkeypatch):
    """Pairs 50 at a time; whatever is counted ends with all of it done."""
    monkeypatch.setattr(_LEARN, "_AT_A_TIME", 50)
    monkeypatch.setattr(candidates, "_CHUNK", 100)
    cores, told = _cores(np.full(240, "A"), sigma=0.2, seed=1), []
    plots = gpd.GeoDataFrame(
        {"surface": pd.Series(["concrete", "asphalt"], dtype="str"), "district": pd.Series(["East", "West"], dtype="str")},
        geometry=[shapely.box(0, 0, 500, 300), shapely.box(-100, -100, 900, 900)], crs=32617,
    )  # fmt: skip
    locate(cores, _segments(), plots, plots, Matching(), _CATALOGUE, told=lambda *update: told.append(update))
    names = list(dict.fromkeys(text for text, *_ in told))
    assert names == [
        "how far to look", "segments", "errors of positions", "likeliest segments", "surfaces",
        "surfaces around the cores", "overlaps of surfaces", "areas within the errors", "likeliest surfaces",
        "what learning changed", "districts", "works on the roads",
    ]  # fmt: skip
    counts = {}
    for text, done, total, unit in (update for update in told if len(update) > 1):
        counts.setdefault((text, total, unit), []).append(done)
    assert all(done == sorted(done) and done[0] == 0 and done[-1] == total for (_, total, _), done in counts.items())
    assert counts["segments", 240, "cores"] == [0, 100, 200, 240]
    assert len(counts["likeliest segments", 240, "cores"]) > 3
