"""How crews round, in words and tables."""

from dataclasses import replace

import numpy as np
import pandas as pd
import pytest

from pipeline.calibrate import calibrate
from pipeline.publish.calibration.rounding import list_crews, list_ways, note_spread
from pipeline.publish.words import words_of
from tests.calibrate.made_records import CATALOGUE, records

_WORDS = words_of("en")
_LAST = ["use against the fit", "in the fit"]


@pytest.fixture(scope="module")
def found():
    return calibrate(records(40), CATALOGUE)


def _crews(**columns):
    """Two crews: one on a scale, one as given."""
    ann = {"records": 60, "step_bags": 0.25, "habit": "", "known_from": "", "lead": 0.3, "against": False}
    ann["beside_fit"] = np.nan
    tom = {"records": 40, "step_bags": 0.1, "habit": "nearest", "known_from": "scale", "lead": np.nan, "against": False}
    tom["beside_fit"] = 0.012
    return pd.DataFrame([tom | {"is_used": True}, ann | {"is_used": False} | columns], index=["Tom", "Ann"])


@pytest.mark.parametrize(
    ("columns", "cells"),
    [
        ({}, ["60", "0.25", "cannot be told", "–", "0.3", "", "no"]),
        (
            {"habit": "up", "known_from": "found", "lead": 8.04, "beside_fit": -0.04, "is_used": True},
            ["60", "0.25", "up", "its records", "8.0", "−4%", "yes"],
        ),
        ({"habit": "down", "known_from": "stated"}, ["60", "0.25", "down", "--rounded", "0.3", "", "no"]),
        (
            {"habit": "up", "known_from": "stated", "against": True},
            ["60", "0.25", "up", "--rounded, which its records contradict", "0.3", "", "no"],
        ),
    ],
)
def test_each_crew_has_its_step_its_habit_and_where_that_is_known_from(found, columns, cells):
    listed = list_crews(replace(found, crews=_crews(**columns)), _WORDS)
    assert listed.headers == ["crew", "records", "step, bags", "rounded", "known from", "lead", *_LAST]
    assert listed.rows[0] == ["Ann", *cells]
    assert listed.rows[1] == ["Tom", "40", "0.1", "to the nearest", "steps as fine as on a scale", "", "+1%", "yes"]
    assert listed.notes[-1].endswith("at least 5 is required.")


def test_crews_that_read_a_scale_have_no_lead_and_very_many_are_counted(found):
    crews = pd.concat([_crews().loc[["Tom"]]] * 14)
    listed = list_crews(replace(found, crews=crews), _WORDS)
    assert "lead" not in listed.headers
    assert len(listed.rows) == 12
    assert listed.notes == ["2 more crews are not shown."]


def test_what_rounding_would_change_is_a_row_per_habit(found):
    listed = list_ways(found, _WORDS)
    assert [row[0] for row in listed.rows] == ["up", "to the nearest", "down"]
    # records in twentieths are read to the nearest, so that row is the fit
    assert listed.rows[1][1] == f"{found.kerf.mm:.1f}"
    assert listed.rows[1][3] == f"{found.bed.mm:.1f}"
    assert listed.rows[1][2].endswith(f" to {found.kerf.high_mm:.1f}")
    assert float(listed.rows[0][3]) < float(listed.rows[1][3]) < float(listed.rows[2][3])


def test_a_crew_that_uses_five_percent_more_than_the_fit_is_to_be_asked(found):
    def notes(share):
        return list_crews(replace(found, crews=_crews(beside_fit=share)), _WORDS).notes

    assert not any("ask it first" in note for note in notes(0.049))
    for share in (0.05, -0.05):
        assert notes(share)[-1].startswith("A crew that uses 5% more or less than the fit cuts wider or narrower")


def test_the_bags_of_each_way_of_rounding_are_beside_those_calibrated(found):
    listed = list_ways(found, _WORDS)
    # half a step of 1/20 bag more or less at every core, and the fit itself
    assert [row[-1] for row in listed.rows] == [
        f"{sign}{share:.0f}%" for sign, share in (("−", 100 * 0.025 / 0.73), ("", 0), ("+", 100 * 0.025 / 0.73))
    ]
    up, nearest, down = (float(row[-2]) for row in listed.rows)
    assert (nearest - up, down - nearest) == (pytest.approx(0.025, abs=0.011), pytest.approx(0.025, abs=0.011))


def test_the_waste_that_is_allowed_for_is_said(found):
    scatter, waste = note_spread(found, _WORDS)
    assert scatter.endswith("of their litres, apart from rounding.")
    assert "allow for it: up to 10% beyond the overfill" in waste


def test_uneven_use_is_said_where_it_shows_with_what_to_do(found):
    *_, uneven = note_spread(replace(found, uneven_share=0.06), _WORDS)
    assert "over all cores this is about 6% of the grout" in uneven
    assert "weigh what is thrown away at about 20 cores" in uneven
