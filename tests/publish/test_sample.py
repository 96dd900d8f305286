"""The files of a sample are written whole, and a filled-in sheet is never lost."""

import json

import pandas as pd
import pytest

from pipeline.errors import OutputError
from pipeline.publish.sample import publish_results, publish_sample

_SHEET = pd.DataFrame({"lot": ["East"], "row": [3], "core_id": ["=1+1"], "result": pd.Series([None], dtype="str")})
_RECORD = {"seed": 7, "lots": [{"lot": "East", "rows": [3]}]}


def test_a_sample_is_a_sheet_and_its_record(tmp_path):
    publish_sample(_SHEET, _RECORD, tmp_path / "new" / "deeper")
    folder = tmp_path / "new" / "deeper"
    assert sorted(file.name for file in folder.iterdir()) == ["sample.csv", "sample.json"]
    assert json.loads((folder / "sample.json").read_text("utf-8")) == _RECORD


def test_a_text_that_a_spreadsheet_would_run_has_an_apostrophe(tmp_path):
    publish_sample(_SHEET, _RECORD, tmp_path)
    assert "'=1+1" in (tmp_path / "sample.csv").read_text("utf-8")


def test_the_same_sample_may_be_written_again(tmp_path):
    publish_sample(_SHEET, _RECORD, tmp_path)
    before = (tmp_path / "sample.csv").read_bytes()
    publish_sample(_SHEET, _RECORD, tmp_path)
    assert (tmp_path / "sample.csv").read_bytes() == before


@pytest.mark.parametrize("name", ["sample.csv", "sample.json"])
def test_a_file_that_differs_is_not_replaced(tmp_path, name):
    publish_sample(_SHEET, _RECORD, tmp_path)
    (tmp_path / name).write_text("filled in", encoding="utf-8")
    with pytest.raises(OutputError, match=rf"{name}: already exists and is different.*--out"):
        publish_sample(_SHEET, _RECORD, tmp_path)
    assert (tmp_path / name).read_text("utf-8") == "filled in"


def test_another_sample_is_not_replaced_and_nothing_of_the_new_one_is_left(tmp_path):
    publish_sample(_SHEET, _RECORD, tmp_path)
    before = {file.name: file.read_bytes() for file in tmp_path.iterdir()}
    with pytest.raises(OutputError, match="another sample"):
        publish_sample(_SHEET.assign(row=4), _RECORD | {"seed": 8}, tmp_path)
    assert {file.name: file.read_bytes() for file in tmp_path.iterdir()} == before


def test_results_replace_earlier_results_and_leave_the_sample(tmp_path):
    publish_sample(_SHEET, _RECORD, tmp_path)
    for outcome in ("passed", "failed"):
        publish_results(pd.DataFrame({"outcome": [outcome]}), {"outcome": outcome}, tmp_path)
    assert json.loads((tmp_path / "results.json").read_text("utf-8")) == {"outcome": "failed"}
    assert "failed" in (tmp_path / "results.csv").read_text("utf-8")
    assert (tmp_path / "sample.csv").is_file()


def test_a_folder_that_cannot_be_made_is_an_output_error(tmp_path):
    (tmp_path / "file").write_text("", encoding="utf-8")
    with pytest.raises(OutputError):
        publish_results(pd.DataFrame({"outcome": ["passed"]}), {}, tmp_path / "file" / "below")
