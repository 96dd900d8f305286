"""What was understood of the inputs of a programme, also where some cannot be used."""

import hashlib
import shutil
from pathlib import Path

import geopandas as gpd
import pandas as pd
import pytest
import xlsxwriter

from pipeline.commands.check import check_inputs
from pipeline.errors import InputError, SettingsError
from pipeline.intake.layer_facts import LayerFacts
from pipeline.run import run_programme
from tests.small_town import write_town

_DATA = Path(__file__).parents[2] / "sample_data"


class _Record:
    def __init__(self):
        self.stages, self.details = [], []

    def stage(self, name, place, count):
        self.stages.append((name, place, count))

    def detail(self, text, *_counted):
        self.details.append(text)


@pytest.fixture
def town(tmp_path):
    """The programme file of the small town."""
    return write_town(tmp_path)


@pytest.fixture(scope="module")
def demo():
    return check_inputs(_DATA / "programme.toml")


def _changed(programme, *pairs):
    text = programme.read_text("utf-8")
    for old, new in pairs:
        assert old in text
        text = text.replace(old, new)
    programme.write_text(text, "utf-8")
    return programme


def test_the_inputs_of_the_demo_can_be_used_and_are_all_shown(demo):
    assert demo.errors == []
    assert len(demo.inputs.cores) == 400
    assert [facts.rows for facts in demo.registers] == [400]
    assert {layer.name for layer in demo.layers} == {
        "roads", "surfaces", "districts", "joints", "resurfaced", "planned_works", "protected",
    }  # fmt: skip
    assert all(isinstance(layer, LayerFacts) for layer in demo.layers)
    assert demo.stock.yards == ("North yard", "South yard")
    assert "32617" in demo.crs


def test_the_demo_lets_every_rule_be_assessed(demo):
    assert [one.rule for one in demo.rules if one.lacking] == []


def test_progress_names_the_stages_and_the_files(town):
    progress = _Record()
    check_inputs(town, None, progress)
    assert progress.stages == [("intake", 1, 2), ("check", 2, 2)]
    assert {"cores.csv", "roads.gpkg"} <= set(progress.details)


def test_what_rules_lack_is_worked_out_for_each_register(town):
    """The small town keeps no plates, and has no layer of joints."""
    lacking = {one.rule: one.lacking for one in check_inputs(town).rules}
    assert lacking["plated-too-long"] == {"cores": (("plated_on",),)}
    assert lacking["joint-near"] == {"cores": (("joints",),)}
    assert lacking["open-too-long"] == {}


def test_not_a_byte_is_written_beside_the_inputs(town, tmp_path):
    def digests():
        return {file: hashlib.sha256(file.read_bytes()).digest() for file in tmp_path.rglob("*") if file.is_file()}

    before = digests()
    checked = check_inputs(town)
    assert checked.page is None
    assert digests() == before


def test_the_page_is_written_where_it_is_asked_for(town, tmp_path):
    checked = check_inputs(town, tmp_path / "out")
    assert checked.page == tmp_path / "out" / "quay-2026" / "check.html"
    assert "cores.csv" in checked.page.read_text("utf-8")


def test_a_missing_layer_does_not_hide_the_register(town):
    (town.parent / "districts.gpkg").unlink()
    checked = check_inputs(town)
    assert [type(error) for error in checked.errors] == [InputError]
    assert "districts.gpkg" in str(checked.errors[0])
    assert checked.registers[0].rows == 7
    assert checked.registers[0].positions.distances is not None
    assert [layer.name for layer in checked.layers] == ["roads"]
    assert checked.inputs is None


def test_without_roads_the_register_is_shown_without_distances(town):
    (town.parent / "roads.gpkg").unlink()
    checked = check_inputs(town)
    assert len(checked.errors) == 1
    assert checked.crs is None
    assert checked.registers[0].rows == 7
    assert checked.registers[0].positions.distances is None
    assert [layer.name for layer in checked.layers] == ["districts"]


def test_every_error_is_listed_once_and_the_one_that_stops_an_audit_first(town):
    (town.parent / "districts.gpkg").unlink()
    _changed(town, ('units = { diameter = "mm", depth = "mm" }', "units = { }"))
    messages = [str(error) for error in check_inputs(town).errors]
    assert len(messages) == len(set(messages)) == 2
    assert "dia" in messages[0]
    assert "depth" in messages[0]
    assert "districts.gpkg" in messages[1]


def test_a_wrong_setting_of_one_input_names_the_programme_file(town):
    _changed(town, ('crs = "EPSG:4326"', 'crs = "EPSG:0"'))
    checked = check_inputs(town)
    (error,) = checked.errors
    assert isinstance(error, SettingsError)
    assert str(error).startswith(f"{town}: cores.crs")


def test_a_programme_file_that_is_wrong_is_an_error_of_its_own(town):
    _changed(town, ("[roads]", "[rods]"))
    with pytest.raises(SettingsError, match="rods"):
        check_inputs(town)


def test_what_looks_misread_is_judged_by_the_limits_in_force(town):
    """The cores of the small town are 450 mm wide."""
    _changed(town, ("[districts]", '[catalogue.rules.diameter-implausible]\nmax_diameter = "400 mm"\n[districts]'))
    assert any("median diameter of 450 mm, expected 100 to 400 mm" in one for one in check_inputs(town).suspicions)


def test_a_register_that_cannot_be_read_does_not_hide_the_other(town):
    shutil.copy(town.parent / "cores.csv", town.parent / "north.csv")
    text = town.read_text("utf-8").replace("[cores]", '[[cores]]\nname = "South"', 1)
    extra = '\n[[cores]]\nname = "North"\npath = "north.csv"\nx = "lon"\ny = "lat"\ncolumns = { core_id = "nr" }\n'
    town.write_text(text + extra, "utf-8")
    checked = check_inputs(town)
    assert [facts.name for facts in checked.registers] == ["South"]
    assert "'nr'" in str(checked.errors[0])


def test_sheets_that_nobody_read_are_looked_at_first(town):
    cores = pd.read_csv(town.parent / "cores.csv", dtype="str", keep_default_na=False)
    with xlsxwriter.Workbook(str(town.parent / "cores.xlsx")) as book:
        sheet, other = book.add_worksheet("Cores"), book.add_worksheet("Crews")
        for number, row in enumerate([cores.columns.tolist(), *cores.to_numpy().tolist()]):
            sheet.write_row(number, 0, row)
        other.write_row(0, 0, ["Gang", "Van"])
        other.write_row(1, 0, ["A", "2"])
    _changed(town, ('path = "cores.csv"', 'path = "cores.xlsx"'))
    checked = check_inputs(town)
    notice = "cores.xlsx: sheet 'Cores' is read, its header in row 1; not read: 'Crews'."
    assert notice in checked.suspicions
    assert notice not in checked.notices


def test_one_cause_in_all_files_of_a_register_is_one_error(town):
    for month in ("jan", "feb"):
        shutil.copy(town.parent / "cores.csv", town.parent / f"{month}-cores.csv")
    _changed(town, ('path = "cores.csv"', 'path = "*-cores.csv"'), ('core_id = "id"', 'core_id = "nr"'))
    found = [str(error) for error in check_inputs(town).errors if "'nr'" in str(error)]
    assert len(found) == 1
    assert found[0].startswith("feb-cores.csv, jan-cores.csv: ")


def test_roads_that_are_nowhere_on_earth_are_the_one_error_and_nothing_is_looked_for_beside_them(town):
    roads = gpd.read_file(town.parent / "roads.gpkg")
    far = roads.to_crs(32617).translate(5e8, 5e8)
    roads.set_geometry(far).to_file(town.parent / "roads.gpkg")
    checked = check_inputs(town)
    (error,) = checked.errors
    assert str(error).startswith("roads.gpkg: none of its ")
    with pytest.raises(InputError, match="none of its "):
        run_programme(town)
