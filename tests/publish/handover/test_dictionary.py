"""The data dictionary of a pack: its shape, and every cell of every table of the type that it declares."""

import csv
import datetime as dt
import json
import re

import pytest

from pipeline.contracts import PUBLISHED
from pipeline.readback.pack_files import PACK_FILES

# as the Table Schema specification, version 1, has them
_NUMBER = re.compile(r"[+-]?(\d+(\.\d*)?|\.\d+)([eE][+-]?\d+)?|NaN|-?INF")
_INTEGER = re.compile(r"[+-]?\d+")
_NAME = re.compile(r"[-a-z0-9._/]+")


@pytest.fixture(scope="module")
def package(run_folder):
    return json.loads((run_folder / "handover" / "datapackage.json").read_text("utf-8"))


def _is(kind, cell):
    if kind == "number":
        return _NUMBER.fullmatch(cell)
    if kind == "integer":
        return _INTEGER.fullmatch(cell)
    if kind == "boolean":
        return cell in {"true", "false", "True", "False", "1", "0"}
    if kind == "date":
        return dt.date.fromisoformat(cell).isoformat() == cell
    return kind == "string"


def test_it_describes_every_table_of_the_pack_and_names_them_as_the_specification_asks(package, run_folder):
    tables = {name for name, file in PACK_FILES.items() if file.kind == "table"}
    there = {file.name for file in (run_folder / "handover").iterdir()}
    assert {resource["path"] for resource in package["resources"]} == tables & there
    assert package["profile"] == "tabular-data-package"
    for resource in package["resources"]:
        assert _NAME.fullmatch(resource["name"])
        assert resource["encoding"] == "utf-8"
        assert resource["mediatype"] == "text/csv"
    assert _NAME.fullmatch(package["name"])


def test_every_cell_of_every_table_is_of_its_declared_type_and_keeps_its_constraints(package, run_folder):
    values = {}
    for resource in package["resources"]:
        with (run_folder / "handover" / resource["path"]).open(encoding="utf-8", newline="") as file:
            head, *rows = csv.reader(file)
        fields = resource["schema"]["fields"]
        assert head == [field["name"] for field in fields]
        for field, cells in zip(fields, zip(*rows), strict=False):
            written = [cell for cell in cells if cell not in resource["schema"]["missingValues"]]
            values[resource["name"], field["name"]] = written
            rules = field.get("constraints", {})
            where = f"{resource['path']}: {field['name']}"
            assert all(_is(field["type"], cell) for cell in written), where
            assert not rules.get("required") or len(written) == len(cells), where
            assert not rules.get("unique") or len(set(written)) == len(written), where
            assert set(written) <= set(rules.get("enum", written)), where
            assert all(re.fullmatch(rules.get("pattern", ".*"), cell, re.DOTALL) for cell in written), where
        key = resource["schema"].get("primaryKey", [])
        keys = [tuple(row[head.index(name)] for name in key) for row in rows]
        assert not key or len(set(keys)) == len(keys), resource["path"]
    for resource in package["resources"]:
        for key in resource["schema"].get("foreignKeys", []):
            reference = key["reference"]
            own = values[resource["name"], key["fields"]]
            assert set(own) <= set(values[reference["resource"], reference["fields"]]), resource["path"]


def test_names_units_and_meanings_are_those_of_the_contract(package):
    cores = next(resource for resource in package["resources"] if resource["path"] == "cores.csv")
    fields = {field["name"]: field for field in cores["schema"]["fields"]}
    diameter = fields["diameter_mm"]
    assert (diameter["type"], diameter["unit"], diameter["title"]) == ("number", "mm", "Diameter (mm)")
    assert diameter["description"] == PUBLISHED["diameter_mm"].meaning
    assert fields["state"]["constraints"]["enum"] == ["open", "plated", "interim", "back", "unknown"]
    assert cores["schema"]["primaryKey"] == ["row"]
    findings = next(resource for resource in package["resources"] if resource["path"] == "findings.csv")
    assert {"fields": "row", "reference": {"resource": "cores", "fields": "row"}} in findings["schema"]["foreignKeys"]


def test_it_lists_no_column_that_is_not_handed_over(package, run_folder):
    text = json.dumps(package)
    for name in ("crew", "remarks", "bags_used", "water_l", "air_temperature_c", "grout_l"):
        assert f'"{name}"' not in text
    assert "SECRET" not in text
    assert str(run_folder) not in text
