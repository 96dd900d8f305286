"""Order lines read back as text, as the file has them."""

import shutil
from pathlib import Path

import pytest

from pipeline.contracts import ORDER_COLUMNS
from pipeline.errors import InputError
from pipeline.readback.order_lines import read_order_lines
from pipeline.readback.runs import read_run


def test_lines_come_back_as_text(run_folder):
    lines = read_order_lines(read_run(run_folder))
    assert list(lines) == list(ORDER_COLUMNS)
    assert {"grout dark", "pea gravel", "water"} == set(lines["item"])
    assert lines["needed"].map(float).gt(0).all()


def test_a_file_that_is_missing_or_lacks_a_column_is_refused(run_folder, tmp_path):
    kept = Path(shutil.copytree(run_folder, tmp_path / "2026-09-30"))
    run = read_run(kept)
    (kept / "orders.csv").write_text("district,period\nA,all\n")
    with pytest.raises(InputError, match=r"orders\.csv: cannot be used"):
        read_order_lines(run)
    (kept / "orders.csv").unlink()
    with pytest.raises(InputError, match=r"orders\.csv: cannot be used"):
        read_order_lines(run)
