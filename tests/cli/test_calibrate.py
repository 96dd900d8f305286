"""What the command on calibration prints."""

import datetime as dt
from io import StringIO
from types import SimpleNamespace

import click
import pandas as pd
import pytest
from rich.console import Console

from pipeline.calibrate import calibrate, needs_before_and_after
from pipeline.cli.calibrate import _fit, _rounding, _stated_ways, _sufficient, _values, _verdict
from pipeline.commands.calibrate import CalibrationResult
from tests.calibrate.made_records import CATALOGUE, records


def _printed(calibration):
    result = CalibrationResult(
        SimpleNamespace(), dt.date(2026, 9, 30), calibration, needs_before_and_after(calibration), ""
    )
    console = Console(width=130, highlight=False, record=True, file=StringIO())
    _verdict(console, result)
    _values(console, result)
    _rounding(console, result)
    _fit(console, result)
    return " ".join(console.export_text().split())


@pytest.fixture(scope="module")
def printed():
    return _printed(calibrate(records(60), CATALOGUE))


def test_the_records_and_what_is_taken_as_exact_are_said(printed):
    assert printed.startswith("The records are sufficient and ")
    assert "60 records of use, 0 outliers excluded. Taken as exact: overfill 20%, pilot hole 38.1 mm, " in printed
    assert "10.23 L per bag." in printed


@pytest.mark.parametrize(
    ("bags", "is_stated", "verb", "ends"),
    [
        (0.50, False, "agree with", "Nothing needs to be changed; the safety stock uses the calibration already."),
        # at one depth of two
        (0.46, False, "differ from", "as well, add the lines at the end to the programme file."),
        (0.50, True, "agree with", "to use this calibration, add the lines at the end to the programme file."),
    ],
)
def test_the_verdict_says_whether_anything_is_to_be_changed(bags, is_stated, verb, ends):
    needs = pd.DataFrame({"depth_in": [6.0, 12.0], "bags_stated": [bags, 0.70], "bags_calibrated": [0.49, 0.71]})
    said = _sufficient(needs.assign(bags_low=[0.47, 0.69], bags_high=[0.51, 0.73]), is_stated=is_stated)
    assert said.startswith(
        f"The records are sufficient and {verb} the stated values: a hole of 18 in, 12 in deep, takes 0.71 bags "
        "(0.69 to 0.73); 0.70 are stated."
    )
    assert said.endswith(ends)


@pytest.mark.parametrize(
    ("values", "ways"),
    [
        ((), None),
        (("up",), {"": "up"}),
        (("Crew A=up", "Crew B=nearest", "down"), {"Crew A": "up", "Crew B": "nearest", "": "down"}),
        # a name may hold the sign
        (("A=B=up",), {"A=B": "up"}),
    ],
)
def test_a_way_of_rounding_is_stated_for_a_crew_or_for_all_others(values, ways):
    assert _stated_ways(None, None, values) == ways


@pytest.mark.parametrize(
    ("values", "found"),
    [
        (("Crew A=above",), 'found "above", expected up, nearest or down'),
        (("A=up", "A=down"), 'found two ways for "A", expected one. Keep the right one.'),
        (("up", "down"), "found two ways for all crews, expected one. Keep the right one."),
    ],
)
def test_a_way_that_is_none_and_two_for_one_crew_are_refused(values, found):
    with pytest.raises(click.BadParameter, match=found):
        _stated_ways(None, None, values)


def test_what_rounding_would_change_is_beside_the_result(printed):
    assert (
        printed.index("plausible range") < printed.index("What rounding would change") < printed.index("bags as stated")
    )


def test_the_step_and_the_scatter_are_said(printed):
    assert "no crew named │ 60 │ 0.05 │ to the nearest │ steps as fine as on a scale │" in printed
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
