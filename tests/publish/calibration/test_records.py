"""The outputs of a calibration: its records as a table, and its values as text for the programme file."""

import datetime as dt
import tomllib
from dataclasses import replace

import pandas as pd
import pytest

from pipeline.calibrate import calibrate
from pipeline.calibrate.model import Estimate
from pipeline.publish.calibration.records import catalogue_snippet, publish_calibration
from tests.calibrate.made_records import CATALOGUE, records

_AS_OF = dt.date(2026, 9, 30)


@pytest.fixture(scope="module")
def found():
    return calibrate(records(60), CATALOGUE)


def _geometry(calibration):
    return tomllib.loads(catalogue_snippet(calibration, _AS_OF))["catalogue"]["materials"]["geometry"]


def test_the_text_is_valid_and_states_value_range_and_source(found):
    geometry = _geometry(found)
    assert set(geometry) == {"kerf", "gap", "bed_fill", "pilot_hole"}
    for table in geometry.values():
        assert set(table) == {"value", "low", "high", "source"}
        assert "calibrated from 60 records of use, as of 2026-09-30" in table["source"]


def test_the_interval_is_rounded_outwards_to_a_hundredth_of_a_millimetre(found):
    changed = replace(found, kerf=Estimate(8.784, 8.412, 9.141, 9.0, 5.0, 10.0))
    kerf = _geometry(changed)["kerf"]
    assert (kerf["value"], kerf["low"], kerf["high"]) == ("8.78 mm", "8.41 mm", "9.15 mm")


def test_what_is_included_in_the_fit_varies_no_more(found):
    geometry = _geometry(found)
    assert [geometry["bed_fill"][key] for key in ("value", "low", "high")] == ["0 %"] * 3
    assert [geometry["pilot_hole"][key] for key in ("value", "low", "high")] == ["38.1 mm"] * 3


def test_outliers_are_not_counted_in_the_source(found):
    table = found.records.assign(is_outlier=[True] * 59 + [False])
    assert "calibrated from 1 record of use" in _geometry(replace(found, records=table))["kerf"]["source"]


def test_the_table_has_the_rows_used_with_their_ids(found, tmp_path):
    cores = pd.DataFrame({"row": range(1, 101), "core_id": [f"C-{row}" for row in range(1, 101)], "water_l": 2.0})
    assert publish_calibration(found, cores, tmp_path / "new") == tmp_path / "new"
    table = pd.read_csv(tmp_path / "new" / "calibration.csv")
    assert table["row"].tolist() == list(range(1, 61))
    assert table.columns.tolist() == [
        "row", "core_id", "hole_mm", "depth_mm", "bags_used", "water_l", "grout_used_l", "from_l", "to_l", "fitted_l",
        "residual_l", "is_outlier",
    ]  # fmt: skip
    middle = (table["from_l"] + table["to_l"]) / 2
    assert (middle - table["fitted_l"]).tolist() == pytest.approx(table["residual_l"].tolist(), abs=2e-6)


def test_the_same_calibration_gives_the_same_bytes(found, tmp_path):
    cores = pd.DataFrame({"row": range(1, 61), "core_id": "C", "water_l": 2.0})
    for name in ("a", "b"):
        publish_calibration(found, cores, tmp_path / name)
    for name in ("calibration.csv", "calibration.svg"):
        assert (tmp_path / "a" / name).read_bytes() == (tmp_path / "b" / name).read_bytes()
