"""A sample that comes back: the record it was drawn by, and the sheet as it was filled in."""

import json

import pandas as pd
import pytest

from pipeline.errors import InputError
from pipeline.readback.samples import read_drawn, read_filled

DRAWN = {
    "programme": "Town",
    "as_of": "2026-09-30",
    "register_sha256": "0" * 64,
    "seed": 7,
    "of": "open",
    "plan": {"plan": "series", "aql": "1.0", "level": "II"},
    "lots": [{"lot": "Quayside", "cores": 20, "n": 2, "accept": 0, "rows": [3, 1]}],
    "further": "entries",
}


def _refused(read, *words):
    with pytest.raises(InputError) as error:
        read()
    for word in words:
        assert word in str(error.value)


def _demo_record(folder, **changes):
    file = folder / "sample.json"
    file.write_text(json.dumps(DRAWN | changes))
    return file


def test_a_record_gives_what_its_sample_is_drawn_by_and_ignores_further_entries(tmp_path):
    drawn = read_drawn(_demo_record(tmp_path))
    assert (drawn.programme, drawn.seed, drawn.of, drawn.plan.plan) == ("Town", 7, "open", "series")
    assert drawn.lots[0].rows == [3, 1]


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("{", ("not valid JSON", "draw it again")),
        ("[" * 100_000, ("not valid JSON",)),
        ("{}", ("Expected the file as `kerfbook sample` wrote it",)),
        ("[]", ("draw it again",)),
    ],
)
def test_a_record_that_is_damaged_is_refused(tmp_path, text, words):
    (tmp_path / "sample.json").write_text(text)
    _refused(lambda: read_drawn(tmp_path / "sample.json"), "sample.json", *words)


def test_a_seed_below_zero_is_refused(tmp_path):
    _refused(lambda: read_drawn(_demo_record(tmp_path, seed=-1)), "seed", "draw it again")


def test_a_record_that_is_missing_says_where_it_should_be(tmp_path):
    _refused(
        lambda: read_drawn(tmp_path / "sample.json"),
        "cannot be read (No such file or directory)",
        "keep the two in one folder, or give that folder with --out",
    )


def _sheet(folder, text, name="sample.csv"):
    (folder / name).write_text(text, encoding="utf-8")
    return folder / name


def test_a_sheet_comes_back_as_text_with_its_lines_whatever_the_order_of_its_columns(tmp_path):
    file = _sheet(tmp_path, "Remark,ROW, core_id ,result,more\nfine,3,A-1,pass,x\n,12,A-2,,\n")
    filled = read_filled(file)
    assert filled[["row", "core_id", "result", "remark"]].fillna("").to_numpy().tolist() == [
        ["3", "A-1", "pass", "fine"],
        ["12", "A-2", "", ""],
    ]
    assert filled["line"].tolist() == [1, 2]
    assert filled["ragged"].isna().all()


def test_blank_rows_are_left_out_and_lines_still_count_them(tmp_path):
    filled = read_filled(_sheet(tmp_path, "row,core_id,result\n1,A,pass\n,,\n2,B,fail\n"))
    assert filled["core_id"].tolist() == ["A", "B"]
    assert filled["line"].tolist() == [1, 3]
    # a sheet without remarks has none
    assert filled["remark"].isna().all()


def test_a_row_with_a_field_too_many_says_so(tmp_path):
    filled = read_filled(_sheet(tmp_path, "row,core_id,result\n1,A,pass\n2,B,fail,x\n"))
    assert filled["ragged"].notna().tolist() == [False, True]


def test_a_semicolon_and_a_workbook_are_read_as_well(tmp_path):
    semicolons = read_filled(_sheet(tmp_path, "row;core_id;result\n1;A;pass\n"))
    pd.DataFrame({"row": ["1"], "core_id": ["A"], "result": ["pass"]}).to_excel(
        tmp_path / "s.xlsx", index=False, engine="xlsxwriter"
    )
    workbook = read_filled(tmp_path / "s.xlsx")
    assert semicolons["result"].tolist() == workbook["result"].tolist() == ["pass"]


@pytest.mark.parametrize("name", ["row", "core_id", "result"])
def test_a_sheet_without_a_column_it_needs_is_refused_with_the_columns_it_has(tmp_path, name):
    heading = [column for column in ("row", "core_id", "result") if column != name]
    file = _sheet(tmp_path, ",".join(heading) + "\n1,A\n")
    _refused(lambda: read_filled(file), f"no column {name!r}; the file has: {', '.join(heading)}", "keep its header")


def test_a_sheet_that_is_missing_or_a_folder_is_refused(tmp_path):
    for path in (tmp_path / "nothing.csv", tmp_path):
        _refused(
            lambda path=path: read_filled(path), "no such file. Give the sample.csv that the inspectors filled in."
        )
