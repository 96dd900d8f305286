"""What a run's answers follow from, read back: only as the audit wrote it, and only of a format that is known."""

import json
import shutil
from pathlib import Path

import pandas as pd
import pytest
from pyarrow import parquet

from pipeline.errors import InputError
from pipeline.readback.basis import BASIS_FORMAT, read_basis
from pipeline.readback.runs import read_run


@pytest.fixture
def kept(run_folder, tmp_path):
    """A copy of the small town's run that a test may spoil."""
    return Path(shutil.copytree(run_folder, tmp_path / "2026-09-30"))


def _record(folder, **changes):
    file = folder / "run.json"
    file.write_text(json.dumps(json.loads(file.read_text()) | changes))


def test_rows_come_back_in_the_order_asked_for_with_their_own_tables(run_folder):
    basis = read_basis(read_run(run_folder), [3, 1])
    assert [row.core["core_id"] for row in basis.rows] == ["HV-2", "HV-0"]
    for row in basis.rows:
        assert row.candidates["row"].unique().tolist() == [row.core["row"]]
        assert row.candidates["chance"].sum() == pytest.approx(1)
        assert set(row.outcomes) == set(basis.rules["rule"])
        assert row.plan["row"] == row.core["row"]
        assert set(row.mix["mix"]) == {row.plan["mix"]}


def test_a_core_that_nothing_is_ordered_for_has_no_plan(run_folder):
    (row,) = read_basis(read_run(run_folder), [2]).rows
    assert (row.plan, len(row.mix)) == (None, 0)


@pytest.mark.parametrize("kept_basis", [{}, {"basis": {"format": BASIS_FORMAT + 1, "sha256": {}}}])
def test_a_run_of_another_version_has_to_be_audited_again(kept, kept_basis):
    record = json.loads((kept / "run.json").read_text())
    del record["basis"]
    (kept / "run.json").write_text(json.dumps(record | kept_basis))
    with pytest.raises(InputError, match=r"run\.json: found .* expected format 3; .* Run the audit again"):
        read_basis(read_run(kept), [1])


def test_an_altered_file_is_refused(kept):
    file = kept / "basis" / "candidates.parquet"
    table = pd.read_parquet(file).assign(chance=0.5)
    table.to_parquet(file)
    with pytest.raises(
        InputError, match=r"candidates\.parquet: cannot be used \(its checksum is .* Run the audit again"
    ):
        read_basis(read_run(kept), [1])


def test_a_missing_file_is_refused(kept):
    (kept / "basis" / "plan.parquet").unlink()
    with pytest.raises(InputError, match=r"plan\.parquet: cannot be used \(No such file"):
        read_basis(read_run(kept), [1])


def test_a_row_that_the_basis_lacks_is_refused(run_folder):
    with pytest.raises(InputError, match=r"cores\.parquet: cannot be used \(no row 99\)"):
        read_basis(read_run(run_folder), [99])


def test_a_table_without_a_column_that_is_shown_is_refused(kept, monkeypatch):
    file = kept / "basis" / "plan.parquet"
    parquet.write_table(parquet.read_table(file).drop_columns("mix"), file)
    monkeypatch.setattr("pipeline.readback.basis._refuse_altered", lambda *_: None)
    with pytest.raises(InputError, match="no column 'mix'"):
        read_basis(read_run(kept), [1])
