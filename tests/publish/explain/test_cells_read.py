"""What was read: each cell as written beside what was understood, problems, repairs, corrections, and what is not there."""

import pandas as pd

from pipeline.publish.explain.cells_read import cells_read
from tests.publish.explain.rows import SHOW, row, texts

_HEADERS = {"core_id": "id", "diameter_mm": "dia", "depth_mm": "deep", "street": "road", "x": "lon", "y": "lat"}


def _said(headers=_HEADERS, others=None, corrections=(), **changes):
    one = row(corrections=corrections, x_text="-82.2", y_text="44.8", **changes)
    return texts(cells_read(one, headers, {"diameter_mm": "mm", "depth_mm": "in"}, others or {}, SHOW))


def _line(said, label):
    at = said.index(label)
    return said[at + 1 : at + 5]


def test_a_number_is_shown_as_written_and_in_the_audits_unit():
    said = _said(diameter_mm_text="18 in", diameter_mm=457.2, depth_mm_text="8", depth_mm=203.2)
    assert _line(said, "Diameter") == ["dia", "“18 in”", "457.2 mm", ""]
    # a number alone is in the unit of the settings
    assert _line(said, "Depth") == ["deep", "“8”", "203.2 mm", "unit of a bare number: in"]
    assert _line(said, "Core id") == ["id", "“HV-7”", "“HV-7”", ""]


def test_a_cell_that_was_not_read_says_why():
    said = _said(diameter_mm_text="wide", diameter_mm=None, diameter_mm_problem="no number")
    assert _line(said, "Diameter") == ["dia", "“wide”", "not understood", "no number"]


def test_a_date_has_its_time_of_day_and_zone():
    opened = pd.Timestamp("2026-05-30 09:03", tz="America/Toronto")
    said = _said({**_HEADERS, "opened_on": "cut"}, opened_on=opened, opened_on_text="30/5/26 9:03")
    assert _line(said, "Opened") == ["cut", "“30/5/26 9:03”", "30 May 2026, 09:03 (UTC-04:00)", ""]


def test_the_position_has_both_cells_and_how_it_was_repaired():
    said = _said(position_repair="axes swapped")
    assert _line(said, "Position") == [
        "lon and lat", "“-82.2” and “44.8”", "longitude -82.2000000°, latitude 44.8000000°", "axes swapped",
    ]  # fmt: skip
    said = _said(lon=None, lat=None, position_problem="zero")
    assert _line(said, "Position")[2:] == ["no usable position", "zero"]


def test_empty_cells_and_columns_that_are_not_kept_are_named_apart():
    said = _said(diameter_mm_text="450", diameter_mm=450.0, depth_mm=None)
    assert "Empty cells: Depth and Street recorded." in said
    assert next(text for text in said if text.startswith("The register has no column for: Position accuracy, "))


def test_cells_that_the_audit_did_not_use_are_kept_and_quoted():
    said = _said(others={"cost": "<b>12</b>"})
    assert said[-2:] == ["cost", "“<b>12</b>”"]


def test_fields_that_do_not_fit_the_header_are_reported():
    assert "The fields of this row do not fit the header: two fields too many." in _said(ragged="two fields too many")


def test_a_correction_shows_the_cell_it_replaces_who_and_why():
    one = {
        "row": 7, "column": "dia", "original": "45", "corrected": "450", "decided_by": "J. Doe", "decided_on": "2026-09-01",
        "reason": "a slip", "standing": "holds", "file": "decisions.csv", "line": 3,
    }  # fmt: skip
    said = _said(corrections=[one], diameter_mm_text="450", diameter_mm=450.0)
    assert _line(said, "Diameter") == ["dia", "“45”", "450 mm", "corrected by a decision: see below"]
    at = said.index("“450”") - 2
    assert said[at : at + 6] == [
        "dia", "“45”", "“450”", "J. Doe, on 2026-09-01, until none: a slip", "holds", "decisions.csv, line 3",
    ]  # fmt: skip
