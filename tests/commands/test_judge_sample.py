"""The command that judges an inspected sample."""

import json

import numpy as np
import pandas as pd
import pytest

from tests.commands.sheets import fill, read_sheet, refused


def test_a_filled_in_sheet_is_judged(kerfbook, run, tmp_path):
    kerfbook("sample", run, "--out", tmp_path / "a")
    file = fill(tmp_path / "a", lambda sheet: np.where(sheet["lot"].eq("Mill Bank"), "Reject", "OK"))
    code, said, _ = kerfbook("sample", run, "--results", file)
    assert code == 0
    record = json.loads((tmp_path / "a" / "results.json").read_text("utf-8"))
    lots = {lot["lot"]: lot for lot in record["lots"]}
    assert record["decisions"] == {"accept": 6, "reject": 1}
    assert (lots["Mill Bank"]["decision"], lots["Mill Bank"]["failed"]) == ("reject", 5)
    # all of five failed: the rate is at least the fifth root of 2.5 percent
    assert lots["Mill Bank"]["rate_low"] == pytest.approx(0.025 ** (1 / 5), abs=1e-6)
    assert (lots["Mill Bank"]["bad_high"], lots["Mill Bank"]["cores"]) == (27, 27)
    assert lots["Harbourside"]["rate_high"] == pytest.approx(1 - 0.025 ** (1 / 20), abs=1e-6)
    assert record["account"]["passed"] == 45
    assert record["account"]["failed"] == 5
    assert any(caution.startswith("Traffic") for caution in record["cautions"])
    rows = pd.read_csv(tmp_path / "a" / "results.csv", dtype=str, keep_default_na=False)
    assert rows["outcome"].value_counts().to_dict() == {"passed": 45, "failed": 5}
    for word in ("Mill Bank", "reject", "50 (45 passed, 5 failed)"):
        assert word in said


@pytest.mark.parametrize("how", [{"sep": ";"}, {"sep": "\t", "encoding": "utf-16"}, {"encoding": "utf-8-sig"}])
def test_a_sheet_may_come_back_as_any_program_saves_it(kerfbook, run, tmp_path, how):
    kerfbook("sample", run, "--out", tmp_path / "a")
    file = fill(tmp_path / "a", lambda _: "pass", **how)
    assert kerfbook("sample", run, "--results", file, "--out", tmp_path / "b")[0] == 0
    assert json.loads((tmp_path / "b" / "results.json").read_text("utf-8"))["account"]["passed"] == 50


def test_a_sheet_may_come_back_as_a_workbook_without_its_other_columns(kerfbook, run):
    kerfbook("sample", run)
    folder = run.parent / "sample-2026-09-30"
    sheet = read_sheet(folder).assign(result="ok")
    (run.parent / "back").mkdir()
    file = run.parent / "back" / "sheet.xlsx"
    sheet.assign(row=sheet["row"].astype(int))[["row", "core_id", "result"]].to_excel(
        file, index=False, engine="xlsxwriter"
    )
    # the record is where a sample of this run is written unless another folder is named
    assert kerfbook("sample", run, "--results", file)[0] == 0
    assert json.loads((file.parent / "results.json").read_text("utf-8"))["account"]["passed"] == 50


def test_a_field_too_many_makes_a_result_unreadable(kerfbook, run, tmp_path):
    kerfbook("sample", run, "--out", tmp_path / "a")
    file = fill(tmp_path / "a", lambda _: "pass")
    lines = file.read_text("utf-8").splitlines()
    lines[3] += ",cracked"
    file.write_text("\n".join(lines) + "\n", encoding="utf-8")
    assert kerfbook("sample", run, "--results", file)[0] == 0
    account = json.loads((tmp_path / "a" / "results.json").read_text("utf-8"))["account"]
    assert (account["passed"], account["unreadable"]) == (49, 1)


def test_a_sample_of_another_run_isrefused(kerfbook, run, tmp_path):
    kerfbook("sample", run, "--out", tmp_path / "a")
    file = fill(tmp_path / "a", lambda _: "pass")
    record = json.loads((run / "run.json").read_text("utf-8"))
    record["inputs"][0]["sha256"] = "0" * 64
    (run / "run.json").write_text(json.dumps(record), encoding="utf-8")
    refused(kerfbook("sample", run, "--results", file), 3, "sample.json", "another run", "register_sha256")
    assert not (tmp_path / "a" / "results.csv").exists()


@pytest.mark.parametrize(
    "change",
    [
        lambda record: record.update(seed=5),
        lambda record: record["lots"][0]["rows"].reverse(),
        lambda record: record["lots"][0].update(accept=9),
        lambda record: record["lots"].pop(),
        lambda record: record["plan"].update(level="I"),
        lambda record: record.update(of="all"),
    ],
)
def test_a_record_that_was_changed_isrefused(kerfbook, run, tmp_path, change):
    kerfbook("sample", run, "--out", tmp_path / "a")
    file = fill(tmp_path / "a", lambda _: "pass")
    record = json.loads((tmp_path / "a" / "sample.json").read_text("utf-8"))
    change(record)
    (tmp_path / "a" / "sample.json").write_text(json.dumps(record), encoding="utf-8")
    refused(kerfbook("sample", run, "--results", file), 3, "sample.json", "was changed since")


@pytest.mark.parametrize("raw", [b"", b"{", b"[]", b"{}", b"\x89PNG\r\n", b"[" * 9999, b'{"seed": -1}'])
def test_a_spoiled_record_isrefused(kerfbook, run, tmp_path, raw):
    kerfbook("sample", run, "--out", tmp_path / "a")
    file = fill(tmp_path / "a", lambda _: "pass")
    (tmp_path / "a" / "sample.json").write_bytes(raw)
    refused(kerfbook("sample", run, "--results", file), 3, "sample.json", "draw it again")


@pytest.mark.parametrize(
    ("raw", "word"),
    [
        (b"", "empty"),
        (b"row,core_id,result\n", "no rows"),
        (b"row,core_id\n1,a\n", "no column 'result'"),
        (b"core_id,result\na,pass\n", "no column 'row'"),
        (b"row,core_id,result\n1,nobody,pass\n", "its only row is not in the sample"),
        (b"\x89PNG\r\n\x1a\n" + bytes(99), "picture"),
        (bytes(500), "binary"),
        (b'row,core_id,result\n1,"HV,1,pass\n2,HV,pass\n3,HV,pass\n', "quotation mark"),
    ],
)
def test_a_sheet_that_cannot_be_used_isrefused(kerfbook, run, tmp_path, raw, word):
    kerfbook("sample", run, "--out", tmp_path / "a")
    file = tmp_path / "a" / "filled.csv"
    file.write_bytes(raw)
    refused(kerfbook("sample", run, "--results", file), 3, "filled.csv", word)
    assert not (tmp_path / "a" / "results.csv").exists()


def test_results_do_not_replace_the_sheet_they_come_from(kerfbook, run, tmp_path):
    kerfbook("sample", run, "--out", tmp_path / "a")
    file = fill(tmp_path / "a", lambda _: "pass", "results.csv")
    before = file.read_bytes()
    refused(kerfbook("sample", run, "--results", file), 2, "results.csv", "Rename it")
    assert file.read_bytes() == before


def test_a_missing_sheet_or_record_isrefused(kerfbook, run, tmp_path):
    refused(kerfbook("sample", run, "--results", tmp_path / "none.csv"), 3, "no such file")
    (tmp_path / "some.csv").write_text("row,core_id,result\n1,a,pass\n", encoding="utf-8")
    refused(kerfbook("sample", run, "--results", tmp_path / "some.csv"), 3, "sample.json", "in one folder")
