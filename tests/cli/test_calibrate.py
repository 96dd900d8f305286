"""What the command on calibration prints."""

import datetime as dt
from io import StringIO
from types import SimpleNamespace

import pandas as pd
import pytest
from rich.console import Console

from pipeline.calibrate import calibrate, needs_before_and_after
from pipeline.cli.calibrate import _fit, _rounding, _verdict
from pipeline.commands.calibrate import CalibrationResult
from tests.calibrate.made_records import CATALOGUE, records


def _printed(calibration):
    result = CalibrationResult(
        SimpleNamespace(), dt.date(2026, 9, 30), calibration, needs_before_and_after(calibration), ""
    )
    console = Console(width=100, highlight=False, record=True, file=StringIO())
    _verdict(console, result)
    _fit(console, result)
    _rounding(console, result)
    return " ".join(console.export_text().split())


@pytest.fixture(scope="module")
def printed():
    return _printed(calibrate(records(60), CATALOGUE))


def test_the_records_and_what_is_taken_as_exact_are_said(printed):
    assert printed.startswith(
        "The records are sufficient: the orders use this calibration for the safety stock. "
        "60 records of use, 0 outliers excluded. Taken as exact: overfill 20%, pilot hole 38.1 mm, "
    )
    assert "10.23 L per bag." in printed


def test_the_step_and_the_scatter_are_said(printed):
    assert "no crew named │ 60 │ 0.05 │ to the nearest │ steps as fine as on a scale │ yes" in printed
    assert "% of their litres, apart from rounding." in printed


def test_there_is_a_table_of_values_of_diameters_and_of_bags(printed):
    for cell in (
        "plausible range",
        "5.0 to 10.0",
        "used less fitted, L",
        "depth of an 18 in hole, in",
        "bags calibrated",
    ):
        assert cell in printed


def test_too_few_records_have_no_tables():
    said = _printed(calibrate(records(1), CATALOGUE))
    assert said.startswith("Not enough to go by. The stated values apply; the figures below are for information only.")
    assert said.index("- 1 usable record of use; at least 30") < said.index("1 record of use, 0 outliers excluded.")
    assert "plausible range" not in said


def test_a_diameter_whose_records_are_all_outliers_has_no_residual():
    both = pd.concat([records(60), records(1, hole=609.6).assign(bags_used=9.0, grout_used_l=92.0)], ignore_index=True)
    assert "610" in _printed(calibrate(both, CATALOGUE))
