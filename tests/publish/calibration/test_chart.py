"""The chart of a calibration: a panel for each common diameter, the same in words, and no more than it was given."""

import xml.etree.ElementTree as ET
from dataclasses import replace

import numpy as np
import pandas as pd
import pytest

from pipeline.calibrate import calibrate
from pipeline.publish.calibration.chart import calibration_chart
from tests.calibrate.made_records import CATALOGUE, records

_SVG = "{http://www.w3.org/2000/svg}"


@pytest.fixture(scope="module")
def found():
    both = pd.concat([records(60), records(12, hole=609.6)], ignore_index=True)
    return calibrate(both, CATALOGUE)


def _root(calibration):
    return ET.fromstring(calibration_chart(calibration))  # our own file


def _texts(calibration):
    return [text.text for text in _root(calibration).iter(f"{_SVG}text")]


def test_the_chart_is_well_formed_and_the_same_each_time(found):
    assert calibration_chart(found) == calibration_chart(found)
    root = _root(found)
    assert root.get("role") == "img"
    assert root.get("aria-labelledby") == "title words"


def test_there_is_a_panel_for_each_common_diameter_the_commonest_first(found):
    heads = [text for text in _texts(found) if text.startswith("Hole of")]
    assert heads == ["Hole of 457 mm, 60 records: grout used", "Hole of 610 mm, 12 records: grout used"]


def test_a_diameter_with_few_records_has_no_panel_of_its_own():
    both = pd.concat([records(60), records(4, hole=609.6)], ignore_index=True)
    heads = [text for text in _texts(calibrate(both, CATALOGUE)) if text.startswith("Hole of")]
    assert heads == ["Hole of 457 mm, 60 records: grout used"]


def test_a_single_record_is_counted_in_the_singular():
    heads = [text for text in _texts(calibrate(records(1), CATALOGUE)) if text.startswith("Hole of")]
    assert heads == ["Hole of 457 mm, 1 record: grout used"]


def test_the_description_says_what_the_chart_shows(found):
    words = _root(found).find(f"{_SVG}desc").text
    assert words.startswith("The records are sufficient. 72 records of use, ")
    assert f"a kerf of {found.kerf.mm:.1f} mm ({found.kerf.low_mm:.1f} to {found.kerf.high_mm:.1f})" in words
    assert "Holes of 457 mm: 60 records, 0 outliers excluded, depth 100 to 430 mm" in words


def test_insufficient_records_give_their_reason_instead_of_a_verdict():
    words = _root(calibrate(records(29), CATALOGUE)).find(f"{_SVG}desc").text
    assert words.startswith("Not enough to go by. 29 usable records of use; at least 30 are required.")


def test_insufficient_records_that_give_a_figure_give_it_after_the_verdict():
    # depths within a hand's breadth of each other do not tell kerf from bed
    flat = records(60).assign(depth_mm=300.0)
    words = _root(calibrate(flat, CATALOGUE)).find(f"{_SVG}desc").text
    assert words.startswith("Not enough to go by. Nine in ten depths")
    assert words.index("to tell kerf from bed") < words.index("give a kerf of")


def test_the_chart_itself_says_first_that_the_records_are_insufficient(found):
    verdict = "Not enough to go by. The stated values apply."
    few = _texts(calibrate(records(29), CATALOGUE))
    assert few.index(verdict) < few.index("Hole of 457 mm, 29 records: grout used")
    assert verdict not in _texts(found)


def test_without_records_the_chart_says_so():
    none = calibrate(records(5).assign(is_usable=False), CATALOGUE)
    assert "There are no usable records of use." in _texts(none)


def test_without_a_fit_only_the_stated_line_is_drawn():
    chart = calibration_chart(calibrate(records(10), CATALOGUE))
    assert 'stroke="#0072B2" stroke-width="2.5"/>\n<path d="M' not in chart.split("Hole of")[1]
    assert chart.count('stroke-dasharray="7 4"') == 2  # the legend and the line


def test_each_different_record_is_one_bar():
    twice = pd.concat([records(40), records(40)], ignore_index=True)
    assert calibration_chart(calibrate(twice, CATALOGUE)).count('stroke-linecap="round"') == 40


def test_an_outlier_looks_different(found):
    table = found.records.assign(is_outlier=np.arange(len(found.records)) == 0)
    chart = calibration_chart(replace(found, records=table))
    # the legend and the record
    assert chart.count('stroke="#b1123f"') == 2


def test_every_mark_is_within_the_picture(found):
    root = _root(found)
    width, height = (float(number) for number in root.get("viewBox").split()[2:])
    for text in root.iter(f"{_SVG}text"):
        assert 0 <= float(text.get("x")) <= width
        assert 0 <= float(text.get("y")) <= height
