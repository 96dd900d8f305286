"""The register of two crews: made again byte for byte, and audited with the errors learnt from it."""

import re
import subprocess
import sys
from pathlib import Path

import numpy as np
import pandas as pd
import pyproj
import pytest

from pipeline.clock import Clock
from pipeline.publish.report.report import draw_report
from pipeline.run import STAGES, prepare, run_programme

_DATA = Path(__file__).parents[2] / "sample_data" / "two_crews"
_CREWS = ("Crew North", "Crew South")


def test_the_script_makes_the_register_byte_for_byte(tmp_path):
    done = subprocess.run(
        [sys.executable, _DATA / "make_cores.py", tmp_path], check=True, capture_output=True, text=True
    )
    made = {file.name for file in tmp_path.iterdir()}
    assert made == {"cores.csv", "truth.csv"}
    for name in made:
        assert (tmp_path / name).read_bytes() == (_DATA / name).read_bytes(), name
    assert done.stdout.startswith("400 cores -> ")


@pytest.fixture(scope="module")
def truth():
    return pd.read_csv(_DATA / "truth.csv")


@pytest.fixture(scope="module")
def by_default(tmp_path_factory):
    """The cores put in their places with the default error for every one."""
    folder = tmp_path_factory.mktemp("by_default")
    # the layers lie beside the sample's folder
    text = (_DATA / "programme.toml").read_text("utf-8").replace('"../', f'"{_DATA.parent}/')
    (folder / "cores.csv").write_bytes((_DATA / "cores.csv").read_bytes())
    (folder / "programme.toml").write_text(text + "\n[matching]\nlearn = false\n", "utf-8")
    ready = prepare(folder / "programme.toml", Clock(None, STAGES))
    return ready.cores.join(ready.located, validate="one_to_one")


@pytest.fixture(scope="module")
def learnt():
    """Audited as the sample's programme says."""
    return run_programme(_DATA / "programme.toml", None)


def test_the_crews_errors_are_those_that_the_sample_says(truth):
    register = pd.read_csv(_DATA / "cores.csv")
    assert register["id"].tolist() == truth["id"].tolist()
    # 95 % of 200 are 190: three standard deviations of a binomial count are 9
    error = pyproj.Geod(ellps="WGS84").inv(register["lon"], register["lat"], truth["lon"], truth["lat"])[2]
    for crew, radius_m in zip(_CREWS, (0.3, 12.0), strict=True):
        within = (np.array(error)[register["crew"].eq(crew)] <= radius_m).sum()
        assert abs(within - 190) <= 9, crew


def test_both_crews_have_an_error_of_their_own_and_no_core_rests_on_the_default(learnt):
    (outcome,) = learnt.reasons.learning
    assert (outcome.is_accepted, outcome.reason, outcome.key) == (True, "learnt", "crew")
    assert sorted(outcome.batches) == list(_CREWS)
    assert learnt.reasons.errors["accuracy_from"].eq("learnt").all()
    assert learnt.reasons.errors["learnt_by"].eq("crew").all()
    # nobody's positions lie off the streets by a common shift
    assert outcome.reading.says == "nothing"


def test_the_better_crew_is_learnt_to_be_the_better_one(learnt):
    sigma = learnt.reasons.errors["sigma_m"].groupby(learnt.cores["crew"]).median()
    # 5 m at 95 % are 2.04 m along one axis
    assert sigma["Crew North"] < 2.04 < sigma["Crew South"]


def test_learnt_confidences_are_better_by_the_truth(by_default, learnt, truth):
    right, brier = {}, {}
    for name, cores in (("default", by_default), ("learnt", learnt.cores)):
        is_right = cores["segment_id"].to_numpy() == truth["segment"].to_numpy()
        confidence = cores["segment_confidence"].fillna(0).to_numpy(dtype=float)
        right[name], brier[name] = int(is_right.sum()), float(((confidence - is_right) ** 2).mean())
    # the figures of the sample's README
    assert right == {"default": 386, "learnt": 389}
    assert round(brier["default"], 3) == 0.028
    assert round(brier["learnt"], 3) == 0.020


def test_a_crew_with_exact_positions_is_surer_and_one_with_a_phone_less_sure(by_default, learnt):
    before, after = (cores.groupby("crew")["segment_confidence"].mean() for cores in (by_default, learnt.cores))
    assert after["Crew North"] > before["Crew North"]
    assert after["Crew South"] < before["Crew South"]


def test_the_report_names_both_crews_with_what_learning_changed(learnt):
    page = draw_report(learnt)
    assert "Position errors: learnt from the register for 400 cores." in page
    (table,) = re.findall(r'(?s)id="learnt-errors-table".*?</table>', page)
    for crew in _CREWS:
        assert crew in table
