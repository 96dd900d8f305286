"""Registers that teach nothing, or less than they seem to: each keeps the default or learns, and none ends the audit.

---+---+---  y = 200     North Road, South Road, and two lanes across
---+---+---  y = 0
"""

import geopandas as gpd
import numpy as np
import pandas as pd
import pytest
import shapely

from pipeline.locate import locate
from pipeline.programme.catalogue import load_catalogue
from pipeline.programme.settings import Matching

_CATALOGUE = load_catalogue({}, "test")
_N = 160
_NAMES = ("South Road", "North Road", "West Lane", "East Lane")
_LINES = ([(0, 0), (900, 0)], [(0, 200), (900, 200)], [(300, 0), (300, 200)], [(600, 0), (600, 200)])


def _streets():
    return gpd.GeoDataFrame(
        {
            "segment_id": pd.Series(list("SNWE"), dtype="str"),
            "street": pd.Series(_NAMES, dtype="str"),
            "surface": pd.Series(["asphalt"] * 4, dtype="str"),
            "half_width_m": [4.0] * 4,
            "is_underground": [False] * 4,
            "start_m": 0.0,
            "class_name": "other",
            "road_authority": pd.Series([None] * 4, dtype="str"),
            "slope_percent": float("nan"),
        },
        geometry=[shapely.LineString(line) for line in _LINES],
        crs=32617,
    )


def _cores(**columns):
    """Return cores of both roads with small errors, some columns replaced."""
    rng = np.random.default_rng(1)
    on = np.arange(_N) % 2
    sound = {
        "x_m": rng.uniform(50, 850, _N),
        "y_m": 200.0 * on + rng.normal(0, 0.3, _N),
        "street": [_NAMES[road] for road in on],
        "crew": ["A"] * _N,
        "contractor": ["C"] * _N,
        "register": ["day book"] * _N,
        "position_accuracy_m": np.full(_N, np.nan),
    } | columns
    texts = {name: pd.Series(sound.pop(name), dtype="str") for name in ("street", "crew", "contractor", "register")}
    return pd.DataFrame(
        sound
        | texts
        | {
            "position_method": pd.Series([None] * _N, dtype="str"),
            "accuracy_by_register_m": np.full(_N, np.nan),
            "rounding_sigma_m": np.full(_N, np.nan),
            "opened_on": pd.Series(pd.NaT, range(_N), dtype="datetime64[us, UTC]"),
            "surface_recorded": pd.Series([None] * _N, dtype="str"),
        }
    )


_NOTHING = [None] * _N


def test_roads_without_width_and_class_teach_nothing():
    """3.5 m is half of what roads of no known class are taken to have."""
    found = locate(_cores(), _streets().assign(half_width_m=3.5), None, None, Matching(), _CATALOGUE)
    assert [outcome.reason for outcome in found.reasons.learning] == ["widths"]
    assert found.reasons.errors["accuracy_from"].eq("default").all()
    classed = _streets().assign(half_width_m=3.5, class_name="local")
    found = locate(_cores(), classed, None, None, Matching(), _CATALOGUE)
    assert [outcome.reason for outcome in found.reasons.learning] == ["learnt"]


@pytest.mark.parametrize(
    ("columns", "reasons"),
    [
        pytest.param({"x_m": np.full(_N, 50.0), "y_m": np.zeros(_N)}, ["equal"], id="all at one point"),
        pytest.param({"y_m": np.zeros(_N)}, ["snapped"], id="all on one line"),
        pytest.param(
            {"x_m": np.linspace(50, 250, _N), "y_m": np.linspace(-1, 1, _N)}, ["no better"], id="all on one street"
        ),
        pytest.param({"y_m": np.tile([9.0, -9.0], _N // 2) + np.linspace(0, 3, _N)}, ["beside"], id="all in gardens"),
        pytest.param({"y_m": np.full(_N, 10_000.0)}, [], id="all far off the streets"),
        pytest.param({"x_m": np.full(_N, np.nan), "y_m": np.full(_N, np.nan)}, [], id="without positions"),
    ],
)
def test_a_register_that_teaches_nothing_keeps_the_default(columns, reasons):
    found = locate(_cores(**columns), _streets(), None, None, Matching(), _CATALOGUE)
    assert [outcome.reason for outcome in found.reasons.learning] == reasons
    errors = found.reasons.errors
    assert errors["accuracy_from"].eq("default").all()
    assert errors["learnt_by"].isna().all()
    assert set(errors["not_learnt"].dropna()) == set(reasons)


@pytest.mark.parametrize(
    "columns",
    [
        pytest.param({"street": _NOTHING}, id="no names"),
        pytest.param({"street": ["Nowhere Street"] * _N}, id="wrong names"),
        pytest.param({"crew": _NOTHING, "contractor": _NOTHING}, id="no crews"),
        pytest.param({"crew": [str(number) for number in range(_N)]}, id="each core of its own crew"),
    ],
)
def test_names_and_crews_may_be_missing_or_wrong(columns):
    found = locate(_cores(**columns), _streets(), None, None, Matching(), _CATALOGUE)
    (outcome,) = found.reasons.learning
    assert (outcome.reason, outcome.key) in {("learnt", ""), ("no better", "")}
    assert found.frame["segment_id"].notna().all()
    assert found.frame["segment_confidence"].between(0, 1).all()


def test_of_two_registers_only_the_one_without_accuracies_is_learnt_from():
    register = np.where(np.arange(_N) < 80, "stated", "silent")
    stated = np.where(np.arange(_N) < 80, 1.0, np.nan)
    cores = _cores(register=register, position_accuracy_m=stated)
    found = locate(cores, _streets(), None, None, Matching(), _CATALOGUE)
    assert [outcome.register for outcome in found.reasons.learning] == ["silent"]
    errors = found.reasons.errors
    assert errors["accuracy_from"][:80].eq("core").all()
    assert errors[["learnt_by", "not_learnt"]][:80].isna().all(axis=None)
    assert errors[["learnt_by", "not_learnt"]][80:].notna().sum(axis=1).eq(1).all()
