"""Sheets that came back: numbers as crews write them."""

import pytest

from pipeline.intake.returns import read_returns
from pipeline.programme.returns import Returns


def _read(folder, head, *cells):
    lines = ["core_id;" + head, *(f"HV-{number};{cell}" for number, cell in enumerate(cells))]
    (folder / "back.csv").write_text("\n".join(lines) + "\n", encoding="utf-8")
    return read_returns(Returns(path=["back.csv"]), folder, "America/Toronto", day_first=None)


@pytest.mark.parametrize(
    ("head", "cell", "column", "value"),
    [
        ("water_used_l", "2 L", "water_l", 2.0),
        ("water_used_l", "1,5", "water_l", 1.5),
        ("water_used_gal", "0.5", "water_l", 1.892706),
        ("water_used_gal", "2 L", "water_l", 2.0),
        ("air_temperature_c", "8 °C", "air_temperature_c", 8.0),
        ("air_temperature_c", "50 F", "air_temperature_c", 10.0),
        ("flush_mm", "-3 mm", "flush_mm", -3.0),
        ("flush_in", "1/8", "flush_mm", 3.175),
        ("diameter_found_mm", "18 in", "diameter_mm", 457.2),
        ("bags_used", "1 bag", "bags_used", 1.0),
        ("bags_used", "1/2", "bags_used", 0.5),
    ],
)
def test_a_unit_in_the_cell_takes_precedence_over_that_of_the_head(tmp_path, head, cell, column, value):
    returned = _read(tmp_path, head, cell)
    assert returned.problems.empty
    assert returned.frame[column].iloc[0] == pytest.approx(value, abs=1e-6)


def test_what_cannot_be_read_says_why_and_the_other_rows_are_kept(tmp_path):
    returned = _read(tmp_path, "water_used_l", "some", "0.5 gal", "500", "2")
    assert returned.problems["why"].tolist() == [
        "not a number", "a gallon may be a US or an imperial gallon", "out of range: expected 0 to 200 L",
    ]  # fmt: skip
    assert returned.frame["water_l"].notna().tolist() == [False, False, False, True]
