"""A run that writes only some outputs: what is there, what says so, and what no longer leads nowhere."""

import json
import re

import pytest

from pipeline.errors import InputError, SettingsError
from pipeline.programme.outputs import OUTPUTS
from pipeline.readback.basis import read_basis
from pipeline.readback.runs import read_run
from pipeline.run import run_programme
from tests.small_town import write_town

REST = ("cores.csv", "cores.parquet", "findings.csv", "plan.csv", "orders.csv", "run.json", "report.html")


@pytest.fixture(scope="module")
def lean(tmp_path_factory):
    """The folder of a run with every output, made again with the report alone."""
    folder = tmp_path_factory.mktemp("lean")
    path = write_town(folder)
    first = run_programme(path, folder / "out").folder
    assert all((first / name).exists() for name in OUTPUTS)
    with path.open("a") as file:
        file.write('\n[publish]\noutputs = ["report.html"]\n')
    return run_programme(path, folder / "out").folder


def test_outputs_of_the_run_before_do_not_stay_beside_the_new_tables(lean):
    there = {file.name for file in lean.iterdir()}
    assert {*REST} <= there
    assert not there & {"crew-sheets.html", "days", "orders.xlsx", "cores.gpkg", "map.html", "handover", "basis"}
    assert "handover.zip" not in there


def test_report_and_record_say_what_was_not_asked_for(lean):
    left_out = ["crew-sheets.html", "days", "orders.xlsx", "cores.gpkg", "map.html", "handover", "basis"]
    assert json.loads((lean / "run.json").read_text())["not_asked_for"] == left_out
    said = re.search(r"<p>These outputs were not asked for in \[publish\].*?</p>", (lean / "report.html").read_text())
    assert re.findall("<code>(.*?)</code>", said[0]) == left_out


def test_the_report_leads_to_no_file_that_is_not_there(lean):
    page = (lean / "report.html").read_text()
    assert "map.html#" not in page
    assert page.count("orders.xlsx") == 1  # in the list of what was not asked for


def test_the_command_that_needs_the_basis_says_how_to_get_it(lean):
    with pytest.raises(InputError, match=r"has no basis/.*Add 'basis' to outputs in \[publish\]"):
        read_basis(read_run(lean), [1])


def test_a_pdf_of_pages_that_are_not_asked_for_is_refused(tmp_path):
    path = write_town(tmp_path, '[publish]\noutputs = ["map.html"]\n')
    with pytest.raises(SettingsError, match=r"publish\.outputs: found neither report\.html nor crew-sheets\.html"):
        run_programme(path, tmp_path / "out", pdf="A4")
